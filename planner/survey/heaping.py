"""Heaping: reports that lie on round numbers more often than weights do."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from planner.errors import EstimateError
from planner.survey.families import Normal
from planner.survey.interval_likelihood import Intervals, fit_log_times

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

WRITTEN_TO = 0.1
"""Reports are written to a tenth of a kilogram or of a litre."""

GRIDS = {"half_kg": 0.5, "whole_litre": 1.0, "five_litre": 5.0}
"""Round numbers that people report, in kilograms or litres."""

WRITTEN_WITHIN = {"half_kg": WRITTEN_TO, "whole_litre": WRITTEN_TO, "five_litre": 1.0}
"""The finer numbers among which the round ones are counted."""

ON_GRID = 1e-6
LEAST_REPORTS = 10


@dataclass(frozen=True)
class Heaping:
    """How many reports are round, against how many would be if none were rounded.

    Parameters
    ----------
    round_share
        Shape (1 + draws_count,): share of the reports that lie on the grid.
    expected_share
        Share that would lie there by chance.
    reports_count
        Reports above nothing that the share is of.
    """

    round_share: NDArray[np.float64]
    expected_share: float
    reports_count: int

    @property
    def index(self) -> NDArray[np.float64]:
        """Round reports over those expected, shape (1 + draws_count,): 1 is no heaping."""
        return self.round_share / self.expected_share


def on_grid(reports: NDArray[np.float64], grid: float) -> NDArray[np.bool_]:
    """Whether each report is a multiple of a grid.

    Examples
    --------
    >>> on_grid(np.array([1.5, 1.4]), 0.5).tolist()
    [True, False]
    """
    steps = reports / grid
    return np.asarray(np.abs(steps - np.round(steps)) < ON_GRID / grid)


def heaping(
    reports: NDArray[np.float64], weights: NDArray[np.float64], grid: float, within: float
) -> Heaping:
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

    Raises
    ------
    EstimateError
        Fewer than ten reports are left.

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
    told = (reports > 0.0) & on_grid(reports, within)
    count = int(told.sum())
    if count < LEAST_REPORTS:
        message = f"{count} reports above nothing; heaping needs {LEAST_REPORTS}"
        raise EstimateError(message)
    own = weights[:, told]
    share = own @ on_grid(reports[told], grid) / own.sum(axis=1)
    return Heaping(share, within / grid, count)


def assumed_grid(reports: NDArray[np.float64], grids: Sequence[float]) -> NDArray[np.float64]:
    """Coarsest of some grids on which each report lies; the finest where it lies on none.

    Parameters
    ----------
    reports
        Shape (n,).
    grids
        Distances of round numbers.

    Examples
    --------
    >>> assumed_grid(np.array([2.0, 2.5, 2.3]), (0.1, 0.5, 1.0)).tolist()
    [1.0, 0.5, 0.1]
    """
    found = np.full(reports.shape, min(grids))
    for grid in sorted(grids):
        found[on_grid(reports, grid)] = grid
    return found


def heaped_mean(
    reports: NDArray[np.float64], grid: NDArray[np.float64], weights: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Mean of a lognormal quantity of which rounded reports are given, shape (rows,).

    A report r on a grid d says that the quantity lies in (r - d/2, r + d/2]. The likelihood
    of those intervals is maximised; where rounding is symmetric the result is near the
    plain mean, and the distance between them shows what heaping can do.

    Parameters
    ----------
    reports, grid
        Shape (n,), reports above 0.
    weights
        Shape (rows, n).

    Raises
    ------
    EstimateError
        There is no report, one is not above 0, or the likelihood has no maximum.

    Notes
    -----
    ``exp(mu + sigma² / 2)``.

    References
    ----------
    Heitjan, D.F. and Rubin, D.B. (1990), Inference from coarse data via multiple
    imputation, Journal of the American Statistical Association 85, 304-314.

    Examples
    --------
    >>> told = np.repeat([0.5, 1.0, 1.5, 2.0], (10, 20, 12, 5))
    >>> heaped_mean(told, np.full(47, 0.5), np.ones((1, 47))).round(1).tolist()
    [1.1]
    """
    if reports.size == 0 or not np.all(reports > 0.0):
        message = f"expected reports above 0, found {int((~(reports > 0.0)).sum())} others"
        raise EstimateError(message)
    half = grid / 2.0
    fit = fit_log_times(
        Intervals(np.maximum(reports - half, 0.0), reports + half), weights, Normal()
    )
    return np.asarray(np.exp(fit.location + fit.scale**2 / 2.0))
