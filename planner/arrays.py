"""Arrays of numbers, places in lists, and division in which some divisors are nought."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import ArrayLike, NDArray

if TYPE_CHECKING:
    from collections.abc import Iterable

    import polars as pl

Numbers = NDArray[np.float64]
Integers = NDArray[np.int64]
Flags = NDArray[np.bool_]

NORMAL_95 = 1.959963984540054
"""Half the width of a normal distribution's 95% interval, in standard deviations."""


def places_of(column: pl.Series, known: Iterable[object]) -> Integers:
    """Find where each value of a column stands among those known.

    Examples
    --------
    >>> import polars as pl
    >>> places_of(pl.Series(["S", "N", "S"]), ["N", "S"]).tolist()
    [1, 0, 1]
    """
    places = {value: place for place, value in enumerate(known)}
    return column.replace_strict(places).cast(int).to_numpy()


def numbers_of(column: pl.Series) -> Integers:
    """Give each distinct value of a column a number, from 0 in their order.

    Examples
    --------
    >>> import polars as pl
    >>> numbers_of(pl.Series(["S", "N", "S"])).tolist()
    [1, 0, 1]
    """
    return column.rank("dense").cast(int).to_numpy() - 1


def quotient(part: ArrayLike, whole: ArrayLike, otherwise: ArrayLike = 0.0) -> Numbers:
    """Divide element by element; `otherwise` stands where the divisor is not above nought.

    Examples
    --------
    >>> quotient([3.0, 3.0], [2.0, 0.0], otherwise=1.0)
    array([1.5, 1. ])
    """
    over, under, found = np.broadcast_arrays(part, whole, np.asarray(otherwise, dtype=np.float64))
    return np.asarray(np.divide(over, under, out=found.copy(), where=under > 0.0))
