"""Likelihood of times known to lie in an interval, for many rows of weights at once."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from planner.arrays import Flags, Integers, Numbers
from planner.errors import EstimateError
from planner.messages import say
from planner.survey.climbing import Limits, Problem
from planner.survey.row_weights import summed_by

if TYPE_CHECKING:
    from collections.abc import Sequence

    from planner.survey.row_weights import VariedWeights, Weights


SETTLED_DECREMENT = 1e-14
"""Half the squared Newton decrement per unit of weight: the worth still to be gained."""

SETTLED_DECREMENT_OF_REPLICATES = 1e-10
"""Newton's last step, which is still taken, squares what is left."""


NUMBERS_AT_ONCE = 4_000_000
"""Rows are taken in blocks of matrices of at most so many numbers."""


@dataclass(frozen=True)
class Intervals:
    """Times known to lie above a lower limit and at or below an upper one.

    Examples
    --------
    >>> Intervals(np.array([0.0, 6.0]), np.array([3.0, np.inf])).is_exact.tolist()
    [False, False]
    """

    # shape (n,): limits of each time; equal where it is known exactly, `upper` infinite where it
    # was not yet reached
    lower: Numbers
    upper: Numbers

    def __post_init__(self) -> None:
        """Refuse limits that no time can lie between."""
        wrong = np.flatnonzero(
            ~(self.lower >= 0.0) | ~(self.upper >= self.lower) | np.isinf(self.lower)
        )
        if wrong.size:
            place = int(wrong[0])
            first = {"low": f"{self.lower[place]:g}", "high": f"{self.upper[place]:g}"}
            raise EstimateError(say("estimate.no_time", count=wrong.size, **first))

    @property
    def is_exact(self) -> Flags:
        """Shape (n,): whether the time is known exactly."""
        return np.asarray(self.lower == self.upper)

    def of(self, chosen: Flags | Integers) -> Intervals:
        """Intervals of some of the rows."""
        return Intervals(self.lower[chosen], self.upper[chosen])

    def distinct(
        self, weights: Weights | VariedWeights, *others: Integers | Numbers
    ) -> tuple[Integers, Numbers]:
        """Keep rows once that are alike, with their weights added up.

        Parameters
        ----------
        weights
            Shape (1 + draws_count, n).
        others
            Each of shape (n,): in what rows must be alike besides their limits.

        Returns
        -------
        tuple
            First row of each kind, in the order of limits and others; and the summed weights,
            shape (1 + draws_count, kinds).
        """
        keys = (self.lower, self.upper, *others)
        order = np.lexsort(keys[::-1])
        is_new = np.ones(order.size, dtype=bool)
        is_new[1:] = np.any([key[order[1:]] != key[order[:-1]] for key in keys], axis=0)
        kind = np.empty(order.size, dtype=np.int64)
        kind[order] = np.cumsum(is_new) - 1
        return order[is_new], summed_by(weights, kind, int(is_new.sum()))


@dataclass(frozen=True)
class Groups:
    """Groups whose hazards are believed to differ by factors about 1."""

    code: Integers  # shape (n,): group of each row, numbered from 0; -1 for none
    count: int  # groups; some may have no row
    spread: float  # standard deviation of the belief about the logarithm of a group's factor
    # shape (rows, groups): where each row of weights holds the belief to be centred; 0 in the first
    # row
    centre: Numbers


@dataclass(frozen=True)
class Fit:
    """Maximum of the likelihood, by row."""

    centre: float  # logarithm of time at which `level` holds
    knots: Numbers  # logarithms of time at which the slope changes, increasing
    level: Numbers  # shape (rows,)
    slopes: Numbers  # shape (rows, 1 + knots)
    log_likelihood: Numbers  # shape (rows,), of times, weights as given
    # shape (rows, groups): what is added to z in each group; no column without groups
    shifts: Numbers
    # of the first row: log likelihood and beliefs about groups with level, slopes and shifts
    # integrated out by Laplace's method, but for a constant
    log_evidence: float

    @property
    def location(self) -> Numbers:
        """Where the first slope alone would put the middle, shape (rows,)."""
        return np.asarray(self.centre - self.level / self.slopes[:, 0])

    @property
    def scale(self) -> Numbers:
        """One over the first slope, shape (rows,)."""
        return np.asarray(1.0 / self.slopes[:, 0])


