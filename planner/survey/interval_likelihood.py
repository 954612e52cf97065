"""Likelihood of times known to lie in an interval, for many rows of weights at once."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from planner.errors import EstimateError

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from planner.survey.families import Family

    Numbers = NDArray[np.float64]

MOST_STEPS = 200
MOST_HALVINGS = 40
SETTLED_DECREMENT = 1e-14
"""Half the squared Newton decrement per unit of weight: the worth still to be gained."""

SETTLED_DECREMENT_OF_REPLICATES = 1e-10
"""Newton's last step, which is still taken, squares what is left."""

LEAST_SLOPE_KEPT = 0.2
"""A step may shrink a slope to a fifth, never to 0 or below."""

FLATTEST_SLOPE, STEEPEST_SLOPE = 1e-4, 1e4
"""Beyond these the likelihood has no maximum that data could have meant."""

FARTHEST_LEVEL = 200.0
RIDGE = 1e-14
"""Keeps a step finite where the answers say nothing of a slope, relative to the curvature."""

NO_MAXIMUM = (
    "these answers fix no curve: all may have stopped at once, all or none may have stopped; "
    "more rounds or older bins are needed"
)


@dataclass(frozen=True)
class Intervals:
    """Times known to lie above a lower limit and at or below an upper one.

    Parameters
    ----------
    lower, upper
        Shape (n,): limits of each time; equal where it is known exactly, `upper` infinite
        where it was not yet reached.

    Examples
    --------
    >>> Intervals(np.array([0.0, 6.0]), np.array([3.0, np.inf])).is_exact.tolist()
    [False, False]
    """

    lower: Numbers
    upper: Numbers

    def __post_init__(self) -> None:
        """Refuse limits that no time can lie between."""
        wrong = np.flatnonzero(
            ~(self.lower >= 0.0) | ~(self.upper >= self.lower) | np.isinf(self.lower)
        )
        if wrong.size:
            place = int(wrong[0])
            message = (
                f"{wrong.size} intervals hold no time; the first runs from {self.lower[place]:g} "
                f"to {self.upper[place]:g}"
            )
            raise EstimateError(message)

    @property
    def is_exact(self) -> NDArray[np.bool_]:
        """Shape (n,): whether the time is known exactly."""
        return np.asarray(self.lower == self.upper)

    def of(self, chosen: NDArray[np.bool_]) -> Intervals:
        """Intervals of some of the rows."""
        return Intervals(self.lower[chosen], self.upper[chosen])

    def distinct(self, weights: Numbers) -> tuple[Intervals, Numbers]:
        """Keep each pair of limits once, with the weights of its rows added up.

        Parameters
        ----------
        weights
            Shape (rows, n).
        """
        limits, place = np.unique(np.stack([self.lower, self.upper]), axis=1, return_inverse=True)
        order = np.argsort(place, kind="stable")
        first = np.searchsorted(place[order], np.arange(limits.shape[1]))
        summed = np.add.reduceat(weights[:, order], first, axis=1)
        return Intervals(limits[0], limits[1]), summed


@dataclass(frozen=True)
class Fit:
    """Maximum of the likelihood, by row.

    Parameters
    ----------
    centre
        Logarithm of time at which `level` holds.
    knots
        Logarithms of time at which the slope changes, increasing.
    level
        Shape (rows,).
    slopes
        Shape (rows, 1 + knots).
    log_likelihood
        Shape (rows,), of times, weights as given.
    """

    centre: float
    knots: Numbers
    level: Numbers
    slopes: Numbers
    log_likelihood: Numbers

    @property
    def location(self) -> Numbers:
        """Where the first slope alone would put the middle, shape (rows,)."""
        return np.asarray(self.centre - self.level / self.slopes[:, 0])

    @property
    def scale(self) -> Numbers:
        """One over the first slope, shape (rows,)."""
        return np.asarray(1.0 / self.slopes[:, 0])


def lengths(log_time: Numbers, knots: Numbers) -> Numbers:
    """Way from 0 to each point along each piece between knots, shape (*points, 1 + knots).

    Examples
    --------
    >>> lengths(np.array([-1.0, 3.0]), np.array([1.0])).tolist()
    [[-1.0, 0.0], [1.0, 2.0]]
    """
    edges = np.r_[-np.inf, knots, np.inf]
    reached = np.clip(log_time[..., None], edges[:-1], edges[1:])
    return np.asarray(reached - np.clip(0.0, edges[:-1], edges[1:]))


