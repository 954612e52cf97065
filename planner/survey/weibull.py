"""A Weibull curve of retention through ages of stopping that are known only to lie between."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from scipy import special

from planner.errors import EstimateError
from planner.survey.families import SmallestExtreme
from planner.survey.interval_likelihood import Intervals, fit_log_times
from planner.survey.retention import WEAK_ANSWERS, Retention

if TYPE_CHECKING:
    from numpy.typing import NDArray

SHAPE_BELIEF_ANSWERS = 1.0
"""Weight, in answers, of the belief that the shape is near 1, a constant hazard."""


def fit_weibull(
    intervals: Intervals,
    weights: NDArray[np.float64],
    rng: np.random.Generator | None = None,
) -> Retention:
    """Fit a Weibull curve to interval-censored ages, for every row of weights at once.

    Maximum likelihood under survey weights. With a generator, a belief worth one answer is
    added (half in use, half not, at the middle age; shape near 1), drawn anew for each
    replicate, so that answers that all agree still give a curve and an interval.

    Parameters
    ----------
    intervals
        Shape (n,): ages between which each bin stopped [months].
    weights
        Shape (1 + draws_count, n): replicate weights.
    rng
        Draws the belief; None for maximum likelihood alone.

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
    exact one ``w log`` of the density. The belief about the shape k is ``log k - k``.

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
    fit = fit_log_times(told, scaled, SmallestExtreme(), shape_belief)
    is_out = np.isfinite(intervals.upper)
    return Retention(
        np.exp(fit.location),
        1.0 / fit.scale,
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


def active_months(curve: Retention, horizon_months: NDArray[np.float64]) -> NDArray[np.float64]:
    """Mean months in use of a bin up to an age, shape (1 + draws_count, *horizon).

    Parameters
    ----------
    curve
        A Weibull curve.
    horizon_months
        Ages, 0 or more [months]; a cohort's bin-months between two ages are the bins
        given times the difference.

    Notes
    -----
    ``M(H) = ∫₀ᴴ S = scale Γ(1 + 1/k) P(1/k, (H / scale)^k)`` with P the regularised lower
    incomplete gamma function.

    References
    ----------
    Royston, P. and Parmar, M.K.B. (2013), Restricted mean survival time, BMC Medical
    Research Methodology 13, 152.

    Examples
    --------
    >>> constant = Retention(np.array([10.0]), np.array([1.0]), 1, 1, 10.0)
    >>> active_months(constant, np.array([10.0])).round(6).tolist()  # 10 (1 - 1/e)
    [[6.321206]]
    """
    horizon = np.asarray(horizon_months, dtype=float)
    spread = (slice(None), *([None] * horizon.ndim))
    scale, shape = curve.scale_months[spread], curve.shape[spread]
    share = special.gammainc(1.0 / shape, (horizon / scale) ** shape)
    return np.asarray(scale * special.gamma(1.0 + 1.0 / shape) * share)
