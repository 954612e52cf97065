"""From bins given to tonnes kept out: what each step takes off the gross."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import polars as pl

from planner.arrays import Numbers
from planner.diversion.cohorts import cohorts
from planner.tables import RESIDUAL_BIN

if TYPE_CHECKING:
    from collections.abc import Callable

    from planner.diversion.counts import Counts
    from planner.diversion.measured import Diversion

    Share = Callable[[Numbers], Numbers]

SET_UP_MONTHS = 1.0
"""A bin in use a month after the hand-over counts as set up (common practice, no source)."""


@dataclass(frozen=True)
class GrossToNet:
    """One reporting year's chain; no step is above the one before it, draw by draw."""

    # each of shape (1 + draws_count,) [kg]; by name, in the order of the chain
    steps_kg: dict[str, Numbers]
    bins_given: float  # bins given to date
    # shape (1 + draws_count,): at the end of the year
    bins_set_up: Numbers
    bins_in_use: Numbers
    bin_weeks_given: float  # weeks in the year since the hand-over, over all bins given


def gross_to_net(diversion: Diversion, counts: Counts, landfilled_share: float) -> GrossToNet:
    """Take the measured year apart into its steps.

    Notes
    -----
    The full feed is the surveyed feed of a bin in use, by dwelling, × the benchmark of the
    month; run-in and season come off in the step from in use to fed.
    """
    given, months = diversion.cohorts, diversion.cohorts.months_from(counts.from_date)
    all_bins = cohorts(
        counts.handovers.with_columns(households_begun=pl.col("bins_given")),
        given.area_ids,
        counts.before_date,
    ).bins_given.sum(axis=1)
    exposure = given.exposure()[months] * given.weeks[months, None]
    fed = diversion.fed_kg[:, months].sum(axis=1)
    residual = diversion.fed_by_route_kg[:, RESIDUAL_BIN, months].sum(axis=1)
    landfilled, not_anyway, kept_out = diversion.leakage.steps_kg(fed, residual, landfilled_share)
    return GrossToNet(
        steps_kg={
            # what every bin given would take in the weeks since its hand-over, at the full feed of
            # a settled bin in use; the first of each household where it was set up; those in use
            **_full_feed_kg(diversion, months, all_bins, exposure),
            "fed": fed,  # as run-in and season allow
            "from_residual_bin": residual,  # what of it went to the residual bin before
            "landfilled": landfilled,  # what of it would have been landfilled
            "not_composted_anyway": not_anyway,  # less what would have been composted anyway
            "kept_out": kept_out,  # less what was thrown away after all
        },
        bins_given=float(all_bins.sum()),
        bins_set_up=_bins_set_up(diversion),
        bins_in_use=diversion.bins_in_use[:, -1],
        bin_weeks_given=float((exposure @ all_bins).sum()),
    )


def _full_feed_kg(
    diversion: Diversion, months: slice, all_bins: Numbers, exposure: Numbers
) -> dict[str, Numbers]:
    """Full feed of the bins given, set up and in use, over dwellings and months."""
    given = diversion.cohorts
    first_bins, age = given.bins_given.sum(axis=1), given.age_in_month()[months]
    entry = given.entry_months
    level = diversion.benchmark.by_month(given.months)[:, months]
    kilograms: dict[str, Numbers] = {}
    for code, curve in enumerate(diversion.estimates.retention):
        feed = diversion.estimates.kg_per_in_use_bin_week[:, code, None] * level
        # "given" counts second bins too, the later steps households: estimates follow households
        for step, bins, weeks in (
            ("given", all_bins, exposure[None]),
            ("set_up", first_bins, exposure * curve.in_use_share(_set_up(age), entry)),
            ("in_use", first_bins, exposure * curve.in_use_share(age, entry)),
        ):
            of_dwelling = (feed * (weeks @ bins[:, code])).sum(axis=1)
            kilograms[step] = kilograms.get(step, 0.0) + of_dwelling
    return kilograms


def _bins_set_up(diversion: Diversion) -> Numbers:
    """First bins in use a month after the hand-over, at the end of the year."""
    given = diversion.cohorts
    first_bins, age = given.bins_given.sum(axis=1), _set_up(given.age_at_month_end()[-1])
    curves = diversion.estimates.retention
    set_up = [
        curve.in_use_share(age, given.entry_months) @ first_bins[:, code]
        for code, curve in enumerate(curves)
    ]
    return np.asarray(np.sum(set_up, axis=0), dtype=np.float64)


def _set_up(age_months: Numbers) -> Numbers:
    return np.minimum(age_months, SET_UP_MONTHS)