def fit_log_times(
    intervals: Intervals,
    weights: Numbers,
    family: Family,
    slope_belief: float = 0.0,
    knots: Sequence[float] = (),
) -> Fit:
    """Fit level and slopes of the logarithm of time, all rows of weights together.

    ``z = level + slope log t`` has the family's standard distribution; with knots the slope
    is another in each piece of time, and z has no step. The weighted log likelihood is
    concave in level and slopes for every log-concave family, so damped Newton steps climb to
    the one maximum. Rows after the first begin at its maximum.

    Parameters
    ----------
    intervals
        Shape (n,).
    weights
        Shape (rows, n), none negative.
    family
        `SmallestExtreme` for Weibull times, `Normal` for lognormal ones.
    slope_belief
        Weight, in the unit of `weights`, of a gamma belief about every slope,
        ``log slope - slope``, highest at 1; 0 for none.
    knots
        Times above 0 at which the slope may change, increasing.

    Raises
    ------
    EstimateError
        The likelihood has no maximum: no time has an upper limit, none a lower one, or one
        time agrees with all.

    References
    ----------
    Burridge, J. (1981), Empirical Bayes analysis of survival time data, Journal of the
    Royal Statistical Society B 43, 65-75 (concavity). Kalbfleisch and Prentice (2002),
    chapter 3. Royston, P. and Parmar, M.K.B. (2002), Statistics in Medicine 21, 2175-2197
    (splines of the log cumulative hazard in log time; there cubic, here linear, so that
    every slope above 0 gives a falling curve).
    """
    own, summed = intervals.distinct(weights)
    scaled = summed / summed.sum(axis=1, keepdims=True)
    belief = slope_belief / summed.sum(axis=1)
    with np.errstate(divide="ignore"):
        low, high = np.log(own.lower), np.log(own.upper)
    if np.isneginf(high).any():
        message = "a time of 0 is known exactly; times must lie above 0"
        raise EstimateError(message)
    known = np.where(np.isfinite(low), low, high)
    centre = float(np.average(np.where(np.isfinite(high), (known + high) / 2, known)))
    if slope_belief == 0.0:
        _refuse_agreement(own, scaled)
    log_knots = np.log(np.asarray(knots, dtype=float))
    limits = _Limits.of(low - centre, high - centre, log_knots - centre, own.is_exact)
    start = np.ones((1, 2 + log_knots.size))
    start[:, 0] = 0.0
    first = _Problem(limits, scaled[:1], belief[:1], family).climb(start, SETTLED_DECREMENT)
    rest = _Problem(limits, scaled[1:], belief[1:], family)
    begun = np.repeat(first, scaled.shape[0] - 1, axis=0)
    found = np.vstack([first, rest.climb(begun, SETTLED_DECREMENT_OF_REPLICATES)])
    whole = _Problem(limits, scaled, belief, family)
    exact_log_time = (scaled * np.where(own.is_exact, low, 0.0)).sum(axis=1)
    worth = whole.worth(found) - whole.belief_worth(found) - exact_log_time
    return Fit(centre, log_knots, found[:, 0], found[:, 1:], worth * summed.sum(axis=1))


@dataclass(frozen=True)
class _Limits:
    """Limits of log time about their centre, as rows that multiply (level, slopes).

    Parameters
    ----------
    low, high
        Shape (free, 1 + slopes): limits of the times not known exactly; all 0 where they do
        not move with the slopes, at 0 and infinity.
    low_offset, high_offset
        Shape (free,): 0, and infinite there.
    at
        Shape (exact, 1 + slopes).
    piece
        Shape (exact, 1 + slopes): 1 in the column of the slope at each exact time.
    is_exact
        Shape (n,).
    """

    low: Numbers
    high: Numbers
    low_offset: Numbers
    high_offset: Numbers
    at: Numbers
    piece: Numbers
    is_exact: NDArray[np.bool_]

    @classmethod
    def of(
        cls, low: Numbers, high: Numbers, knots: Numbers, is_exact: NDArray[np.bool_]
    ) -> _Limits:
        def rows(log_time: Numbers) -> tuple[Numbers, Numbers]:
            moves = np.isfinite(log_time)
            away = lengths(np.where(moves, log_time, 0.0), knots)
            return np.c_[np.ones(moves.size), away] * moves[:, None], np.where(moves, 0.0, log_time)

        exact_time = low[is_exact]
        piece = np.zeros((exact_time.size, 2 + knots.size))
        piece[np.arange(exact_time.size), 1 + np.searchsorted(knots, exact_time)] = 1.0
        low_rows, high_rows = rows(low[~is_exact]), rows(high[~is_exact])
        return cls(
            low_rows[0],
            high_rows[0],
            low_rows[1],
            high_rows[1],
            rows(exact_time)[0],
            piece,
            is_exact,
        )


