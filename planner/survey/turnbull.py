"""Turnbull's curve: the likeliest distribution of times known to lie in intervals."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import scipy

from planner.arrays import Flags, Integers, Numbers
from planner.errors import EstimateError
from planner.messages import say

if TYPE_CHECKING:
    from planner.survey.interval_likelihood import Intervals
    from planner.survey.row_weights import VariedWeights, Weights

MOST_STEPS = 100
MOST_ROUNDS = 60
NEAR_WALL = 0.995
"""Share of the way to a mass of 0 that one step may go."""

IDLE_SLOPE = 0.99
"""A candidate without mass and with a slope below this is left out of the next round."""

MOST_PEAKS = 50
"""Candidates taken in at once, about: more would slow every step and most stay empty."""

LEAST_CHANCE = 1e-300
LEAST_MASS = 1e-8
NUMBERS_AT_ONCE = 1_000_000
"""Rows are taken in blocks of matrices of at most so many numbers."""


@dataclass(frozen=True)
class _End:
    """When the path ends, and what slope above 1 still counts as none.

    The log likelihood per unit of weight is then within ``candidates × barrier + tolerance``
    of its maximum.
    """

    barrier: float
    tolerance: float


CENTRAL = _End(1e-14, 1e-9)
REPLICATE = _End(1e-12, 1e-6)
"""Replicates show spread; their maximum need not be known to as many digits."""


@dataclass(frozen=True)
class Turnbull:
    """Mass of the distribution on the intervals that can carry any.

    Between the ends of an interval with mass the curve is undetermined; it is never
    interpolated here, both step bounds are given.
    """

    # shape (m,): the innermost intervals (lower, upper], in order; equal for a time that is known
    # exactly, `upper` infinite for what lies beyond every answer
    lower: Numbers
    upper: Numbers
    mass: Numbers  # shape (rows, m), each row adding up to 1

    def bounds(self, age: Numbers) -> tuple[Numbers, Numbers]:
        """Lowest and highest share still going at each age, each of shape (rows, ages).

        Parameters
        ----------
        age
            Shape (ages,).
        """
        is_point = self.lower == self.upper
        surely = (self.lower[:, None] > age) | ((self.lower[:, None] == age) & ~is_point[:, None])
        return self.mass @ surely, self.mass @ (self.upper[:, None] > age)

    def mean_bounds(self, horizon: float) -> tuple[Numbers, Numbers]:
        """Lowest and highest mean time up to a horizon, each of shape (rows,)."""
        return (
            self.mass @ np.minimum(self.lower, horizon),
            self.mass @ np.minimum(self.upper, horizon),
        )

    def undetermined(self) -> tuple[tuple[float, float], ...]:
        """Intervals within which the curve of the first row falls by an unknown path."""
        wide = (self.mass[0] > LEAST_MASS) & (self.upper > self.lower)
        return tuple(zip(self.lower[wide].tolist(), self.upper[wide].tolist(), strict=True))

    def determined_ages(self) -> Numbers:
        """Ages at which every row's curve is known, the lower ends of the intervals above 0."""
        ages = np.unique(self.lower[self.lower < self.upper])
        return np.asarray(ages[ages > 0.0])


