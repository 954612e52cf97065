"""The stock of worms in a bin from its starter on."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray


def stock_kg(
    age_days: ArrayLike,
    starter_kg: ArrayLike,
    doubling_days: ArrayLike,
    ceiling_kg: ArrayLike,
) -> NDArray[np.float64]:
    """Mass of worms in a bin at an age, by logistic growth.

    Doubles in `doubling_days` while it is far below the ceiling, then levels off. A starter
    above the ceiling counts as the ceiling: the bin carries no more.

    Parameters
    ----------
    age_days
        Days since the hand-over, any shape that broadcasts with the rest.
    starter_kg
        Worms given [kg].
    doubling_days
        Time in which a small stock doubles [days].
    ceiling_kg
        Most that the bin carries: ceiling density times tray area [kg].

    Returns
    -------
    ndarray
        Mass of worms, never falling with age [kg].

    Notes
    -----
    N(t) = K / (1 + (K/N0 − 1) 2^(−t/d)), 0 where no worms or no room were given.

    References
    ----------
    munroe_manual, doubling of 60 to 90 days and stocking density; Verhulst (1838) for the
    form, whose use here is a judgement.

    Examples
    --------
    >>> stock_kg([0.0, 90.0], 0.25, 90.0, 1e9).round(3).tolist()
    [0.25, 0.5]
    """
    ceiling = np.asarray(ceiling_kg, dtype=np.float64)
    starter = np.minimum(np.asarray(starter_kg, dtype=np.float64), ceiling)
    halvings = np.asarray(age_days, dtype=np.float64) / np.asarray(doubling_days)
    room = np.exp2(-halvings)
    # K N0 / (N0 + (K − N0) 2^−t/d): the same curve, defined for an empty starter too.
    weight = starter + (ceiling - starter) * room
    product = ceiling * starter
    return np.asarray(np.divide(product, weight, out=np.zeros_like(weight), where=weight > 0.0))