def fit_log_times(
    intervals: Intervals,
    weights: Weights,
    slope_belief: float = 0.0,
    knots: Sequence[float] = (),
    groups: Groups | None = None,
) -> Fit:
    """Fit level and slopes of the logarithm of time, all rows of weights together.

    ``z = level + slope log t`` is the logarithm of the cumulative hazard, so the time is Weibull
    distributed; with knots the slope is another in each piece of time, and z has no step. The
    weighted log likelihood is concave in level and slopes, so damped Newton steps climb to the
    one maximum. Rows after the first begin at its maximum.

    Parameters
    ----------
    intervals
        Shape (n,).
    weights
        Shape (rows, n), none negative.
    slope_belief
        Weight, in the unit of `weights`, of a gamma belief about every slope,
        ``log slope - slope``, highest at 1; 0 for none.
    knots
        Times above 0 at which the slope may change, increasing.
    groups
        Groups of rows with hazards in proportion: z is shifted in each.

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
    code = np.zeros(intervals.lower.size, dtype=np.int64) if groups is None else groups.code
    kinds, summed = intervals.distinct(weights, code)
    own, group = intervals.of(kinds), code[kinds]
    scaled = summed / summed.sum(axis=1, keepdims=True)
    belief = slope_belief / summed.sum(axis=1)
    with np.errstate(divide="ignore"):
        low, high = np.log(own.lower), np.log(own.upper)
    if np.isneginf(high).any():
        raise EstimateError(say("estimate.time_of_zero"))
    known = np.where(np.isfinite(low), low, high)
    centre = float(np.average(np.where(np.isfinite(high), (known + high) / 2, known)))
    if slope_belief == 0.0:
        _refuse_agreement(own, scaled)
    log_knots = np.log(np.asarray(knots, dtype=float))
    count = 0 if groups is None else groups.count
    limits = Limits.of(
        low - centre,
        high - centre,
        log_knots - centre,
        own.is_exact,
        (group[:, None] == np.arange(count)) * 1.0,
    )
    precision = np.zeros(belief.size)
    shift_centre = np.zeros((belief.size, count))
    if groups is not None:
        precision = groups.spread**-2 / summed.sum(axis=1)
        shift_centre = groups.centre
    start = np.zeros((1, 2 + log_knots.size + count))
    start[:, 1 : 2 + log_knots.size] = 1.0

    def problem(rows: slice) -> Problem:
        return Problem(limits, scaled[rows], belief[rows], precision[rows], shift_centre[rows])

    found = np.empty((scaled.shape[0], start.shape[1]))
    worth = np.empty(scaled.shape[0])
    found[:1] = problem(slice(1)).climb(start, SETTLED_DECREMENT)
    step = max(1, NUMBERS_AT_ONCE // scaled.shape[1])
    for begin in range(0, scaled.shape[0], step):
        rows = slice(max(begin, 1), begin + step)
        begun = np.repeat(found[:1], found[rows].shape[0], axis=0)
        found[rows] = problem(rows).climb(begun, SETTLED_DECREMENT_OF_REPLICATES)
        rows = slice(begin, begin + step)
        part = problem(rows)
        worth[rows] = part.worth(found[rows]) - part.belief_worth(found[rows])
    exact_log_time = (scaled * np.where(own.is_exact, low, 0.0)).sum(axis=1)
    whole = problem(slice(1))
    return Fit(
        centre,
        log_knots,
        found[:, 0],
        found[:, whole.slopes],
        (worth - exact_log_time) * summed.sum(axis=1),
        found[:, whole.shifts],
        _evidence(whole, found[:1], float(summed[0].sum()), groups),
    )


def _evidence(problem: Problem, point: Numbers, total: float, groups: Groups | None) -> float:
    """Integrate the likelihood of the first row over its parameters, about the maximum."""
    if groups is None:
        return 0.0
    bend = point.shape[1] * np.log(total) + problem.log_determinant(point)[0]
    belief = groups.count * np.log(groups.spread)
    return float(total * problem.worth(point)[0] - belief - bend / 2.0)


def _refuse_agreement(intervals: Intervals, weights: Numbers) -> None:
    """Refuse rows of weights in which one time lies in every interval that counts."""
    counts = weights > 0.0
    latest = np.where(counts, intervals.lower, 0.0).max(axis=1)
    soonest = np.where(counts, intervals.upper, np.inf).min(axis=1)
    if np.any(latest <= soonest):
        raise EstimateError(say("estimate.no_curve"))
