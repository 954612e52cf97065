"""Reports of feed, winsorised: no single report decides; and what the reports are like."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import polars as pl

from planner.errors import EstimateError
from planner.survey.feed import reports_of
from planner.survey.heaping import (
    GRIDS,
    WRITTEN_WITHIN,
    Heaping,
    heaping,
    winsorised_once,
)

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from planner.survey.feed import Calibration, Reports

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
    """

    changed_count: int
    change_share: float
    heaping: dict[str, Heaping]


def reported_feed(
    given: pl.DataFrame,
    winsorised: pl.DataFrame,
    weights: NDArray[np.float64],
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
    )


def _heaping(raw: Reports, weights: NDArray[np.float64]) -> dict[str, Heaping]:
    found = {}
    for name, grid in GRIDS.items():
        amounts = raw.kg if name.endswith("_kg") else raw.litres
        try:
            found[name] = heaping(amounts, weights, grid, WRITTEN_WITHIN[name])
        except EstimateError:
            continue
    return found


def _winsorised(answers: pl.DataFrame) -> pl.DataFrame:
    """Winsorise both units of one round's answers."""
    return answers.with_columns(_winsorised_unit(answers, unit) for unit in UNITS)


def _winsorised_unit(answers: pl.DataFrame, unit: str) -> pl.Series:
    """Winsorise what bins in use were reported to be fed, in one unit; the rest stays."""
    has_report = answers.select(pl.col(unit).is_not_null() & pl.col("is_in_use")).to_series()
    values = winsorised_once(answers[unit].filter(has_report).to_numpy())
    return answers[unit].scatter(has_report.arg_true(), values)
