"""Solve the allocation: an integer program by HiGHS, and the frontier along the budget."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import scipy

from planner.arrays import Integers
from planner.messages import paper, said
from planner.sizing.problem import LEAST_COST, at_least, objective_of, total_row
from planner.whole_programs import least_whole

if TYPE_CHECKING:
    from collections.abc import Sequence

    from planner.sizing.problem import Limit, Problem
    from planner.whole_programs import Rows

RELATIVE_GAP = 1e-4
"""The plan found is at most this share away from the best there can be."""

TIME_LIMIT_SECONDS = 120.0

LEAST_GAP = 1e-6
"""In the units of what is served: the solver's own."""

SMALL_PROBLEM = 1500
"""Beyond so many variables the worth of a single bin is near enough too: where money buys but a few
hundred bins one of them is more than the gap, and the search would go on to its time limit."""


@dataclass(frozen=True)
class Allocation:
    """A plan: bins by group, model and round, and what they are expected to do."""

    bins: Integers  # shape (variables,)
    bins_by_group: Integers  # shape (groups, models, rounds)
    # expected sums over the horizon [t], [t CO2-e], [currency]; the cost is that of the bins alone
    tonnes: float
    net_t_co2e: float
    cost: float
    gap_share: float  # how far at most the best plan is from this one, as a share of the objective

    @property
    def bins_count(self) -> int:
        """Bins in all."""
        return int(self.bins.sum())


class NoPlanError(Exception):
    """No choice keeps every limit."""


def allocate(
    problem: Problem,
    objective: str,
    relative_gap: float = RELATIVE_GAP,
    time_limit_seconds: float = TIME_LIMIT_SECONDS,
) -> Allocation:
    """Choose the bins that serve the objective best within every limit.

    Parameters
    ----------
    objective
        ``most_tonnes``, ``least_cost`` or ``most_net_emissions``.
    relative_gap, time_limit_seconds
        When the search may stop.

    Raises
    ------
    NoPlanError
        The limits clash, so that no choice keeps them all.

    Notes
    -----
    ``min c·x`` subject to ``low <= A x <= high``, ``0 <= x <= most``, x whole.

    References
    ----------
    Huangfu, Q. and Hall, J. A. J. (2018), Parallelizing the dual revised simplex method,
    Mathematical Programming Computation 10, 119-142 (HiGHS).
    """
    choices = problem.choices
    if choices.count == 0:
        _check_without_bins(problem)
        return _valued(problem, np.zeros(0, dtype=np.int64), 0.0)
    worth = objective_of(choices, objective)
    one_bin = float(np.abs(worth).max()) if choices.count > SMALL_PROBLEM else 0.0
    found = least_whole(
        worth,
        solver_rows(problem.limits),
        0.0,
        problem.most,
        is_whole=True,
        mip_rel_gap=relative_gap,
        mip_abs_gap=max(LEAST_GAP, one_bin),
        time_limit=time_limit_seconds,
    )
    if found.values is None:
        raise NoPlanError(found.message)
    return _valued(problem, np.rint(found.values).astype(np.int64), found.gap_share)


@dataclass(frozen=True)
class ExpectedSums:
    """Expected sums of a plan that may split bins [t], [t CO2-e], [currency]."""

    tonnes: float
    net_t_co2e: float
    cost: float


def allocate_split(problem: Problem, objective: str) -> ExpectedSums:
    """Solve the same program with bins that may be split, for small differences.

    The difference between two plans of whole bins is mostly that of two roundings: one bin
    more or less. Between two plans of split bins it is that of the limits.

    Raises
    ------
    NoPlanError
        The limits clash.
    """
    choices = problem.choices
    if choices.count == 0:
        _check_without_bins(problem)
        return ExpectedSums(0.0, 0.0, 0.0)
    rows = solver_rows(problem.limits)
    found = least_whole(objective_of(choices, objective), rows, 0.0, problem.most)
    if found.values is None:
        raise NoPlanError(found.message)
    return ExpectedSums(
        float(choices.tonnes @ found.values),
        float(choices.net_t_co2e @ found.values),
        float(choices.cost @ found.values),
    )


def are_kept_without_bins(limits: Sequence[Limit]) -> bool:
    """Tell whether no bin at all keeps every limit, as it must where there is none to give."""
    return all(((limit.low <= 0.0) & (limit.high >= 0.0)).all() for limit in limits)


def _check_without_bins(problem: Problem) -> None:
    if not are_kept_without_bins(problem.limits):
        raise NoPlanError


def solver_rows(limits: Sequence[Limit]) -> list[Rows]:
    """Put all rows of the limits together, each row on the scale of its bins.

    Money and tonnes beside counts would leave the solver's tolerance worth more in one row
    than in another.
    """
    if not limits:
        return []
    rows = scipy.sparse.vstack([limit.rows for limit in limits], format="csr")
    largest = np.ones(rows.shape[0])
    found = abs(rows).max(axis=1).toarray().ravel()
    largest[found > 0.0] = found[found > 0.0]
    low = np.concatenate([limit.low for limit in limits]) / largest
    high = np.concatenate([limit.high for limit in limits]) / largest
    return [(scipy.sparse.diags_array(1.0 / largest) @ rows, low, high)]


def least_cost_of(problem: Problem, tonnes: float) -> float:
    """Least cost of bins, split if need be, that keep so many tonnes out; infinite if none."""
    try:
        return allocate_split(with_target(problem, tonnes), LEAST_COST).cost
    except NoPlanError:
        return float("inf")


def with_target(problem: Problem, tonnes: float) -> Problem:
    """Ask for at least so many expected tonnes over the horizon."""
    target = paper().decimal(float(f"{tonnes:.4g}"), "#,##0.###")
    words = said("plan.limit.horizon_target", tonnes=target)
    row = total_row(problem.choices.tonnes)
    return problem.with_limits(at_least("horizon_target", words, row, tonnes, unit="t"))


def _valued(problem: Problem, bins: Integers, gap_share: float) -> Allocation:
    choices = problem.choices
    return Allocation(
        bins,
        choices.as_array(bins),
        float(choices.tonnes @ bins),
        float(choices.net_t_co2e @ bins),
        float(choices.cost @ bins),
        gap_share,
    )
