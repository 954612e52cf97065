"""How many to have: collectors and spares from the binomial of show-ups and breakages.

Households that booked come or stay away; bins that were bought are usable or not. Both are
counted exactly, by event and over all events, never as a flat percentage.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np
import scipy

from planner.survey.attendance import turnout

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import ArrayLike, NDArray

NEGLIGIBLE = 1e-13
"""Probability below which the tail of a distribution is cut off."""

LEVEL_STEPS = 20
"""Halvings of the search for a common level: far finer than one bin."""


@dataclass(frozen=True)
class Schedule:
    """Least quantities to have bought by each event, and how sure they make it."""

    # bins to have bought by each event in all, never falling, shape (events,)
    bought_count: NDArray[np.int64]
    overall_level: float  # probability that no event at all runs short


def demand_pmf(
    booked_count: ArrayLike, taking_share: float, likeness: float = 0.0
) -> NDArray[np.float64]:
    """Probability that 0, 1, 2 and so on up to all booked are taken at independent events.

    Parameters
    ----------
    booked_count
        Households booked at each event, shape (events,).
    taking_share
        Probability that a booked household comes and takes the item.
    likeness
        Correlation of two households of one event.

    Notes
    -----
    Events that do not differ make one binomial. Where days differ each event is a beta-binomial
    of its own, and the total their exact convolution.

    Examples
    --------
    >>> demand_pmf([1, 1], 0.5).round(12).tolist()
    [0.25, 0.5, 0.25]
    """
    booked = np.asarray(booked_count, dtype=np.int64)
    total = np.ones(1)
    for count in booked.tolist() if likeness > 0.0 else [int(booked.sum())]:  # events
        law = turnout(count, taking_share, likeness)
        total = np.convolve(total, law.pmf(np.arange(count + 1)))
    return total


def enough_probability(
    bought_count: int, usable_share: float, pmf: NDArray[np.float64], in_stock_count: int = 0
) -> float:
    """Probability that the usable of what was bought, and the stock, meet the demand.

    Bins bought are usable each on its own, those in store have been checked. Demands have the
    probabilities of `demand_pmf`.

    Examples
    --------
    >>> round(enough_probability(1, 0.9, np.array([0.5, 0.5])), 3)
    0.95
    """
    demands = np.flatnonzero(pmf > NEGLIGIBLE / len(pmf))
    lacking = demands - in_stock_count
    enough = scipy.stats.binom.sf(lacking - 1, bought_count, usable_share)
    return float(np.dot(pmf[demands], enough))


@dataclass
class Supply:
    """Chances that numbers bought are enough, kept once they have been worked out.

    Raises
    ------
    ValueError
        No item is usable, so no number is enough.

    Examples
    --------
    >>> Supply(demand_pmf([100], 0.85), 1.0, 0).needed_count(0.95)
    91
    """

    pmf: NDArray[np.float64]
    usable_share: float
    in_stock_count: int
    known: dict[int, float] = field(default_factory=dict)

    def __post_init__(self) -> None:
        if not self.usable_share > 0.0:
            message = f"usable_share: found {self.usable_share}, expected above 0"
            raise ValueError(message)

    def enough(self, count: int) -> float:
        """Probability that so many bought meet the demand."""
        if count not in self.known:
            self.known[count] = enough_probability(
                count, self.usable_share, self.pmf, self.in_stock_count
            )
        return self.known[count]

    def needed_count(self, level: float) -> int:
        """Least number to buy so that the demand is met with a probability of the level."""
        low, high = -1, max(1, len(self.pmf))
        while self.enough(high) < level:
            low, high = high, 2 * high
        while high - low > 1:
            middle = (low + high) // 2
            low, high = (low, middle) if self.enough(middle) >= level else (middle, high)
        return high


def overall_probability(
    bought_count: ArrayLike,
    usable_share: float,
    booked_count: ArrayLike,
    taking_share: float,
    likeness: float = 0.0,
    in_stock_count: int = 0,
) -> float:
    """Probability that no event runs short, left-over bins going on to the next.

    Parameters
    ----------
    bought_count
        Bins bought by each event in all, shape (events,), never falling.
    in_stock_count
        Usable bins in store before the first event.

    Notes
    -----
    Exact for independent events: the law of the stock after each event is carried on, and
    what falls below nothing is lost from it.

    Examples
    --------
    >>> round(overall_probability([1, 2], 1.0, [2, 2], 0.5), 4)
    0.625
    """
    bought = np.diff(np.asarray(bought_count, dtype=np.int64), prepend=0)
    stock = np.zeros(in_stock_count + 1)
    stock[in_stock_count] = 1.0
    for more, count in zip(bought, np.asarray(booked_count, dtype=np.int64), strict=True):
        usable = scipy.stats.binom.pmf(np.arange(more + 1), more, usable_share)
        taken = turnout(count, taking_share, likeness).pmf(np.arange(count + 1))
        after = scipy.signal.convolve(scipy.signal.convolve(stock, usable), taken[::-1])[count:]
        stock = np.where(after > NEGLIGIBLE, after, 0.0)
        stock = np.trim_zeros(stock, "b") if stock.any() else np.zeros(1)
    return float(min(1.0, stock.sum()))


def schedule(
    booked_count: ArrayLike,
    taking_share: float,
    likeness: float,
    usable_share: float,
    event_level: float,
    overall_level: float,
    in_stock_count: int = 0,
) -> Schedule:
    """Least quantities by event that keep both levels of service.

    All events are given one common level, at least `event_level`, and raised until no
    event runs short with a probability of at least `overall_level`.

    Examples
    --------
    >>> schedule([50, 50], 0.85, 0.0, 1.0, 0.95, 0.9).bought_count.tolist()
    [46, 91]
    """
    booked = np.asarray(booked_count, dtype=np.int64)
    supplies = [
        Supply(demand_pmf(booked[:until], taking_share, likeness), usable_share, in_stock_count)
        for until in range(1, len(booked) + 1)
    ]

    def bought_at(level: float) -> NDArray[np.int64]:
        least = [supply.needed_count(level) for supply in supplies]
        return np.maximum.accumulate(np.array(least, dtype=np.int64))

    def overall_of(bought: NDArray[np.int64]) -> float:
        return overall_probability(
            bought, usable_share, booked, taking_share, likeness, in_stock_count
        )

    bought = bought_at(raise_level(lambda x: overall_of(bought_at(x)), event_level, overall_level))
    return Schedule(bought, overall_of(bought))


def raise_level(
    overall_of: Callable[[float], float], event_level: float, overall_level: float
) -> float:
    """Find the least common level, from `event_level` up, that gives the overall level.

    The overall probability that follows from a common level never falls.

    Examples
    --------
    >>> round(raise_level(lambda level: level**2, 0.5, 0.81), 3)
    0.9
    """
    if overall_of(event_level) >= overall_level:
        return event_level
    low, high = np.log(1.0 - event_level), np.log(NEGLIGIBLE)
    for _ in range(LEVEL_STEPS):
        middle = (low + high) / 2.0
        if overall_of(1.0 - float(np.exp(middle))) >= overall_level:
            high = middle
        else:
            low = middle
    return 1.0 - float(np.exp(high))
