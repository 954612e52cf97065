"""The likelihood of `fit_groups` without groups: published curves know of none."""

from planner.survey.interval_likelihood import fit_log_times
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
