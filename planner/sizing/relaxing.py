"""Which limits bind, and what one more of each would be worth.

An integer program has no dual prices, so the worth of a limit is found by giving it one
step and solving again. Both solutions may split bins: the difference between two plans of
whole bins would be mostly that of two roundings.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from planner.sizing.allocation import allocate_parts

if TYPE_CHECKING:
    from planner.sizing.allocation import Allocation
    from planner.sizing.problem import Limit, Problem


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


def worth_of_limits(problem: Problem, plan: Allocation, objective: str) -> tuple[Worth, ...]:
    """Give each binding limit one step in turn, solve again and compare.

    Parameters
    ----------
    problem, plan, objective
        A program, the plan chosen for it, and what it serves.
    """
    now = allocate_parts(problem, objective)
    found = []
    for limit in binding_limits(problem, plan):
        eased = allocate_parts(problem.with_limits(limit.relaxed()), objective)
        found.append(
            Worth(
                limit,
                _binding_rows(limit, plan),
                eased.tonnes - now.tonnes,
                eased.net_t_co2e - now.net_t_co2e,
                eased.cost - now.cost,
            )
        )
    return tuple(found)


def _binding_rows(limit: Limit, plan: Allocation) -> int:
    room = 1.0 if limit.share is not None else limit.step
    return int(np.count_nonzero(limit.slack(plan.bins) < room - 1e-9))
