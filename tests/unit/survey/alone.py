"""The likelihood of `fit_groups` without groups: published curves know of none.

With it curves of one stated shape, and how far a Turnbull curve is from its maximum.
"""

import numpy as np

from planner.survey.interval_likelihood import fit_log_times
from planner.survey.retention import Retention
from planner.survey.weibull import SHAPE_BELIEF_ANSWERS, _curves, _with_belief


def fit_weibull(intervals, weights, rng=None, knots_months=()):
    """Fit one curve; without a generator by maximum likelihood, without the belief."""
    scaled = weights * (intervals.lower.size / weights.sum(axis=1, keepdims=True))
    told, shape_belief = intervals, 0.0
    if rng is not None:
        told, scaled = _with_belief(intervals, scaled, rng)
        shape_belief = SHAPE_BELIEF_ANSWERS / (1 + len(knots_months))
    fit = fit_log_times(told, scaled, shape_belief, knots_months)
    return _curves(fit, intervals, knots_months)[0]


def weibull_curve(scale_months, shape):
    """Make a curve of one shape from its scale, the age at which 1/e are in use, by draw."""
    scale, shape = np.atleast_1d(scale_months), np.atleast_1d(shape)
    return Retention(-shape * np.log(scale), shape[:, None], 1.0, (), 0, 0, float(scale[0]))


def shape_and_scale(curve, row=0):
    """Read the shape of the first piece, and the age at which 1/e would be in use by it alone."""
    shape = curve.shapes[row, 0]
    return shape, curve.reference_months * np.exp(-curve.level[row] / shape)


def slope_excess(found, seen, weights):
    """Find the greatest slope above 1 per unit of weight: at most 0 at the maximum.

    Gentleman, R. and Geyer, C.J. (1994), Biometrika 81, 618-623, the condition of the maximum.
    """
    is_inside, chance = _inside(found, seen)
    slope = (weights / weights.sum(axis=1, keepdims=True) / chance) @ is_inside
    return slope.max() - 1.0


def log_likelihood(found, seen, weights):
    """Add up the weighted logarithms of the mass inside each answer's interval, by row."""
    return (weights * np.log(_inside(found, seen)[1])).sum(axis=1)


def _inside(found, seen):
    """Tell which intervals with mass lie in each answer's, and how much mass that is by row."""
    # an interval with mass lies inside an answer's if it begins no sooner and ends no later; one
    # that begins where a point answer lies is beyond it
    is_inside = (found.lower >= seen.lower[:, None]) & (found.upper <= seen.upper[:, None])
    is_point = (found.lower == found.upper) & ~seen.is_exact[:, None]
    is_inside &= ~(is_point & (found.lower == seen.lower[:, None]))
    return is_inside, np.maximum(found.mass @ is_inside.T, 1e-300)