def fit_turnbull(intervals: Intervals, weights: Weights | VariedWeights) -> Turnbull:
    """Find the likeliest distribution for every row of weights.

    The likelihood depends on the mass of each innermost interval alone. With weights that
    add up to 1, ``sum(w log(A p)) - sum(p)`` over masses of 0 or more has its maximum where
    the masses add up to 1; a primal-dual path of Newton steps, all rows side by side, goes
    there. Each row begins with few intervals, later rows with those that the first one
    needed, and takes in others while the slope there says that they would gain.

    Parameters
    ----------
    intervals
        Shape (n,).
    weights
        Shape (rows, n), none negative, some above 0 in each row.

    Raises
    ------
    EstimateError
        There is no interval, or the path does not arrive.

    References
    ----------
    Turnbull, B.W. (1976), Journal of the Royal Statistical Society B 38, 290-295. Gentleman,
    R. and Geyer, C.J. (1994), Biometrika 81, 618-623 (conditions of the maximum). Wang, Y.
    (2008), Computational Statistics and Data Analysis 52, 2388-2402 (support taken in by
    slope). Nocedal, J. and Wright, S.J. (2006), Numerical Optimization, chapter 19.

    Examples
    --------
    >>> from planner.survey.interval_likelihood import Intervals
    >>> seen = Intervals(np.array([0.0, 2.0, 2.0]), np.array([2.0, 3.0, np.inf]))
    >>> fit_turnbull(seen, np.ones((1, 3))).mass.round(6).tolist()
    [[0.333333, 0.666667]]
    """
    if intervals.lower.size == 0:
        raise EstimateError(say("estimate.no_use"))
    kinds, summed = intervals.distinct(weights)
    lower, upper, first, last = _innermost(intervals.of(kinds))
    scaled = summed / summed.sum(axis=1, keepdims=True)
    piercing = np.zeros((1, lower.size), dtype=bool)
    piercing[0, _piercing(first, last)] = True
    problem = _Problem(first, last, lower.size, piercing)
    mass = np.zeros((weights.shape[0], lower.size))
    mass[:1] = problem.masses(scaled[:1], piercing, CENTRAL)
    begun = piercing | (mass[:1] > 0.0)
    rows = max(1, NUMBERS_AT_ONCE // max(first.size, int(begun.sum() * 1.5) ** 2))
    for start in range(1, weights.shape[0], rows):
        block = scaled[start : start + rows]
        mass[start : start + rows] = problem.masses(
            block, np.repeat(begun, block.shape[0], axis=0), REPLICATE
        )
    return Turnbull(lower, upper, mass)


def _innermost(intervals: Intervals) -> tuple[Numbers, Numbers, Integers, Integers]:
    """Intervals that can carry mass, and the first and last of them inside each answer's.

    At one and the same value a closed lower limit comes first, then the upper limits, then
    the open lower limits, so (2, 3] and (3, 4] share nothing while [3, 3] lies in the former.
    """
    values, place = np.unique(np.r_[intervals.lower, intervals.upper], return_inverse=True)
    n = intervals.lower.size
    begins = 3 * place[:n] + np.where(intervals.is_exact, 0, 2)
    ends = 3 * place[n:] + 1
    keys = np.unique(np.r_[begins, ends])
    is_end = keys % 3 == 1
    pairs = np.flatnonzero(~is_end[:-1] & is_end[1:])
    inner_begin, inner_end = keys[pairs], keys[pairs + 1]
    first = np.searchsorted(inner_begin, begins, side="left")
    last = np.searchsorted(inner_end, ends, side="right") - 1
    return values[inner_begin // 3], values[inner_end // 3], first, last


def _piercing(first: Integers, last: Integers) -> Integers:
    """Fewest candidates such that every answer's interval holds one."""
    soonest = np.full(first.max() + 2, last.max() + 1)
    np.minimum.at(soonest, first, last)
    soonest = np.minimum.accumulate(soonest[::-1])[::-1]
    chosen, at = [], 0
    while at < soonest.size and soonest[at] <= last.max():
        chosen.append(soonest[at])
        at = chosen[-1] + 1
    return np.array(chosen)


@dataclass(frozen=True)
class _Problem:
    """First and last candidate inside each answer's interval, and how many candidates.

    `piercing`, of shape (1, size), marks the fewest that every answer's interval holds one of.
    """

    first: Integers
    last: Integers
    size: int
    piercing: Flags

    def masses(self, weights: Numbers, support: Flags, end: _End) -> Numbers:
        """Masses of every row, each on a support that is widened until none outside gains.

        Parameters
        ----------
        weights
            Shape (rows, n), each row adding up to 1.
        support
            Shape (rows, size): where each row begins.
        """
        mass = np.zeros(support.shape)
        support, left = support.copy(), np.arange(support.shape[0])
        for _ in range(MOST_ROUNDS):
            mass[left] = self._on_support(weights[left], support[left], end)
            chance = _chance(mass[left], self.first[None, :], self.last[None, :])
            share = weights[left] / np.maximum(chance, LEAST_CHANCE)
            slope = _slope(share, self.first[None, :], self.last[None, :], self.size)
            gains = _peaks(np.where(support[left], 1.0, slope), 1.0 + end.tolerance)
            idle = (mass[left] == 0.0) & (slope < IDLE_SLOPE)
            # of every answer's interval one candidate stays, or its chance would be nothing
            support[left] = (support[left] & ~idle) | gains | self.piercing
            left = left[gains.any(axis=1)]
            if left.size == 0:
                return mass
        raise EstimateError(say("estimate.unsettled"))

    def _on_support(self, weights: Numbers, support: Flags, end: _End) -> Numbers:
        """Masses on each row's own candidates, packed side by side to the widest row's."""
        width = int(support.sum(axis=1).max())
        # rows with fewer candidates are filled up with others, which may stay at 0
        packed = np.sort(np.argsort(~support, axis=1, kind="stable")[:, :width], axis=1)
        chosen = np.zeros(support.shape, dtype=bool)
        np.put_along_axis(chosen, packed, True, axis=1)
        before = np.hstack([np.zeros((len(packed), 1), dtype=int), np.cumsum(chosen, axis=1)])
        begin, finish = before[:, self.first], before[:, self.last + 1] - 1
        found = np.zeros(support.shape)
        np.put_along_axis(found, packed, _follow_path(weights, begin, finish, width, end), axis=1)
        return found


def _peaks(slope: Numbers, least: float) -> Flags:
    """Highest points above a level, none close beside a higher one while they are many."""
    wide = max(3, slope.shape[1] // MOST_PEAKS)
    above = slope > least
    peaks = above & (slope >= scipy.ndimage.maximum_filter1d(slope, wide, axis=1, mode="nearest"))
    return np.asarray(peaks)


def _follow_path(
    weights: Numbers, first: Integers, last: Integers, size: int, end: _End
) -> Numbers:
    """Masses that meet the conditions of the maximum, shape (rows, size)."""
    rows = weights.shape[0]
    mass, slack = np.full((rows, size), 1.0 / size), np.ones((rows, size))
    diagonal = np.arange(size)
    for _ in range(MOST_STEPS):
        chance = np.maximum(_chance(mass, first, last), LEAST_CHANCE)
        share = weights / chance
        slope = _slope(share, first, last, size)
        gap = (mass * slack).mean(axis=1, keepdims=True)
        lack = np.abs((1.0 - slope - slack) * mass).max()
        if gap.max() < end.barrier and lack < end.barrier * size:
            mass[mass < slack] = 0.0
            return np.asarray(mass / mass.sum(axis=1, keepdims=True))
        barrier = np.maximum(0.1 * gap, end.barrier / 10.0)
        bend = _bend(share / chance, first, last, size)
        bend[:, diagonal, diagonal] += slack / mass
        step = np.linalg.solve(bend, (slope - 1.0 + barrier / mass)[:, :, None])[:, :, 0]
        slack_step = barrier / mass - slack - slack / mass * step
        mass = mass + _length(mass, step) * step
        slack = slack + _length(slack, slack_step) * slack_step
    raise EstimateError(say("estimate.unsettled"))


def _length(value: Numbers, step: Numbers) -> Numbers:
    """Longest step of each row, up to 1, that keeps every value above 0."""
    reach = np.where(step < 0.0, -NEAR_WALL * value / np.minimum(step, -1e-300), 1.0)
    return np.asarray(np.minimum(reach.min(axis=1, keepdims=True), 1.0))


def _chance(mass: Numbers, first: Integers, last: Integers) -> Numbers:
    """Mass inside each answer's interval, shape (rows, n)."""
    below = np.hstack([np.zeros((mass.shape[0], 1)), np.cumsum(mass, axis=1)])
    if first.shape[0] == 1:
        return np.asarray(below[:, last[0] + 1] - below[:, first[0]])
    return np.asarray(
        np.take_along_axis(below, last + 1, axis=1) - np.take_along_axis(below, first, axis=1)
    )


def _slope(share: Numbers, first: Integers, last: Integers, size: int) -> Numbers:
    """Sum over the answers whose interval holds each candidate, shape (rows, size)."""
    begun = _summed_at(share, first, size)
    ended = _summed_at(share, last, size)
    return np.asarray(np.cumsum(begun, axis=1) - np.cumsum(ended, axis=1) + ended)


def _summed_at(share: Numbers, place: Integers, size: int) -> Numbers:
    rows = share.shape[0]
    flat = np.arange(rows)[:, None] * size + place
    sums = np.bincount(flat.ravel(), share.ravel().astype(float), minlength=rows * size)
    return np.asarray(sums, dtype=np.float64).reshape(rows, size)


def _bend(share: Numbers, first: Integers, last: Integers, size: int) -> Numbers:
    """Second derivatives, shape (rows, size, size).

    An answer counts for a pair of candidates when its interval begins at or below the
    lower and ends at or above the higher one: a sum over a corner of the plane of limits.
    """
    # the last interval is counted from the end, so that both sums run forwards
    at = first * size + (size - 1 - last)
    corner = _summed_at(share, at, size * size).reshape(-1, size, size)
    for row in range(1, size):
        corner[:, row] += corner[:, row - 1]
    corner = np.cumsum(corner, axis=2)[:, :, ::-1]
    low, high = np.triu_indices(size, 1)
    corner[:, high, low] = corner[:, low, high]
    return corner
