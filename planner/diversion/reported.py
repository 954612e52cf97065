"""Reports of feed, winsorised: no single report decides; and what the reports are like."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import polars as pl
import scipy

from planner.arrays import Flags, Numbers
from planner.errors import EstimateError
from planner.survey.feed import reports_of
from planner.survey.interval_likelihood import Intervals, fit_log_times

if TYPE_CHECKING:
    from planner.survey.feed import Calibration, Reports
    from planner.survey.row_weights import Weights

WRITTEN_TO = 0.1
"""Reports are written to a tenth of a kilogram or of a litre."""

GRIDS = {"half_kg": 0.5, "whole_litre": 1.0, "five_litre": 5.0}
"""Round numbers that people report, in kilograms or litres."""

WRITTEN_WITHIN = {"half_kg": WRITTEN_TO, "whole_litre": WRITTEN_TO, "five_litre": 1.0}
"""The finer numbers among which the round ones are counted."""

ON_GRID = 1e-6
LEAST_REPORTS = 10

LEAST_VALUES = 10
"""Of fewer values none is winsorised: one would be a tenth of them."""

STEPS = {"kg": (1.0, 0.5, WRITTEN_TO), "litres": (5.0, 1.0, 0.5, WRITTEN_TO)}
"""Steps to which people round, the coarsest first."""

UNITS = ("fed_kg_last_week", "fed_litres_last_week")


@dataclass(frozen=True)
class WinsorisedReports:
    """Follow-up answers and diary pairs with winsorised reports."""

    # queries followup_answers and diary_pairs
    followup: pl.DataFrame
    diaries: pl.DataFrame
    changed_count: int  # reports that were changed


def winsorised_reports(followup: pl.DataFrame, diaries: pl.DataFrame) -> WinsorisedReports:
    """Set the largest report of each round and unit to the second largest, the least likewise.

    Reports of in-use bins above nothing, ten or more of a round and unit; see
    `winsorised_once`. A diary household's report is the same
    answer and changes with it; what was weighed stays.

    Parameters
    ----------
    followup, diaries
        Queries followup_answers and diary_pairs.
    """
    winsorised = followup.with_columns(_winsorised_unit(followup, unit) for unit in UNITS)
    changed = sum(
        int((winsorised[unit] != followup[unit]).fill_null(value=False).sum()) for unit in UNITS
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
class Heaping:
    """How many reports are round, against how many would be if none were rounded."""

    # shape (1 + draws_count,): share of the reports that lie on the grid
    round_share: Numbers
    expected_share: float  # share that would lie there by chance
    reports_count: int  # reports above nothing that the share is of

    @property
    def index(self) -> Numbers:
        """Round reports over those expected, shape (1 + draws_count,): 1 is no heaping."""
        return self.round_share / self.expected_share


def is_multiple_of(reports: Numbers, grid: float) -> Flags:
    """Whether each report is a multiple of a grid.

    Examples
    --------
    >>> is_multiple_of(np.array([1.5, 1.4]), 0.5).tolist()
    [True, False]
    """
    steps = reports / grid
    return np.asarray(np.abs(steps - np.round(steps)) < ON_GRID / grid)


def heaping(reports: Numbers, weights: Weights, grid: float, within: float) -> Heaping | None:
    """Count the reports on round numbers among those written to a finer step.

    Like Whipple's index of ages that end in 0 or 5. Reports of nothing are left out, and so
    are those not written to the finer step (for five litres among whole ones).

    Parameters
    ----------
    reports
        Shape (n,): kilograms or litres.
    weights
        Shape (1 + draws_count, n).
    grid, within
        Distance of round numbers, and of the numbers among which they are counted.

    Returns
    -------
    Heaping or None
        None where fewer than ten reports are left.

    References
    ----------
    Siegel, J.S. and Swanson, D.A. (2004), The Methods and Materials of Demography, 2nd ed.,
    chapter 7 (Whipple's index).

    Examples
    --------
    >>> told = np.r_[np.full(9, 1.5), 0.7, 0.0]
    >>> heaping(told, np.ones((1, 11)), 0.5, 0.1).index.tolist()
    [4.5]
    """
    on_grid_rows = (reports > 0.0) & is_multiple_of(reports, within)
    count = int(on_grid_rows.sum())
    if count < LEAST_REPORTS:
        return None
    own = weights[:, on_grid_rows]
    share = own @ is_multiple_of(reports[on_grid_rows], grid) / own.sum(axis=1)
    return Heaping(share, within / grid, count)


def winsorised_once(values: Numbers) -> Numbers:
    """Set the largest value to the second largest and the smallest to the second smallest.

    One value a side, whatever the numbers are, so there is no cut to choose: for skewed
    distributions the once-winsorised mean is close to the best of all winsorised means,
    and with many values it is the plain mean. Equal extremes stay. Values of nothing are
    no outliers: they stay, and the smallest is that above nothing.

    Parameters
    ----------
    values
        Shape (n,), 0 or more, unweighted.

    Returns
    -------
    ndarray
        Shape (n,), in the same order; unchanged where fewer than ten are above nothing.

    References
    ----------
    Rivest, L.-P. (1994), Statistical properties of Winsorized means for skewed
    distributions, Biometrika 81, 373-383.

    Examples
    --------
    >>> winsorised_once(np.r_[np.arange(2.0, 12.0), 60.0, 0.0]).tolist()
    [3.0, 3.0, 4.0, 5.0, 6.0, 7.0, 8.0, 9.0, 10.0, 11.0, 11.0, 0.0]
    """
    some = values > 0.0
    if some.sum() < LEAST_VALUES:
        return values.copy()
    ordered = np.sort(values[some])
    return np.where(some, np.clip(values, ordered[1], ordered[-2]), values)


@dataclass(frozen=True)
class ReportedFeed:
    """What the reports themselves are like."""

    changed_count: int  # reports that were winsorised
    change_share: float  # what that changed the weighted feed by, relatively
    # round numbers among the reports, by grid; grids with too few reports are left out
    heaping: dict[str, Heaping]
    # by unit, what the mean report changes by, relatively, where each report stands for all amounts
    # that round to it; units with fewer than ten reports are left out
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
    found = {
        name: heaping(
            raw.kg if name.endswith("_kg") else raw.litres, weights, grid, WRITTEN_WITHIN[name]
        )
        for name, grid in GRIDS.items()
    }
    return {name: one for name, one in found.items() if one is not None}


def _rounding_change(raw: Reports, weights: Numbers) -> dict[str, float]:
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
            steps[is_multiple_of(amounts[fed], step)] = step
        try:
            rounded, written = (
                _mean_within(amounts[fed], half, weights[fed])
                for half in (steps / 2.0, np.full_like(steps, WRITTEN_TO / 2.0))
            )
        except EstimateError:
            continue  # all reports alike: no spread, and no rounding to speak of
        changes[unit] = rounded / written - 1.0
    return changes


def _mean_within(amounts: Numbers, half: Numbers, weights: Numbers) -> float:
    """Mean of the Weibull amounts that are likeliest given only where each lies."""
    within = Intervals(np.maximum(amounts - half, 0.0), amounts + half)
    fit = fit_log_times(within, weights[None, :])
    return float(np.exp(fit.location[0]) * scipy.special.gamma(1.0 + fit.scale[0]))


def _winsorised_unit(followup: pl.DataFrame, unit: str) -> pl.Series:
    """Winsorise what bins in use were reported to be fed in a round, in one unit."""
    has_report = pl.col(unit).is_not_null() & pl.col("is_in_use")
    told = followup.select("wave_id", has_report.alias("is_told"), row=pl.int_range(pl.len()))
    found = followup[unit].clone()
    for rows in told.filter("is_told").group_by("wave_id").agg("row")["row"]:
        found = found.scatter(rows, winsorised_once(followup[unit].gather(rows).to_numpy()))
    return found
