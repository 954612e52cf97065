"""A Weibull curve of retention through ages of stopping that are known only to lie between."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from planner.arrays import Integers, Numbers
from planner.errors import EstimateError
from planner.messages import say
from planner.survey.calibration import kish_design_effect
from planner.survey.climbing import lengths
from planner.survey.interval_likelihood import Fit, Groups, Intervals, fit_log_times
from planner.survey.retention import Retention
from planner.survey.stopping_season import (
    FEWEST_PIECES,
    SeasonBelief,
    believe_season,
    choose_knots,
)
from planner.units import MONTHS_PER_YEAR

if TYPE_CHECKING:
    from collections.abc import Sequence

    from planner.survey.row_weights import VariedWeights, Weights

WEAK_ANSWERS = 1.0
"""Weight, in answers, of the half-and-half belief that keeps the fit finite."""

SHAPE_BELIEF_ANSWERS = 1.0
"""Weight, in answers, of the belief that shapes are near 1, a constant hazard; the pieces of a
curve share it."""


def _curves(fit: Fit, intervals: Intervals, knots_months: Sequence[float]) -> tuple[Retention, ...]:
    """Curve without a shift, then that of each group."""
    is_out = np.isfinite(intervals.upper)
    whole = Retention(
        fit.level,
        fit.slopes,
        float(np.exp(fit.centre)),
        tuple(knots_months),
        intervals.lower.size,
        int(is_out.sum()),
        float(max(intervals.lower.max(), intervals.upper[is_out].max(initial=0.0))),
    )
    return whole, *(replace(whole, level=fit.level + shift) for shift in fit.shifts.T)


SPREADS = (0.05, 0.1, 0.2, 0.35, 0.5, 0.75, 1.0)
"""Standard deviations of log hazard ratios between groups that are tried."""

BELIEVED_SPREAD = 0.5
"""Half-normal belief about that standard deviation: hazards of groups differ by factors up to
2.7 either way, hardly more."""


@dataclass(frozen=True)
class GroupCurves:
    """Curves of groups that share their shape, partially pooled."""

    curves: tuple[Retention, ...]  # a curve for each group
    spread: float  # standard deviation of the log hazard ratios between groups
    season: SeasonBelief  # seasons of giving up that the answers leave possible


def fit_groups(
    intervals: Intervals,
    group: Integers,
    groups_count: int,
    weights: Weights | VariedWeights,
    rng: np.random.Generator,
    entry_month: Numbers | None = None,
) -> GroupCurves:
    """Fit curves of groups whose hazards are in proportion, each shrunk towards the others.

    One curve for all, and for each group a factor of its hazard; the logarithms of the factors
    are believed to be normal about 0. Their standard deviation is the mean over values tried,
    by their evidence: small groups lean on the others, large ones speak for themselves, and
    the groups' curves together are what all answers say of the town. Where it is known when bins
    were given, ages are those on the clock of a season of giving up, if answers bear one.

    Parameters
    ----------
    intervals
        Shape (n,): ages between which each bin stopped [months].
    group
        Shape (n,): group of each, numbered from 0.
    groups_count
        Groups; one without answers takes the common curve, give or take the spread.
    weights
        Shape (1 + draws_count, n): replicate weights.
    entry_month
        Shape (n,): when each bin was given [months since 1 January]; no season unless said.

    Raises
    ------
    EstimateError
        There is no answer, or the likelihood has no maximum.

    Notes
    -----
    In the likelihood an answer counts one over Kish's design effect, so that unequal weights do
    not pass for more answers. In each replicate the belief is centred at a draw from itself:
    the spread over replicates is then that of the posterior.

    References
    ----------
    Cox, D.R. (1972), Regression models and life-tables, Journal of the Royal Statistical
    Society B 34, 187-220 (hazards in proportion). Hougaard, P. (2000), Analysis of Multivariate
    Survival Data, Springer, chapter 7 (shared random effects). Tierney, L. and Kadane, J.B.
    (1986), Journal of the American Statistical Association 81, 82-86 (evidence by Laplace).
    """
    if intervals.lower.size == 0:
        raise EstimateError(say("estimate.no_use"))
    effect = kish_design_effect(weights[0])
    season, on_clock = SeasonBelief(), [intervals]
    if entry_month is not None:
        slope_belief = SHAPE_BELIEF_ANSWERS / FEWEST_PIECES
        season = believe_season(intervals, entry_month, weights[0], effect, slope_belief)
        on_clock = [one.on_clock(intervals, entry_month) for one in season.seasons]
    central = on_clock[season.central]
    knots_months = choose_knots(central, weights[0])
    tried = [
        _evidence(central, group, groups_count, weights[0][None], knots_months, spread, effect)
        for spread in SPREADS
    ]
    worth = np.exp(np.array(tried) - max(tried))
    spread = float(np.sqrt(np.average(np.square(SPREADS), weights=worth)))
    centre = np.zeros((weights.shape[0], groups_count))
    centre[1:] = rng.normal(0.0, spread, (weights.shape[0] - 1, groups_count))
    groups = Groups(group, groups_count, spread / np.sqrt(effect), centre)
    places = season.draw(weights.shape[0], rng)
    # on one clock alone bins with the same limits are alike, whenever they were given
    when = [] if entry_month is None or len(on_clock) == 1 else [entry_month]
    kinds, summed = intervals.distinct(weights, group, *when)
    fit = _fit_by_season(
        [one.of(kinds) for one in on_clock],
        places,
        (summed, intervals.lower.size),
        rng,
        knots_months,
        replace(groups, code=group[kinds]),
    )
    curves = _curves(fit, intervals, knots_months)[1:]
    if entry_month is not None and season.of_any > 0.0:
        entries = np.bincount(entry_month.astype(int), weights[0], MONTHS_PER_YEAR)
        shares = tuple((entries / entries.sum()).tolist())
        clocks = season.seasons
        curves = tuple(
            replace(curve, seasons=clocks, season_of_row=places, entry_shares=shares)
            for curve in curves
        )
    return GroupCurves(curves, spread, season)


def _fit_by_season(
    on_clock: Sequence[Intervals],
    places: Integers,
    weighed: tuple[Numbers, int],
    rng: np.random.Generator,
    knots_months: Sequence[float],
    groups: Groups,
) -> Fit:
    """Fit rows by the season that each has drawn, and put them together as one fit."""
    weights, n = weighed
    parts = []
    # the central season first: levels of all are told at its reference age
    for place in dict.fromkeys(places.tolist()):
        rows = np.flatnonzero(places == place)
        # the central row leads each part, so that all begin at its maximum
        led = rows if rows[0] == 0 else np.r_[0, rows]
        own = replace(groups, centre=groups.centre[led])
        parts.append((rows, _fit(on_clock[place], weights[led], n, rng, knots_months, own)))
    first = parts[0][1]
    if len(parts) == 1:
        return first
    level, slopes, shifts = (
        np.zeros((places.size, *part.shape[1:]))
        for part in (first.level, first.slopes, first.shifts)
    )
    for rows, fit in parts:
        along = lengths(np.array([first.centre - fit.centre]), fit.knots - fit.centre)[0]
        level[rows] = (fit.level + fit.slopes @ along)[-rows.size :]
        slopes[rows], shifts[rows] = fit.slopes[-rows.size :], fit.shifts[-rows.size :]
    return replace(first, level=level, slopes=slopes, shifts=shifts)


def _fit(
    intervals: Intervals,
    weights: Numbers,
    n: int,
    rng: np.random.Generator,
    knots_months: Sequence[float],
    groups: Groups,
) -> Fit:
    """Fit with the belief, by the weights of n answers."""
    scaled = weights * (n / weights.sum(axis=1, keepdims=True))
    return _fit_believing(*_with_belief(intervals, scaled, rng), knots_months, groups)


def _fit_believing(
    told: Intervals, weights: Numbers, knots_months: Sequence[float], groups: Groups
) -> Fit:
    """Fit answers the last two of which, of no group, are the two half answers of the belief."""
    of_groups = replace(groups, code=np.r_[groups.code, -1, -1])
    shape_belief = SHAPE_BELIEF_ANSWERS / (1 + len(knots_months))
    return fit_log_times(told, weights, shape_belief, knots_months, of_groups)


def _evidence(
    intervals: Intervals,
    group: Integers,
    groups_count: int,
    weights: Numbers,
    knots_months: Sequence[float],
    spread: float,
    design_effect: float,
) -> float:
    """Evidence of a spread between groups, with the belief about it."""
    n = intervals.lower.size
    scaled = weights * (n / weights.sum() / design_effect)
    groups = Groups(group, groups_count, spread, np.zeros((1, groups_count)))
    fit = _fit_believing(*_with_belief(intervals, scaled, None), knots_months, groups)
    return fit.log_evidence - (spread / BELIEVED_SPREAD) ** 2 / 2.0


def _with_belief(
    intervals: Intervals, weights: Numbers, rng: np.random.Generator | None
) -> tuple[Intervals, Numbers]:
    """Add half an answer in use and half an answer out of use at the middle age."""
    seen = np.where(np.isfinite(intervals.upper), intervals.upper, intervals.lower)
    middle = float(np.average(seen, weights=weights[0]))
    if middle <= 0.0:
        raise EstimateError(say("estimate.same_day"))
    belief = np.full((weights.shape[0], 2), WEAK_ANSWERS / 2.0)
    if rng is not None:
        belief[1:] = rng.gamma(WEAK_ANSWERS / 2.0, size=(weights.shape[0] - 1, 2))
    return (
        Intervals(np.r_[intervals.lower, 0.0, middle], np.r_[intervals.upper, middle, np.inf]),
        np.hstack([weights, belief]),
    )
