"""Which limits bind, and what one more of each would be worth.

An integer program has no dual prices, so the worth of a limit is found by giving it one
step and solving again.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from planner.sizing.allocation import NoPlanError, allocate

if TYPE_CHECKING:
    from planner.sizing.allocation import Allocation
    from planner.sizing.problem import Limit, Problem

TIGHT_GAP = 1e-7
"""What one bin is worth is far below the gap at which the plan itself may stop."""


@dataclass(frozen=True)
class Worth:
    """What one step of a binding limit is worth.

    Parameters
    ----------
    limit
        The limit.
    binding_rows_count
        Its rows that have less room than one step.
    tonnes, net_t_co2e, cost
        Change of the plan's expected sums when every such row gives way by one step.
    """

    limit: Limit
    binding_rows_count: int
    tonnes: float
    net_t_co2e: float
    cost: float


def binding_limits(problem: Problem, plan: Allocation) -> tuple[Limit, ...]:
    """Limits of which a row has less room than one step.

    A share's limit is measured in bins: it binds where one bin fewer would break it.
    """
    return tuple(limit for limit in problem.limits if _binding_rows(limit, plan) > 0)


def worth_of_limits(
    problem: Problem, objective: str, relative_gap: float = TIGHT_GAP
) -> tuple[Worth, ...]:
    """Give each binding limit one step in turn, solve again and compare.

    Parameters
    ----------
    problem
        A program that has a plan.
    objective
        As for `planner.sizing.allocation.allocate`.
    relative_gap
        Of every solution; small, so that the difference is not that of two searches.
    """
    plan = allocate(problem, objective, relative_gap)
    found = []
    for limit in binding_limits(problem, plan):
        try:
            eased = allocate(problem.with_limits(limit.relaxed()), objective, relative_gap)
        except NoPlanError:  # pragma: no cover - giving way never takes a plan away
            continue
        found.append(
            Worth(
                limit,
                _binding_rows(limit, plan),
                eased.tonnes - plan.tonnes,
                eased.net_t_co2e - plan.net_t_co2e,
                eased.cost - plan.cost,
            )
        )
    return tuple(found)


def _binding_rows(limit: Limit, plan: Allocation) -> int:
    room = 1.0 if limit.share is not None else limit.step
    return int(np.count_nonzero(limit.slack(plan.bins) < room - 1e-9))
