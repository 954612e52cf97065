"""The frontier: most tonnes along the budget, and what the next tonne costs."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from planner.sizing.allocation import (
    RELATIVE_GAP,
    NoPlanError,
    allocate,
    least_cost_of,
    with_target,
)
from planner.sizing.problem import LEAST_COST, MOST_TONNES, at_most, total_row

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from planner.sizing.allocation import Allocation
    from planner.sizing.problem import Problem

POINTS = 12
"""Budgets at which the frontier is solved."""

SLIGHTLY_LESS = 1.0 - 1e-6
MOST_STEP_SHARE = 0.02
"""The next tonne is priced in steps of at most this share of the plan's tonnes."""


@dataclass(frozen=True)
class Frontier:
    """Most expected tonnes for each amount of money, each array of shape (points,).

    Parameters
    ----------
    cost
        Cost of the bins, without what is spent however many are given [currency].
    tonnes
        Expected, over the horizon [t].
    bins_count
        Bins given.
    marginal_cost_per_t
        Cost of a further tonne between a point and the one before it [currency/t].
    """

    cost: NDArray[np.float64]
    tonnes: NDArray[np.float64]
    bins_count: NDArray[np.int64]
    marginal_cost_per_t: NDArray[np.float64]


def frontier(problem: Problem, own_cost: float, relative_gap: float = RELATIVE_GAP) -> Frontier:
    """Solve the allocation for amounts of money from nothing to all that helps.

    Parameters
    ----------
    problem
        Choices and limits without those of money.
    own_cost
        Cost of the bins of the chosen plan, which is one of the points [currency].
    relative_gap
        Of every solution.
    """
    most = allocate(problem, MOST_TONNES, relative_gap)
    saturated = with_target(problem, most.tonnes * SLIGHTLY_LESS)
    enough = allocate(saturated, LEAST_COST, relative_gap).cost
    budgets = np.unique(np.append(np.linspace(0.0, enough, POINTS), min(own_cost, enough)))
    plans = [plan for plan in (_within(problem, money, relative_gap) for money in budgets) if plan]
    # a plan that costs more and keeps no more out is no point of the frontier
    cost = np.array([plan.cost for plan in plans])
    tonnes = np.maximum.accumulate(np.array([plan.tonnes for plan in plans]))
    bins = np.array([plan.bins_count for plan in plans])
    _, first = np.unique(tonnes, return_index=True)
    cost, tonnes, bins = cost[first], tonnes[first], bins[first]
    marginal = np.full(cost.size, np.nan)
    marginal[1:] = np.diff(cost) / np.diff(tonnes)
    return Frontier(cost, tonnes, bins, marginal)


def next_tonne_cost(problem: Problem, tonnes: float) -> float | None:
    """Cost of one more tonne beyond so many, [currency/t]; None where none can be had.

    An integer program has no dual prices: the least cost of a little more is solved for, and
    that of as much as there is. Both may split bins, so that the difference is no rounding.

    Parameters
    ----------
    problem
        Choices and limits without those of money.
    tonnes
        Expected tonnes of the plan.
    """
    step = min(1.0, MOST_STEP_SHARE * tonnes) if tonnes > 0.0 else 1.0
    more, now = least_cost_of(problem, tonnes + step), least_cost_of(problem, tonnes)
    return (more - now) / step if np.isfinite(more) and np.isfinite(now) else None


def _within(problem: Problem, money: float, relative_gap: float) -> Allocation | None:
    limit = at_most("money", "", total_row(problem.choices.cost), money)
    try:
        return allocate(problem.with_limits(limit), MOST_TONNES, relative_gap)
    except NoPlanError:
        return None
