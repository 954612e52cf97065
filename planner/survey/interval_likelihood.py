"""Likelihood of times known to lie in an interval, for many rows of weights at once."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Protocol

import numpy as np
from scipy import special

from planner.errors import EstimateError

if TYPE_CHECKING:
    from numpy.typing import NDArray

MOST_STEPS = 200
MOST_HALVINGS = 40
SETTLED_DECREMENT = 1e-18
"""Half the squared Newton decrement per unit of weight: the worth still to be gained."""

LEAST_SLOPE_KEPT = 0.2
"""A step may shrink the slope to a fifth, never to 0 or below."""

FLATTEST_SLOPE, STEEPEST_SLOPE = 1e-4, 1e4
"""Beyond these the likelihood has no maximum that data could have meant."""

FARTHEST_LEVEL = 200.0
NO_MAXIMUM = (
    "these answers fix no curve: all may have stopped at once, all or none may have stopped; "
    "more rounds or older bins are needed"
)
LOG_ROOT_TWO_PI = 0.5 * np.log(2.0 * np.pi)


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

    lower: NDArray[np.float64]
    upper: NDArray[np.float64]

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

    def distinct(self, weights: NDArray[np.float64]) -> tuple[Intervals, NDArray[np.float64]]:
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


class Family(Protocol):
    """A log-concave standard distribution on the real line."""

    def between(
        self, low: NDArray[np.float64], high: NDArray[np.float64]
    ) -> tuple[NDArray[np.float64], ...]:
        """Logarithm of the chance between limits, its two first and three second derivatives."""
        ...

    def at(self, point: NDArray[np.float64]) -> tuple[NDArray[np.float64], ...]:
        """Logarithm of the density, its first and second derivative."""
        ...


class SmallestExtreme:
    """Logarithm of a Weibull time, standardised."""

    def between(
        self, low: NDArray[np.float64], high: NDArray[np.float64]
    ) -> tuple[NDArray[np.float64], ...]:
        """See `Family`."""
        a, b = np.exp(low), np.exp(np.minimum(high, 700.0))
        rest = -np.expm1(a - b)
        at_low, at_high = -a / rest, b * np.exp(a - b) / rest
        return (
            -a + np.log(rest),
            at_low,
            at_high,
            (a - 1.0) * -at_low - at_low**2,
            (1.0 - b) * at_high - at_high**2,
            -at_low * at_high,
        )

    def at(self, point: NDArray[np.float64]) -> tuple[NDArray[np.float64], ...]:
        """See `Family`."""
        hazard = np.exp(point)
        return point - hazard, 1.0 - hazard, -hazard


class Normal:
    """Logarithm of a lognormal time, standardised."""

    def between(
        self, low: NDArray[np.float64], high: NDArray[np.float64]
    ) -> tuple[NDArray[np.float64], ...]:
        """See `Family`."""
        turned = low > 0.0
        a, b = np.where(turned, -high, low), np.where(turned, -low, high)
        top = special.log_ndtr(b)
        chance = top + np.log(-np.expm1(special.log_ndtr(a) - top))
        at_low = -np.exp(-0.5 * low**2 - LOG_ROOT_TWO_PI - chance)
        at_high = np.exp(-0.5 * high**2 - LOG_ROOT_TWO_PI - chance)
        finite_low = np.where(np.isfinite(low), low, 0.0)
        finite_high = np.where(np.isfinite(high), high, 0.0)
        return (
            chance,
            at_low,
            at_high,
            -finite_low * at_low - at_low**2,
            -finite_high * at_high - at_high**2,
            -at_low * at_high,
        )

    def at(self, point: NDArray[np.float64]) -> tuple[NDArray[np.float64], ...]:
        """See `Family`."""
        return -0.5 * point**2 - LOG_ROOT_TWO_PI, -point, -np.ones_like(point)


@dataclass(frozen=True)
class Fit:
    """Maximum of the likelihood, by row.

    Parameters
    ----------
    location, scale
        Shape (rows,): of the logarithm of time.
    log_likelihood
        Shape (rows,), of times, weights as given.
    """

    location: NDArray[np.float64]
    scale: NDArray[np.float64]
    log_likelihood: NDArray[np.float64]


def fit_log_times(
    intervals: Intervals,
    weights: NDArray[np.float64],
    family: Family,
    slope_belief: float = 0.0,
) -> Fit:
    """Fit location and scale of the logarithm of time, all rows of weights together.

    With ``z = level + slope log t`` the weighted log likelihood is concave in level and
    slope for every log-concave family, so damped Newton steps climb to the one maximum.

    Parameters
    ----------
    intervals
        Shape (n,).
    weights
        Shape (rows, n), none negative.
    family
        `SmallestExtreme` for Weibull times, `Normal` for lognormal ones.
    slope_belief
        Weight, in the unit of `weights`, of a gamma belief about the slope,
        ``log slope - slope``, highest at 1; 0 for none.

    Raises
    ------
    EstimateError
        The likelihood has no maximum: no time has an upper limit, none a lower one, or one
        time agrees with all.

    References
    ----------
    Burridge, J. (1981), Empirical Bayes analysis of survival time data, Journal of the
    Royal Statistical Society B 43, 65-75 (concavity). Kalbfleisch and Prentice (2002),
    chapter 3.
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
    problem = _Problem(low - centre, high - centre, own.is_exact, scaled, belief, family)
    level, slope = problem.climb()
    exact_log_time = (scaled * np.where(own.is_exact, low, 0.0)).sum(axis=1)
    worth = problem.worth(level, slope) - belief * (np.log(slope) - slope) - exact_log_time
    return Fit(centre - level / slope, 1.0 / slope, worth * summed.sum(axis=1))


