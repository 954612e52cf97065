"""What reports are like: round numbers more often than weights are, and extraordinary ones."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from planner.errors import EstimateError
from planner.messages import say

if TYPE_CHECKING:
    from numpy.typing import NDArray

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


def heaping(reports: NDArray[np.float64], weights: Weights, grid: float, within: float) -> Heaping:
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
    on_grid_rows = (reports > 0.0) & on_grid(reports, within)
    count = int(on_grid_rows.sum())
    if count < LEAST_REPORTS:
        raise EstimateError(say("estimate.heaping", count=count, least=LEAST_REPORTS))
    own = weights[:, on_grid_rows]
    share = own @ on_grid(reports[on_grid_rows], grid) / own.sum(axis=1)
    return Heaping(share, within / grid, count)


def winsorised_once(values: NDArray[np.float64]) -> NDArray[np.float64]:
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
