"""A search for the least cost of a program, as near and as long as the effort says."""

from __future__ import annotations

import time
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

import numpy as np
from scipy import optimize

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from planner.ordering.linear_program import Program
    from planner.ordering.request import Effort

Outcome = Literal["solved", "infeasible", "unfinished"]

_LIMIT_REACHED, _INFEASIBLE = 1, 2


@dataclass(frozen=True)
class Answer:
    """What a search found.

    Attributes
    ----------
    outcome
        Whether a plan was found, there is none, or the time ended before it was known.
    values
        Of every column; None without a plan.
    objective, bound
        Cost found, and the cost below which none can be.
    gap
        Share of the cost that lies between them.
    seconds
        Time it took.
    reached_limit
        The time limit ended the search.
    """

    outcome: Outcome
    values: NDArray[np.float64] | None
    objective: float
    bound: float
    gap: float
    seconds: float
    reached_limit: bool = False


def run_search(program: Program, effort: Effort) -> Answer:
    """Find the least cost of a program, as near and as long as the effort says."""
    matrix, bounds = program.matrix(), program.bounds()
    began = time.perf_counter()
    result = optimize.milp(
        np.concatenate(program.cost),
        integrality=np.concatenate(program.is_integer),
        bounds=optimize.Bounds(np.concatenate(program.lower), np.concatenate(program.upper)),
        constraints=optimize.LinearConstraint(matrix, bounds[:, 0], bounds[:, 1]),
        options={"mip_rel_gap": effort.gap, "time_limit": effort.seconds},
    )
    seconds = time.perf_counter() - began
    if result.status == _INFEASIBLE:
        return Answer("infeasible", None, np.inf, np.inf, 0.0, seconds)
    known = result.mip_dual_bound
    is_known = known is not None and np.isfinite(known)
    bound = float(known) if is_known else _relaxed_cost(program)
    if result.x is None:
        return Answer("unfinished", None, np.inf, bound, 1.0, seconds, reached_limit=True)
    gap = max(0.0, (result.fun - bound) / abs(result.fun)) if result.fun else 0.0
    return Answer(
        "solved",
        result.x,
        float(result.fun),
        bound,
        gap,
        seconds,
        reached_limit=result.status == _LIMIT_REACHED,
    )


def _relaxed_cost(program: Program) -> float:
    """Least cost if parts of packs and of deliveries could be had: a bound in any case."""
    matrix, bounds = program.matrix(), program.bounds()
    result = optimize.milp(
        np.concatenate(program.cost),
        bounds=optimize.Bounds(np.concatenate(program.lower), np.concatenate(program.upper)),
        constraints=optimize.LinearConstraint(matrix, bounds[:, 0], bounds[:, 1]),
    )
    return float(result.fun) if result.fun is not None else 0.0