@dataclass(frozen=True)
class _Problem:
    """Limits of log time about their centre, weights that add up to 1, and the family."""

    low: NDArray[np.float64]
    high: NDArray[np.float64]
    is_exact: NDArray[np.bool_]
    weights: NDArray[np.float64]
    belief: NDArray[np.float64]
    family: Family

    def climb(self) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        rows = self.weights.shape[0]
        level, slope = np.zeros(rows), np.ones(rows)
        worth = self.worth(level, slope)
        for _ in range(MOST_STEPS):
            step, gain = self._newton(level, slope)
            if gain.max() < SETTLED_DECREMENT:
                return level, slope
            damping = np.where(
                step[1] < 0.0,
                np.minimum(1.0, (1.0 - LEAST_SLOPE_KEPT) * slope / np.maximum(-step[1], 1e-300)),
                1.0,
            )
            for _ in range(MOST_HALVINGS):
                tried = self.worth(level + damping * step[0], slope + damping * step[1])
                # the last bits of a sum carry no verdict
                falls = ~(tried >= worth - 1e-14 * (1.0 + np.abs(worth)))
                if not falls.any():
                    break
                damping[falls] /= 2.0
            level, slope = level + damping * step[0], slope + damping * step[1]
            worth = tried
            self._refuse_runaway(level, slope)
        message = "the curve of times does not settle; look at the dates of the answers"
        raise EstimateError(message)

    def worth(self, level: NDArray[np.float64], slope: NDArray[np.float64]) -> NDArray[np.float64]:
        """Log likelihood of log time plus the belief, by row."""
        free, exact = ~self.is_exact, self.is_exact
        with np.errstate(over="ignore", under="ignore", divide="ignore", invalid="ignore"):
            inside = self.family.between(*self._limits(level, slope, free))[0]
            at = self.family.at(level[:, None] + slope[:, None] * self.low[exact])[0]
        sums = (self.weights[:, free] * inside).sum(axis=1)
        sums += (self.weights[:, exact] * (at + np.log(slope)[:, None])).sum(axis=1)
        return np.asarray(sums + self.belief * (np.log(slope) - slope))

    def _limits(
        self, level: NDArray[np.float64], slope: NDArray[np.float64], chosen: NDArray[np.bool_]
    ) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        return (
            level[:, None] + slope[:, None] * self.low[chosen],
            level[:, None] + slope[:, None] * self.high[chosen],
        )

    def _newton(
        self, level: NDArray[np.float64], slope: NDArray[np.float64]
    ) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Newton step, shape (2, rows), and half the squared decrement of each row."""
        gradient, curvature = self._derivatives(level, slope)
        a, b, c = curvature
        determinant = np.maximum(a * c - b * b, 1e-14 * a * c + 1e-300)
        step = np.stack(
            [
                (c * gradient[0] - b * gradient[1]) / determinant,
                (a * gradient[1] - b * gradient[0]) / determinant,
            ]
        )
        return step, (step * gradient).sum(axis=0) / 2.0

    def _derivatives(
        self, level: NDArray[np.float64], slope: NDArray[np.float64]
    ) -> tuple[NDArray[np.float64], tuple[NDArray[np.float64], ...]]:
        free, exact = ~self.is_exact, self.is_exact
        # a limit at 0 or infinity does not move with the slope
        low = np.where(np.isfinite(self.low[free]), self.low[free], 0.0)
        high = np.where(np.isfinite(self.high[free]), self.high[free], 0.0)
        with np.errstate(over="ignore", under="ignore", divide="ignore", invalid="ignore"):
            inside = self.family.between(*self._limits(level, slope, free))
        _, at_low, at_high, low_low, high_high, low_high = (np.nan_to_num(part) for part in inside)
        x = self.low[exact]
        _, first, second = self.family.at(level[:, None] + slope[:, None] * x)
        w, v = self.weights[:, free], self.weights[:, exact]
        pull = v.sum(axis=1) + self.belief
        gradient = np.stack(
            [
                (w * (at_low + at_high)).sum(axis=1) + (v * first).sum(axis=1),
                (w * (at_low * low + at_high * high)).sum(axis=1)
                + (v * first * x).sum(axis=1)
                + pull / slope
                - self.belief,
            ]
        )
        bend = low_low + 2.0 * low_high + high_high
        cross = low_low * low + low_high * (low + high) + high_high * high
        across = low_low * low**2 + 2.0 * low_high * low * high + high_high * high**2
        return gradient, (
            -(w * bend).sum(axis=1) - (v * second).sum(axis=1),
            -(w * cross).sum(axis=1) - (v * second * x).sum(axis=1),
            -(w * across).sum(axis=1) - (v * second * x**2).sum(axis=1) + pull / slope**2,
        )

    def _refuse_runaway(self, level: NDArray[np.float64], slope: NDArray[np.float64]) -> None:
        runs = (slope < FLATTEST_SLOPE) | (slope > STEEPEST_SLOPE)
        if np.any(runs | (np.abs(level) > FARTHEST_LEVEL)):
            raise EstimateError(NO_MAXIMUM)


def _refuse_agreement(intervals: Intervals, weights: NDArray[np.float64]) -> None:
    """Refuse rows of weights in which one time lies in every interval that counts."""
    counts = weights > 0.0
    latest = np.where(counts, intervals.lower, 0.0).max(axis=1)
    soonest = np.where(counts, intervals.upper, np.inf).min(axis=1)
    if np.any(latest <= soonest):
        raise EstimateError(NO_MAXIMUM)
