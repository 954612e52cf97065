"""Reports of feed, winsorised: no single report decides; and what the reports are like."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import polars as pl
from scipy.special import gamma

from planner.errors import EstimateError
from planner.survey.feed import reports_of
from planner.survey.heaping import (
    GRIDS,
    LEAST_REPORTS,
    WRITTEN_TO,
    WRITTEN_WITHIN,
    Heaping,
    heaping,
    on_grid,
    winsorised_once,
)
from planner.survey.interval_likelihood import Intervals, fit_log_times

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from planner.survey.feed import Calibration, Reports
    from planner.survey.row_weights import Weights

STEPS = {"kg": (1.0, 0.5, WRITTEN_TO), "litres": (5.0, 1.0, 0.5, WRITTEN_TO)}
"""Steps to which people round, the coarsest first."""

UNITS = ("fed_kg_last_week", "fed_litres_last_week")


@dataclass(frozen=True)
class WinsorisedReports:
    """Follow-up answers and diary pairs with winsorised reports.

    Parameters
    ----------
    followup, diaries
        Queries followup_answers and diary_pairs.
    changed_count
        Reports that were changed.
    """

    followup: pl.DataFrame
    diaries: pl.DataFrame
    changed_count: int


def winsorised_reports(followup: pl.DataFrame, diaries: pl.DataFrame) -> WinsorisedReports:
    """Set the largest report of each round and unit to the second largest, the least likewise.

    Reports of in-use bins above nothing, ten or more of a round and unit; see
    `planner.survey.heaping.winsorised_once`. A diary household's report is the same
    answer and changes with it; what was weighed stays.

    Parameters
    ----------
    followup, diaries
        Queries followup_answers and diary_pairs.
    """
    rounds = followup.partition_by("wave_id", maintain_order=True)
    winsorised = pl.concat([_winsorised(answers) for answers in rounds]) if rounds else followup
    # rounds stand one after the other in both, so rows pair up
    given = followup.sort("wave_id", maintain_order=True)
    changed = sum(
        int((winsorised[unit] != given[unit]).fill_null(value=False).sum()) for unit in UNITS
    )
    # the diary keeps the answer's own report: an outlier pulled in on one side alone would
    # look like an error of reporting
    pairs = diaries.drop(UNITS).join(
        winsorised.select("wave_id", "household_id", *UNITS),
        on=["wave_id", "household_id"],
        how="left",
        maintain_order="left",
    )
    return WinsorisedReports(winsorised, pairs.select(diaries.columns), changed)


@dataclass(frozen=True)
class ReportedFeed:
    """What the reports themselves are like.

    Parameters
    ----------
    changed_count
        Reports that were winsorised.
    change_share
        What that changed the weighted feed by, relatively.
    heaping
        Round numbers among the reports, by grid; grids with too few reports are left out.
    rounding_change
        By unit, what the mean report changes by, relatively, where each report stands for
        all amounts that round to it; units with fewer than ten reports are left out.
    """

    changed_count: int
    change_share: float
    heaping: dict[str, Heaping]
    rounding_change: dict[str, float]


def reported_feed(
    given: pl.DataFrame,
    winsorised: pl.DataFrame,
    weights: Weights,
    calibration: Calibration,
    changed_count: int,
) -> ReportedFeed:
    """Sum up what the reports are like.

    Parameters
    ----------
    given, winsorised
        The same answers with reports as they were given, and winsorised.
    weights
        Shape (1 + draws_count, answers).
    calibration
        What reports weigh.
    changed_count
        Reports that were winsorised.
    """
    reports, raw = reports_of(winsorised), reports_of(given)
    before = float(weights[0] @ calibration.central_kg(raw))
    after = float(weights[0] @ calibration.central_kg(reports))
    return ReportedFeed(
        changed_count,
        after / before - 1.0 if before > 0.0 else 0.0,
        _heaping(raw, weights),
        _rounding_change(raw, weights[0]),
    )


def _heaping(raw: Reports, weights: Weights) -> dict[str, Heaping]:
    found = {}
    for name, grid in GRIDS.items():
        amounts = raw.kg if name.endswith("_kg") else raw.litres
        try:
            found[name] = heaping(amounts, weights, grid, WRITTEN_WITHIN[name])
        except EstimateError:
            continue
    return found


def _rounding_change(raw: Reports, weights: NDArray[np.float64]) -> dict[str, float]:
    """Compare mean reports taken as intervals about round numbers with those as written.

    A report on a grid d says that the amount lies within d / 2 of it. Both means are of the
    Weibull distribution that is likeliest (Heitjan, D.F. and Rubin, D.B. (1990), Journal
    of the American Statistical Association 85, 304-314; there lognormal).
    """
    changes = {}
    for unit, amounts in (("kg", raw.kg), ("litres", raw.litres)):
        fed = amounts > 0.0
        if fed.sum() < LEAST_REPORTS:
            continue
        steps = np.full(int(fed.sum()), WRITTEN_TO)
        for step in reversed(STEPS[unit]):
            steps[on_grid(amounts[fed], step)] = step
        try:
            rounded, written = (
                _mean_within(amounts[fed], half, weights[fed])
                for half in (steps / 2.0, np.full_like(steps, WRITTEN_TO / 2.0))
            )
        except EstimateError:
            continue  # all reports alike: no spread, and no rounding to speak of
        changes[unit] = rounded / written - 1.0
    return changes


def _mean_within(
    amounts: NDArray[np.float64], half: NDArray[np.float64], weights: NDArray[np.float64]
) -> float:
    """Mean of the Weibull amounts that are likeliest given only where each lies."""
    within = Intervals(np.maximum(amounts - half, 0.0), amounts + half)
    fit = fit_log_times(within, weights[None, :])
    return float(np.exp(fit.location[0]) * gamma(1.0 + fit.scale[0]))


def _winsorised(answers: pl.DataFrame) -> pl.DataFrame:
    """Winsorise both units of one round's answers."""
    return answers.with_columns(_winsorised_unit(answers, unit) for unit in UNITS)


def _winsorised_unit(answers: pl.DataFrame, unit: str) -> pl.Series:
    """Winsorise what bins in use were reported to be fed, in one unit; the rest stays."""
    has_report = answers.select(pl.col(unit).is_not_null() & pl.col("is_in_use")).to_series()
    values = winsorised_once(answers[unit].filter(has_report).to_numpy())
    return answers[unit].scatter(has_report.arg_true(), values)
