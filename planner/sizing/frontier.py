"""Around the plan: the frontier along the budget, what limits are worth, bins for a target.

An integer program has no dual prices, so the worth of a limit is found by giving it one
step and solving again. Both solutions may split bins: the difference between two plans of
whole bins would be mostly that of two roundings.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from planner.arrays import Integers, Numbers
from planner.sizing.allocation import (
    LEAST_COST,
    MOST_TONNES,
    RELATIVE_GAP,
    NoPlanError,
    allocate,
    allocate_split,
    least_cost_of,
    limit_on,
    total_row,
    with_target,
)

if TYPE_CHECKING:
    from collections.abc import Callable

    from planner.sizing.allocation import Allocation, Limit, Problem

POINTS = 12
"""Budgets at which the frontier is solved."""

SEARCH_GAP = 1e-3
"""Relative gap of the plans that are tried while bins for a target are searched."""

SLIGHTLY_LESS = 1.0 - 1e-6
MOST_STEP_SHARE = 0.02
"""The next tonne is priced in steps of at most this share of the plan's tonnes."""


@dataclass(frozen=True)
class Frontier:
    """Most tonnes for each amount of money, each array of shape (points,)."""

    # cost of the bins, without what is spent however many are given [currency]
    cost: Numbers
    tonnes: Numbers  # best estimate, over the horizon [t]
    bins_count: Integers
    # cost of a further tonne between a point and the one before it [currency/t]
    marginal_cost_per_t: Numbers


def frontier(
    problem: Problem,
    plan: Allocation,
    valued: Callable[[Allocation], tuple[float, float]],
    relative_gap: float = RELATIVE_GAP,
) -> Frontier:
    """Solve the allocation for amounts of money from nothing to all that helps.

    Parameters
    ----------
    valued
        Gives what bins come to, tonnes [t] and cost [currency]: as the plan itself is valued, so
        that the same bins have the same tonnes wherever they are printed.
    """
    most = allocate(problem, MOST_TONNES, relative_gap)
    saturated = with_target(problem, most.tonnes * SLIGHTLY_LESS)
    enough = allocate(saturated, LEAST_COST, relative_gap).cost
    amounts = np.linspace(0.0, enough, POINTS)
    tried = [_within(problem, problem.choices.cost, money, relative_gap) for money in amounts]
    plans = [plan, *(one for one in tried if one)]
    tonnes, cost = np.array([valued(one) for one in plans]).T
    bins = np.array([one.bins_count for one in plans])
    order = np.lexsort((-tonnes, cost))
    # a plan that costs more and keeps no more out is no point of the frontier
    _, first = np.unique(np.maximum.accumulate(tonnes[order]), return_index=True)
    shown = order[first]
    marginal = np.full(shown.size, np.nan)
    marginal[1:] = np.diff(cost[shown]) / np.diff(tonnes[shown])
    return Frontier(cost[shown], tonnes[shown], bins[shown], marginal)


def next_tonne_cost(problem: Problem, tonnes: float) -> float | None:
    """Cost of one more tonne beyond so many, [currency/t]; None where none can be had.

    An integer program has no dual prices: the least cost of a little more is solved for, and
    that of as much as there is. Both may split bins, so that the difference is no rounding.
    """
    step = min(1.0, MOST_STEP_SHARE * tonnes) if tonnes > 0.0 else 1.0
    more, now = least_cost_of(problem, tonnes + step), least_cost_of(problem, tonnes)
    return (more - now) / step if np.isfinite(more) and np.isfinite(now) else None


def _within(
    problem: Problem, counted: Numbers, most: float, relative_gap: float
) -> Allocation | None:
    """Keep most out with no more than so much of what is counted of each bin; None if none does."""
    limit = limit_on("most", "", total_row(counted), high=most)
    try:
        return allocate(problem.with_limits(limit), MOST_TONNES, relative_gap)
    except NoPlanError:
        return None


@dataclass(frozen=True)
class Worth:
    """What one step of a binding limit is worth."""

    limit: Limit
    # change of the plan's expected sums when every row with less room gives way by one step
    tonnes: float
    cost: float


def binding_limits(problem: Problem, plan: Allocation) -> tuple[Limit, ...]:
    """Limits of which a row has less room than one step.

    A share's limit is measured in bins: it binds where one bin fewer would break it.
    """
    return tuple(
        limit
        for limit in problem.limits
        if (limit.slack(plan.bins) < (1.0 if limit.share is not None else limit.step) - 1e-9).any()
    )


def worth_of_limits(problem: Problem, plan: Allocation, objective: str) -> tuple[Worth, ...]:
    """Give each binding limit of a plan one step in turn, solve again and compare."""
    now = allocate_split(problem, objective)
    found = []
    for limit in binding_limits(problem, plan):
        eased = allocate_split(problem.with_limits(limit.relaxed()), objective)
        found.append(Worth(limit, eased.tonnes - now.tonnes, eased.cost - now.cost))
    return tuple(found)


@dataclass(frozen=True)
class Needed:
    """Answer to how many bins keep so many tonnes out in one year, as surely as wished."""

    # fewest bins that do, spread as the plan would spread so many; None where no number does
    bins_count: int | None
    chance: float  # chance with so many bins, or the best that can be had
    most_bins_count: int  # bins of that best


def chance_of(tonnes: Numbers, target_t: float) -> float:
    """Share of the replicates that reach a target.

    Parameters
    ----------
    tonnes
        Shape (1 + draws,): the central value first [t].

    Examples
    --------
    >>> chance_of(np.array([9.0, 1.0, 2.0, 3.0, 4.0]), 3.0)
    0.5
    """
    return float((tonnes[1:] >= target_t).mean())


def bins_needed(
    problem: Problem, tonnes_of: Callable[[Allocation], Numbers], target_t: float, confidence: float
) -> Needed:
    """Find the fewest bins that reach a target with the wished confidence.

    Parameters
    ----------
    tonnes_of
        Gives the draws of the target year's tonnes of an allocation, (1 + draws,).

    Notes
    -----
    By halving the range of bins; each number of bins is placed where it keeps most out.
    """
    best = allocate(problem, MOST_TONNES, SEARCH_GAP)
    chance = chance_of(tonnes_of(best), target_t)
    most = best.bins_count
    if chance < confidence:
        return Needed(None, chance, most)
    few, enough = -1, most
    while enough - few > 1:
        middle = (few + enough) // 2
        tried = _within(problem, np.ones(problem.choices.count), middle, SEARCH_GAP)
        own = 0.0 if tried is None else chance_of(tonnes_of(tried), target_t)
        if tried is not None and own >= confidence:
            enough, chance = middle, own
        else:
            few = middle
    return Needed(enough, chance, most)
