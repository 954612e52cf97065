"""Workshops: who came, and whether those who came keep their bins longer."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
import polars as pl

from planner.factors import read_factors, with_own
from planner.field.dropout import exact_interval
from planner.field.stopping import Spells, exposure_months, fit_hazard, total_hazard
from planner.messages import officer_messages, say
from planner.paths import PROGRAM_FILE
from planner.program import open_program
from planner.store.opening import open_store
from planner.survey.response import stopping_design

if TYPE_CHECKING:
    import datetime as dt
    from collections.abc import Iterator
    from pathlib import Path


ADJUSTED_FOR = ("dwelling", "people", "channel", "area_id", "model_id")
"""What is known of a household before any workshop, by which attenders may differ."""

LEAST_STOPPED = 30
LEAST_EXPECTED = 5.0
"""Stops expected of those who came, below which nothing is said."""


@dataclass(frozen=True)
class WorkshopEffect:
    """Stops of those who came to a workshop, against others alike in all that is recorded."""

    # workshops held, and households that came to any
    workshops_count: int
    attended_count: int
    # stops after the workshop, and those expected at the hazard of the others
    stopped_count: int
    expected_count: float
    # hazard of those who came over that of others, with its exact 95% interval; None where too few
    # stops are to be expected
    ratio: tuple[float, float, float] | None = None


def read_workshop_effect(folder: Path, on_date: dt.date) -> WorkshopEffect:
    """Compare how long attenders and others keep their bins, by the records of a day.

    Raises
    ------
    StoreError
        The records cannot be read.
    """
    program = open_program(folder / PROGRAM_FILE)
    factors = with_own(read_factors(), program.factors, program.council.name)
    density = factors.find("caddy_density_kg_per_litre").value
    with open_store(folder, read_only=True) as store:
        spells = store.query("stopping_spells", on_date=on_date, kg_per_litre=density)
        workshops = store.records("workshops").filter(pl.col("workshop_date") <= on_date)
        came = store.records("attendances").join(workshops, on="workshop_id", how="semi")
    return compare(spells, workshops.height, came["household_id"].n_unique())


def compare(spells: pl.DataFrame, workshops_count: int, attended_count: int) -> WorkshopEffect:
    """Set stops after a workshop against those that the others' hazard expects.

    The hazard is fitted to the spells of households that had not come: by age of the bin,
    dwelling, people, channel, area and model. Applied to the spells after a workshop it gives the
    stops to be expected there.

    Notes
    -----
    Of all stops the attenders' share is binomial with ``ratio E_t / (ratio E_t + E_o)``, whose
    exact limits give those of the ratio. The hazard's own error is left out: it rests on many
    more stops.

    References
    ----------
    Przyborowski, J. and Wilenski, H. (1940), Homogeneity of results in testing samples from
    Poisson series, Biometrika 31, 313-323 (from memory). VanderWeele, T.J. and Ding, P. (2017),
    Sensitivity analysis in observational research: introducing the E-value, Annals of Internal
    Medicine 167, 268-274 (from memory).
    """
    known = spells.filter(pl.col("has_stopped").is_not_null())
    stopped = known["has_stopped"].to_numpy().astype(float)
    taught = known["is_taught"].to_numpy()
    nothing = WorkshopEffect(workshops_count, attended_count, int(stopped[taught].sum()), 0.0)
    if stopped[~taught].sum() < LEAST_STOPPED:
        return nothing
    design = stopping_design(known, ADJUSTED_FOR)
    exposure = exposure_months(known["start_age_days"], known["end_age_days"])
    laid = Spells(exposure, design[:, 1:], stopped, np.ones(len(stopped)))
    expected = total_hazard(laid, fit_hazard(laid.of(~taught)))
    seen = (int(stopped[taught].sum()), int(stopped[~taught].sum()))
    # as many as there would be had the others' hazard, in sum, been that of their own stops
    mine = float(expected[taught].sum() / expected[~taught].sum() * seen[1])
    counted = replace(nothing, expected_count=mine)
    if mine < LEAST_EXPECTED:
        return counted
    return replace(counted, ratio=rate_ratio(seen, (mine, float(seen[1]))))


def rate_ratio(
    counts: tuple[int, int], exposures: tuple[float, float]
) -> tuple[float, float, float]:
    """Ratio of two Poisson rates with its exact 95% interval.

    Examples
    --------
    >>> [round(one, 3) for one in rate_ratio((10, 10), (1.0, 1.0))]
    [1.0, 0.374, 2.677]
    """
    first, second = counts
    share_low, share_high = exact_interval(np.array([first]), np.array([first + second]))
    scale = exposures[1] / exposures[0]
    value = first / second * scale if second else float("inf")
    with np.errstate(divide="ignore"):
        low, high = (scale * one[0] / (1.0 - one[0]) for one in (share_low, share_high))
    return value, float(low), float(high)


def e_value(ratio: float) -> float:
    """How strong a hidden cause must be, as a risk ratio, to explain a ratio away.

    So strongly would something not recorded have to go with both coming and keeping.

    Examples
    --------
    >>> round(e_value(3.9), 2)
    7.26
    """
    away = ratio if ratio >= 1.0 else 1.0 / ratio if ratio > 0.0 else float("inf")
    return float(away + np.sqrt(away * (away - 1.0))) if np.isfinite(away) else float("inf")


def workshop_lines(found: WorkshopEffect) -> Iterator[str]:
    """Say who came to workshops, and how far keeping their bins can be put down to it."""
    if not found.workshops_count:
        yield say("taught.none")
        return
    came = {"households": found.attended_count, "workshops": found.workshops_count}
    yield say("taught.came", **came)
    expected = officer_messages().number(found.expected_count, 1)
    if found.ratio is None:
        yield say("taught.too_few", stopped=found.stopped_count, expected=expected)
        return
    ratio = say("taught.ratio", **officer_messages().with_interval(*found.ratio))
    yield say("taught.stopped", stopped=found.stopped_count, expected=expected, ratio=ratio)
    yield say("taught.keen", times=officer_messages().number(e_value(found.ratio[0]), 1))
