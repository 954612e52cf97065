"""Limits that clash: which they are, and the least change that mends them."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
import scipy

from planner.arrays import Numbers
from planner.sizing.allocation import are_kept_without_bins, solver_rows
from planner.whole_programs import least_integer

if TYPE_CHECKING:
    from planner.sizing.allocation import Limit, Problem
    from planner.whole_programs import Rows

NEGLIGIBLE = 1e-7


@dataclass(frozen=True)
class Change:
    """By how much one limit would have to give way: from what, to what, in its own unit.

    `row` is its place among like limits. For a share of all bins the values are shares.
    """

    limit: Limit
    row: int
    from_value: float
    to_value: float


@dataclass(frozen=True)
class Clash:
    """Limits that no plan keeps together; leave one of them out, and the others can be kept."""

    # the clashing limits: a smallest set, each of which is needed for the clash
    limits: tuple[Limit, ...]
    # the least change of limits that can be moved, over all clashes there are
    changes: tuple[Change, ...]


def find_clash(problem: Problem) -> Clash:
    """Name clashing limits and the least change that mends the program.

    The set is found by leaving limits out one at a time, for good where the rest still
    clash. The change comes from an elastic program: every limit that can be moved may give
    way by an amount, and the sum of the amounts, each as a share of its limit, is made as
    small as can be.

    References
    ----------
    Chinneck, J. W. (2008), Feasibility and Infeasibility in Optimization, Springer,
    chapters 6 (deletion filter) and 6.2 (elastic filter).
    """
    # bounds of single variables repeat the limits; without them the limits alone speak
    problem = replace(problem, most=np.full(problem.choices.count, np.inf))
    needed = list(problem.limits)
    # where several sets clash, the one of what no decision moves tells more than money does
    for limit in sorted(problem.limits, key=_leave_first):
        rest = [one for one in needed if one.name != limit.name]
        if not is_feasible(replace(problem, limits=tuple(rest))):
            needed = rest
    return Clash(tuple(needed), least_change(problem))


def _leave_first(limit: Limit) -> int:
    """Order in which limits are left out: money, then what can be moved, then the rest."""
    if limit.name.startswith("budget"):
        return 0
    return 1 if limit.can_be_relaxed and not np.isfinite(limit.low).any() else 2


def is_feasible(problem: Problem) -> bool:
    """Whether any plan keeps the limits."""
    count = problem.choices.count
    if count == 0:
        return are_kept_without_bins(problem.limits)
    rows = solver_rows(problem.limits)
    found = least_integer(np.zeros(count), rows, 0.0, problem.most, is_whole=True)
    return found.values is not None


def least_change(problem: Problem) -> tuple[Change, ...]:
    """Least change, as a share of each limit's value, after which a plan exists."""
    movable = [limit for limit in problem.limits if limit.can_be_relaxed]
    if not movable:
        return ()
    count = problem.choices.count
    moved = scipy.sparse.vstack([limit.rows for limit in movable], format="csr")
    low = np.concatenate([limit.low for limit in movable])
    high = np.concatenate([limit.high for limit in movable])
    give = low.size
    below, above = np.isfinite(low) * 1.0, np.isfinite(high) * 1.0
    elastic = scipy.sparse.hstack([moved, scipy.sparse.diags_array(below - above)], format="csr")
    limits: list[Rows] = [(elastic, low, high)]
    for limit in problem.limits:
        if not limit.can_be_relaxed:
            slack = scipy.sparse.csr_array((limit.rows.shape[0], give))
            rows = scipy.sparse.hstack([limit.rows, slack])
            limits.append((rows.tocsr(), limit.low, limit.high))
    found = least_integer(
        np.concatenate([np.zeros(count), 1.0 / _sizes(movable)]),
        limits,
        0.0,
        np.concatenate([problem.most, np.full(give, np.inf)]),
        np.repeat([1, 0], [count, give]),
    )
    if found.values is None:
        return ()
    return _changes(movable, found.values[count:], np.rint(found.values[:count]))


def _sizes(movable: list[Limit]) -> Numbers:
    """Size of each row's limit, at least 1."""
    sizes = []
    for limit in movable:
        own = np.where(np.isfinite(limit.low), limit.low, limit.high)
        sizes.append(np.full_like(own, limit.scale) if limit.scale is not None else np.abs(own))
    return np.asarray(np.maximum(np.concatenate(sizes), 1.0))


def _changes(movable: list[Limit], amounts: Numbers, bins: Numbers) -> tuple[Change, ...]:
    changes, start = [], 0
    for limit in movable:
        own = amounts[start : start + limit.low.size]
        start += limit.low.size
        changes += [
            _change(limit, int(row), float(own[row]), bins)
            for row in np.flatnonzero(own > NEGLIGIBLE)
        ]
    return tuple(changes)


def _change(limit: Limit, row: int, amount: float, bins: Numbers) -> Change:
    if limit.share is not None:
        return Change(limit, row, limit.share, limit.share - amount / max(1.0, float(bins.sum())))
    if np.isfinite(limit.low[row]):
        return Change(limit, row, float(limit.low[row]), float(limit.low[row]) - amount)
    return Change(limit, row, float(limit.high[row]), float(limit.high[row]) + amount)
