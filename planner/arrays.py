"""Arrays of numbers, and division in which some divisors are nought."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

Numbers = NDArray[np.float64]
Integers = NDArray[np.int64]
Flags = NDArray[np.bool_]

NORMAL_95 = 1.959963984540054
"""Half the width of a normal distribution's 95% interval, in standard deviations."""


def quotient(part: ArrayLike, whole: ArrayLike, otherwise: ArrayLike = 0.0) -> Numbers:
    """Divide element by element; `otherwise` stands where the divisor is not above nought.

    Examples
    --------
    >>> quotient([3.0, 3.0], [2.0, 0.0], otherwise=1.0)
    array([1.5, 1. ])
    """
    over, under, found = np.broadcast_arrays(part, whole, np.asarray(otherwise, dtype=np.float64))
    return np.asarray(np.divide(over, under, out=found.copy(), where=under > 0.0))
