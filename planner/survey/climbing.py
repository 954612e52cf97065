"""Newton's climb to the maximum of the Weibull likelihood, many rows of weights at once."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from planner.arrays import Flags, Numbers
from planner.errors import EstimateError
from planner.messages import say

MOST_STEPS = 200
MOST_HALVINGS = 40
LEAST_SLOPE_KEPT = 0.2
"""A step may shrink a slope to a fifth, never to 0 or below."""

FLATTEST_SLOPE, STEEPEST_SLOPE = 1e-4, 1e4
"""Beyond these the likelihood has no maximum that data could have meant."""

FARTHEST_LEVEL = 200.0
RIDGE = 1e-14
"""Keeps a step finite where the answers say nothing of a slope, relative to the curvature."""

LARGEST_EXPONENT = 700.0
"""A double overflows beyond it; the chance is 0 long before."""


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


@dataclass(frozen=True)
class Limits:
    """Limits of log time about their centre, as rows that multiply a point."""

    # shape (between, 1 + slopes): limits of the times that lie between two; `low` is all 0 where it
    # is time 0, which does not move with the slopes
    low: Numbers
    high: Numbers
    low_offset: Numbers  # shape (between,): minus infinity there, else 0
    # the same of the lower limits of times not yet reached
    beyond: Numbers
    beyond_offset: Numbers
    at: Numbers  # shape (exact, 1 + slopes)
    piece: Numbers  # shape (exact, 1 + slopes): 1 in the column of the slope at each exact time
    # where the times between, beyond and exact stand among all
    columns: tuple[Flags, Flags, Flags]

    @classmethod
    def of(
        cls, low: Numbers, high: Numbers, knots: Numbers, exact: Flags, member: Numbers
    ) -> Limits:
        """Sort times by what is known of them: logarithms of limits, which are exact, groups."""
        beyond = np.isposinf(high)
        between = ~exact & ~beyond
        piece = np.zeros((int(exact.sum()), 2 + knots.size + member.shape[1]))
        piece[np.arange(piece.shape[0]), 1 + np.searchsorted(knots, low[exact])] = 1.0
        low_rows, low_offset = _rows(low[between], knots, member[between])
        beyond_rows, beyond_offset = _rows(low[beyond], knots, member[beyond])
        return cls(
            low_rows,
            _rows(high[between], knots, member[between])[0],
            low_offset,
            beyond_rows,
            beyond_offset,
            _rows(low[exact], knots, member[exact])[0],
            piece,
            (between, beyond, exact),
        )


def _rows(log_time: Numbers, knots: Numbers, member: Numbers) -> tuple[Numbers, Numbers]:
    """Rows that multiply (level, slopes, shifts), and what is added where time is 0."""
    moves = np.isfinite(log_time)
    away = lengths(np.where(moves, log_time, 0.0), knots)
    rows = np.c_[np.ones(moves.size), away, member] * moves[:, None]
    return rows, np.where(moves, 0.0, log_time)


@dataclass(frozen=True)
class Problem:
    """Limits, weights that add up to 1 in each row, and the beliefs.

    A point is of shape (rows, 1 + slopes + groups): level, slopes, shifts of the groups. What is
    believed of a shift is normal: `shift_precision` of shape (rows,), per unit of weight, about
    `shift_centre` of shape (rows, groups).
    """

    limits: Limits
    weights: Numbers
    belief: Numbers
    shift_precision: Numbers
    shift_centre: Numbers

    @property
    def slopes(self) -> slice:
        """Columns of a point that hold the slopes."""
        groups = self.shift_centre.shape[1]
        return slice(1, self.limits.low.shape[1] - groups)

    @property
    def shifts(self) -> slice:
        """Columns of a point that hold the shifts of the groups."""
        return slice(self.slopes.stop, self.limits.low.shape[1])

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
            damping = self._kept_above_nothing(point, step)
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
        raise EstimateError(say("estimate.unsettled"))

    def _last(self, point: Numbers, step: Numbers) -> Numbers:
        last = point + self._kept_above_nothing(point, step)[:, None] * step
        return np.asarray(np.where(np.isfinite(last), last, point))

    def worth(self, point: Numbers) -> Numbers:
        """Log likelihood of log time plus the belief, by row."""
        limits = self.limits
        between, beyond, exact = (self.weights[:, chosen] for chosen in limits.columns)
        with np.errstate(over="ignore", under="ignore", divide="ignore", invalid="ignore"):
            parts = (
                (between, _between(*self._ends(point))[0]),
                (beyond, _beyond(self._start(point))[0]),
                (exact, _at(point @ limits.at.T)[0] + np.log(point @ limits.piece.T)),
            )
            sums = np.stack([np.einsum("rn,rn->r", weight, inside) for weight, inside in parts])
        return np.asarray(sums.sum(axis=0) + self.belief_worth(point))

    def belief_worth(self, point: Numbers) -> Numbers:
        """Add up what the beliefs about slopes and shifts are worth, by row."""
        slopes, away = point[:, self.slopes], point[:, self.shifts] - self.shift_centre
        of_shifts = self.shift_precision * (away**2).sum(axis=1) / 2.0
        return np.asarray(self.belief * (np.log(slopes) - slopes).sum(axis=1) - of_shifts)

    def log_determinant(self, point: Numbers) -> Numbers:
        """Logarithm of the determinant of the curvature downwards at a point, by row."""
        return np.asarray(np.linalg.slogdet(self._derivatives(point)[1])[1])

    def _ends(self, point: Numbers) -> tuple[Numbers, Numbers]:
        return point @ self.limits.low.T + self.limits.low_offset, point @ self.limits.high.T

    def _start(self, point: Numbers) -> Numbers:
        return np.asarray(point @ self.limits.beyond.T + self.limits.beyond_offset)

    def _newton(self, point: Numbers) -> tuple[Numbers, Numbers]:
        """Newton step, shape of the point, and half the squared decrement of each row."""
        gradient, curvature = self._derivatives(point)
        diagonal = np.einsum("rjj->rj", curvature)
        diagonal *= 1.0 + RIDGE
        diagonal += np.finfo(float).tiny
        step = np.asarray(np.linalg.solve(curvature, gradient[:, :, None])[:, :, 0], dtype=float)
        return step, (step * gradient).sum(axis=1) / 2.0

    def _derivatives(self, point: Numbers) -> tuple[Numbers, Numbers]:
        """Gradient, shape (rows, p), and curvature downwards, shape (rows, p, p)."""
        size = point.shape[1]
        with np.errstate(over="ignore", under="ignore", divide="ignore", invalid="ignore"):
            parts = (self._of_between(point), self._of_beyond(point), self._of_exact(point))
        gradient = np.stack([slope for slope, _ in parts]).sum(axis=0)
        slopes, away = point[:, self.slopes], point[:, self.shifts] - self.shift_centre
        gradient[:, self.slopes] += self.belief[:, None] * (1.0 / slopes - 1.0)
        gradient[:, self.shifts] -= self.shift_precision[:, None] * away
        curvature = -np.stack([bend for _, bend in parts]).sum(axis=0).reshape(-1, size, size)
        of_slopes, of_shifts = np.arange(size)[self.slopes], np.arange(size)[self.shifts]
        curvature[:, of_slopes, of_slopes] += self.belief[:, None] / slopes**2
        curvature[:, of_shifts, of_shifts] += self.shift_precision[:, None]
        return gradient, curvature

    def _of_between(self, point: Numbers) -> tuple[Numbers, Numbers]:
        low, high = self.limits.low, self.limits.high
        _, at_low, at_high, low_low, high_high, low_high = (
            self.weights[:, self.limits.columns[0]] * np.nan_to_num(part)
            for part in _between(*self._ends(point))
        )
        bend = low_low @ _products(low, low) + high_high @ _products(high, high)
        bend += low_high @ (_products(low, high) + _products(high, low))
        return at_low @ low + at_high @ high, bend

    def _of_beyond(self, point: Numbers) -> tuple[Numbers, Numbers]:
        rows, weight = self.limits.beyond, self.weights[:, self.limits.columns[1]]
        _, first, second = _beyond(self._start(point))
        return (weight * first) @ rows, (weight * second) @ _products(rows, rows)

    def _of_exact(self, point: Numbers) -> tuple[Numbers, Numbers]:
        rows, piece = self.limits.at, self.limits.piece
        weight = self.weights[:, self.limits.columns[2]]
        _, first, second = _at(point @ rows.T)
        slope_there = point @ piece.T
        gradient = (weight * first) @ rows + (weight / slope_there) @ piece
        bend = (weight * second) @ _products(rows, rows)
        return gradient, bend - (weight / slope_there**2) @ _products(piece, piece)

    def _refuse_runaway(self, point: Numbers) -> None:
        slopes = point[:, self.slopes]
        runs = (slopes < FLATTEST_SLOPE) | (slopes > STEEPEST_SLOPE)
        if runs.any() or np.any(np.abs(point[:, 0]) > FARTHEST_LEVEL):
            raise EstimateError(say("estimate.no_curve"))

    def _kept_above_nothing(self, point: Numbers, step: Numbers) -> Numbers:
        """Length of step at which no slope shrinks below a fifth, shape (rows,)."""
        slopes, change = point[:, self.slopes], step[:, self.slopes]
        allowed = (1.0 - LEAST_SLOPE_KEPT) * slopes / np.maximum(-change, 1e-300)
        return np.asarray(np.minimum(1.0, np.where(change < 0.0, allowed, 1.0).min(axis=1)))


def _products(left: Numbers, right: Numbers) -> Numbers:
    """Products of all pairs of columns, shape (n, p²)."""
    return np.asarray((left[:, :, None] * right[:, None, :]).reshape(-1, left.shape[1] ** 2))


def _between(low: Numbers, high: Numbers) -> tuple[Numbers, ...]:
    """Logarithm of the chance between limits, its two first and three second derivatives.

    Of the smallest extreme value: the logarithm of a Weibull time, standardised.
    """
    a, b = np.exp(low), np.exp(np.minimum(high, LARGEST_EXPONENT))
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


def _beyond(low: Numbers) -> tuple[Numbers, ...]:
    """Logarithm of the chance above a limit, its first and second derivative."""
    fallen = -np.exp(low)
    return fallen, fallen, fallen


def _at(point: Numbers) -> tuple[Numbers, ...]:
    """Logarithm of the density, its first and second derivative."""
    hazard = np.exp(point)
    return point - hazard, 1.0 - hazard, -hazard
