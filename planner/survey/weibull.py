"""A Weibull curve of retention through ages of stopping that are known only to lie between."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from planner.errors import EstimateError
from planner.survey.interval_likelihood import Intervals, fit_log_times
from planner.survey.retention import Retention

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

WEAK_ANSWERS = 1.0
"""Weight, in answers, of the half-and-half belief that keeps the fit finite."""

SHAPE_BELIEF_ANSWERS = 1.0
"""Weight, in answers, of the belief that a shape is near 1, a constant hazard."""

LEAST_STOPPED_IN_PIECE = 10
"""A piece of the curve has a shape of its own with so many ages of stopping."""

PIECES = 3
"""Giving up early, settling and giving up late need no more than three."""


def choose_knots(intervals: Intervals, weights: NDArray[np.float64]) -> tuple[float, ...]:
    """Ages at which the curve's shape may change: at thirds of the ages of stopping.

    With thirty bins known to have stopped, ten a piece, the weighted thirds of their ages
    (the middle of what is known); with fewer none, which leaves a Weibull curve. Bins never
    set up, given up in the first months and given up later do not follow one shape.

    Parameters
    ----------
    intervals
        Shape (n,): ages between which each bin stopped [months].
    weights
        Shape (n,).

    References
    ----------
    Royston, P. and Parmar, M.K.B. (2002), Statistics in Medicine 21, 2175-2197 (knots at
    quantiles of the times that are known). Ten a piece: common practice, no source.

    Examples
    --------
    >>> seen = Intervals(np.arange(60.0), np.arange(60.0) + 2.0)
    >>> choose_knots(seen, np.ones(60))
    (20.0, 40.0)
    >>> choose_knots(seen, np.zeros(60))
    ()
    """
    is_out = np.isfinite(intervals.upper) & (weights > 0.0)
    if is_out.sum() < PIECES * LEAST_STOPPED_IN_PIECE:
        return ()
    middle = (intervals.lower[is_out] + intervals.upper[is_out]) / 2.0
    order = np.argsort(middle, kind="stable")
    reached = np.cumsum(weights[is_out][order])
    places = np.searchsorted(reached, reached[-1] * np.arange(1, PIECES) / PIECES - 1e-9)
    return tuple(float(age) for age in np.unique(middle[order][places]) if age > 0.0)


def fit_weibull(
    intervals: Intervals,
    weights: NDArray[np.float64],
    rng: np.random.Generator | None = None,
    knots_months: Sequence[float] = (),
) -> Retention:
    """Fit a Weibull curve to interval-censored ages, for every row of weights at once.

    Maximum likelihood under survey weights. With a generator, a belief worth one answer is
    added (half in use, half not, at the middle age; each shape near 1), drawn anew for each
    replicate, so that answers that all agree still give a curve and an interval.

    Parameters
    ----------
    intervals
        Shape (n,): ages between which each bin stopped [months].
    weights
        Shape (1 + draws_count, n): replicate weights.
    rng
        Draws the belief; None for maximum likelihood alone.
    knots_months
        Ages at which the shape may change, increasing [months]; see `choose_knots`.

    Returns
    -------
    Retention

    Raises
    ------
    EstimateError
        There is no answer, or the likelihood has no maximum.

    Notes
    -----
    ``S(a) = exp(-(a / scale)^shape)``; an age in (L, R] counts ``w log(S(L) - S(R))``, an
    exact one ``w log`` of the density. The belief about a shape k is ``log k - k``.

    References
    ----------
    Kalbfleisch, J.D. and Prentice, R.L. (2002), The Statistical Analysis of Failure Time
    Data, 2nd ed., Wiley, chapter 3.

    Examples
    --------
    >>> seen = Intervals(np.array([0.0, 12.0]), np.array([12.0, np.inf]))
    >>> curve = fit_weibull(seen, np.ones((1, 2)), np.random.default_rng(1))
    >>> curve.in_use_share(np.array([12.0])).round(3).tolist()
    [[0.5]]
    """
    n = intervals.lower.size
    if n == 0:
        message = "no answer says when a bin was in use or out of use; load a follow-up round"
        raise EstimateError(message)
    scaled = weights * (n / weights.sum(axis=1, keepdims=True))
    told, shape_belief = intervals, 0.0
    if rng is not None:
        told, scaled = _with_belief(intervals, scaled, rng)
        shape_belief = SHAPE_BELIEF_ANSWERS
    fit = fit_log_times(told, scaled, shape_belief, knots_months)
    is_out = np.isfinite(intervals.upper)
    return Retention(
        fit.level,
        fit.slopes,
        float(np.exp(fit.centre)),
        tuple(knots_months),
        n,
        int(is_out.sum()),
        float(max(intervals.lower.max(), intervals.upper[is_out].max(initial=0.0))),
    )


def _with_belief(
    intervals: Intervals, weights: NDArray[np.float64], rng: np.random.Generator
) -> tuple[Intervals, NDArray[np.float64]]:
    """Add half an answer in use and half an answer out of use at the middle age."""
    seen = np.where(np.isfinite(intervals.upper), intervals.upper, intervals.lower)
    middle = float(np.average(seen, weights=weights[0]))
    if middle <= 0.0:
        message = "every answer was given on the day of the hand-over; ask again later"
        raise EstimateError(message)
    belief = np.full((weights.shape[0], 2), WEAK_ANSWERS / 2.0)
    belief[1:] = rng.gamma(WEAK_ANSWERS / 2.0, size=(weights.shape[0] - 1, 2))
    return (
        Intervals(np.r_[intervals.lower, 0.0, middle], np.r_[intervals.upper, middle, np.inf]),
        np.hstack([weights, belief]),
    )
