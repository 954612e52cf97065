"""Winsorising: what one extraordinary report may do to a mean."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

LEAST_VALUES = 10
"""Of fewer values none is changed: one would be a tenth of them."""


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