@dataclass(frozen=True)
class _Problem:
    """Limits, weights that add up to 1 in each row, the belief and the family.

    A point is of shape (rows, 1 + slopes): level, then slopes.
    """

    limits: _Limits
    weights: Numbers
    belief: Numbers
    family: Family

    def climb(self, start: Numbers, settled: float) -> Numbers:
        """Go from a point to the maximum of every row."""
        point = start
        if not point.size:
            return point
        worth = self.worth(point)
        for _ in range(MOST_STEPS):
            step, gain = self._newton(point)
            if gain.max() < settled:
                return self._last(point, step)
            damping = _kept_above_nothing(point, step)
            for _ in range(MOST_HALVINGS):
                tried = self.worth(point + damping[:, None] * step)
                # the last bits of a sum carry no verdict
                falls = ~(tried >= worth - 1e-14 * (1.0 + np.abs(worth)))
                if not falls.any():
                    break
                damping[falls] /= 2.0
            point = point + damping[:, None] * step
            worth = tried
            self._refuse_runaway(point)
        message = "the curve of times does not settle; look at the dates of the answers"
        raise EstimateError(message)

    def _last(self, point: Numbers, step: Numbers) -> Numbers:
        last = point + _kept_above_nothing(point, step)[:, None] * step
        return np.asarray(np.where(np.isfinite(last), last, point))

    def worth(self, point: Numbers) -> Numbers:
        """Log likelihood of log time plus the belief, by row."""
        exact = self.limits.is_exact
        with np.errstate(over="ignore", under="ignore", divide="ignore", invalid="ignore"):
            inside = self.family.between(*self._ends(point))[0]
            at = self.family.at(point @ self.limits.at.T)[0]
            sums = np.einsum("rn,rn->r", self.weights[:, ~exact], inside)
            slope_there = np.log(point @ self.limits.piece.T)
            sums += np.einsum("rn,rn->r", self.weights[:, exact], at + slope_there)
        return np.asarray(sums + self.belief_worth(point))

    def belief_worth(self, point: Numbers) -> Numbers:
        """What the belief about the slopes adds, by row."""
        return np.asarray(self.belief * (np.log(point[:, 1:]) - point[:, 1:]).sum(axis=1))

    def _ends(self, point: Numbers) -> tuple[Numbers, Numbers]:
        return (
            point @ self.limits.low.T + self.limits.low_offset,
            point @ self.limits.high.T + self.limits.high_offset,
        )

    def _newton(self, point: Numbers) -> tuple[Numbers, Numbers]:
        """Newton step, shape of the point, and half the squared decrement of each row."""
        gradient, curvature = self._derivatives(point)
        diagonal = np.einsum("rjj->rj", curvature)
        diagonal *= 1.0 + RIDGE
        diagonal += np.finfo(float).tiny
        step = np.linalg.solve(curvature, gradient[:, :, None])[:, :, 0]
        return step, (step * gradient).sum(axis=1) / 2.0

    def _derivatives(self, point: Numbers) -> tuple[Numbers, Numbers]:
        """Gradient, shape (rows, p), and curvature downwards, shape (rows, p, p)."""
        limits, exact = self.limits, self.limits.is_exact
        w, v = self.weights[:, ~exact], self.weights[:, exact]
        with np.errstate(over="ignore", under="ignore", divide="ignore", invalid="ignore"):
            inside = self.family.between(*self._ends(point))
        _, at_low, at_high, low_low, high_high, low_high = (np.nan_to_num(part) for part in inside)
        _, first, second = self.family.at(point @ limits.at.T)
        slope_there = point @ limits.piece.T
        gradient = (
            (w * at_low) @ limits.low
            + (w * at_high) @ limits.high
            + (v * first) @ limits.at
            + (v / slope_there) @ limits.piece
        )
        gradient[:, 1:] += self.belief[:, None] * (1.0 / point[:, 1:] - 1.0)
        curvature = -(
            (w * low_low) @ _products(limits.low, limits.low)
            + (w * high_high) @ _products(limits.high, limits.high)
            + (w * low_high)
            @ (_products(limits.low, limits.high) + _products(limits.high, limits.low))
            + (v * second) @ _products(limits.at, limits.at)
            - (v / slope_there**2) @ _products(limits.piece, limits.piece)
        ).reshape(-1, point.shape[1], point.shape[1])
        of_slopes = np.arange(1, point.shape[1])
        curvature[:, of_slopes, of_slopes] += self.belief[:, None] / point[:, 1:] ** 2
        return gradient, curvature

    def _refuse_runaway(self, point: Numbers) -> None:
        slopes = point[:, 1:]
        runs = (slopes < FLATTEST_SLOPE) | (slopes > STEEPEST_SLOPE)
        if runs.any() or np.any(np.abs(point[:, 0]) > FARTHEST_LEVEL):
            raise EstimateError(NO_MAXIMUM)


def _products(left: Numbers, right: Numbers) -> Numbers:
    """Products of all pairs of columns, shape (n, p²)."""
    return np.asarray((left[:, :, None] * right[:, None, :]).reshape(-1, left.shape[1] ** 2))


def _kept_above_nothing(point: Numbers, step: Numbers) -> Numbers:
    """Length of step at which no slope shrinks below a fifth, shape (rows,)."""
    shrinks = np.maximum(-step[:, 1:], 1e-300)
    allowed = (1.0 - LEAST_SLOPE_KEPT) * point[:, 1:] / shrinks
    return np.asarray(np.minimum(1.0, np.where(step[:, 1:] < 0.0, allowed, 1.0).min(axis=1)))


def _refuse_agreement(intervals: Intervals, weights: Numbers) -> None:
    """Refuse rows of weights in which one time lies in every interval that counts."""
    counts = weights > 0.0
    latest = np.where(counts, intervals.lower, 0.0).max(axis=1)
    soonest = np.where(counts, intervals.upper, np.inf).min(axis=1)
    if np.any(latest <= soonest):
        raise EstimateError(NO_MAXIMUM)
