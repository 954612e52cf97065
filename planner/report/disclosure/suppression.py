"""What to hide besides small cells so that no total gives them away, and the audit of it.

A reader knows every cell that is shown, every total, and that no count is below zero. The
least and the most that a hidden cell can then be are two linear programs.
"""

from __future__ import annotations

from collections.abc import Set as AbstractSet
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import scipy

from planner.arrays import Flags, Numbers

if TYPE_CHECKING:
    from planner.whole_programs import Rows

UNBOUNDED = 3
"""HiGHS's status where a linear program has no limit."""

TOLERANCE = 1e-6

PROGRAMS_MOST = 10_000
"""Linear programs of one suppression; each takes a millisecond or so."""

NODES_MOST = 2_000


@dataclass(frozen=True)
class CountTable:
    """Counts that add up to totals."""

    # shape (cells,): cells of one group, as the columns of an area, are hidden together
    groups: tuple[str, ...]
    values: Numbers  # shape (cells,): the counts
    # shape (totals, cells): 1 for each part and -1 for the total of each sum, so that ``sums @
    # values`` is 0
    sums: Numbers
    stays: frozenset[str] = frozenset()  # groups that cannot be hidden to protect others

    def __post_init__(self) -> None:
        """Hold the table to its own totals."""
        if np.abs(self.sums @ self.values).max(initial=0.0) > TOLERANCE:
            message = "the parts of a table do not add up to its totals"
            raise ValueError(message)

    def is_in(self, chosen: AbstractSet[str]) -> Flags:
        """Mark the cells whose group is among those chosen; shape (cells,)."""
        return np.array([group in chosen for group in self.groups], dtype=bool)


def bounds(table: CountTable, hidden: AbstractSet[str]) -> Numbers:
    r"""Least and most that each hidden cell can be, as a reader finds them; shape (cells, 2).

    That is the count itself, twice, where a cell is shown; `inf` where it has no upper bound.

    Notes
    -----
    Minimise and maximise :math:`x_j` over :math:`A x = 0, x \ge 0` with shown cells fixed.

    References
    ----------
    Hundepool et al., Statistical Disclosure Control, Wiley 2012, section 4.4 (the attacker's
    two linear programs); from memory.

    Examples
    --------
    >>> table = CountTable(("a", "b", "all"), np.array([4.0, 6.0, 10.0]), np.array([[1, 1, -1.0]]))
    >>> bounds(table, {"a", "b"})[0].tolist()
    [0.0, 10.0]
    """
    is_hidden = table.is_in(hidden)
    found = np.repeat(table.values[:, None], 2, axis=1)
    parts = table.sums[:, is_hidden]
    rest = -table.sums[:, ~is_hidden] @ table.values[~is_hidden]
    for place, cell in enumerate(np.flatnonzero(is_hidden)):
        aim = np.zeros(parts.shape[1])
        aim[place] = 1.0
        found[cell] = (least_sum(aim, parts, rest), -least_sum(-aim, parts, rest))
    return found


def too_close(table: CountTable, hidden: AbstractSet[str], level: float) -> list[int]:
    """Places of hidden cells that are bounded more closely than a level, the closest first."""
    width = np.ptp(bounds(table, hidden), axis=1)
    weak = np.flatnonzero(table.is_in(hidden) & (width < level - TOLERANCE))
    return [int(cell) for cell in weak[np.argsort(width[weak], kind="stable")]]


def least_sum(aim: Numbers, sums: Numbers, rest: Numbers) -> float:
    """Find the least that a sum of counts can be where these sums of them are known."""
    answer = scipy.optimize.linprog(aim, A_eq=sums, b_eq=rest, bounds=(0.0, None), method="highs")
    if answer.status == UNBOUNDED:
        return -np.inf
    if answer.status:
        message = f"the audit of hidden cells did not end: {answer.message}"
        raise ArithmeticError(message)
    return float(answer.fun)


def suppress(
    table: CountTable,
    small: AbstractSet[str],
    level: float,
    protected: AbstractSet[str] | None = None,
) -> frozenset[str]:
    """Find the groups to hide: the small ones, and the cheapest others that protect them.

    The audit names the hidden cell that is bounded most closely; an integer program finds
    the groups of least total count that free it; and so on until the audit names none.
    Where the groups that stay leave no way to protect a cell, it stays as close as the audit
    finds it. Where the search grows too long, all that may be hidden is.

    Parameters
    ----------
    level
        Least width of the interval to which a reader can bound a hidden cell.
    protected
        Groups whose cells may not be bounded more closely; all that are hidden unless said.

    References
    ----------
    Hundepool et al., Statistical Disclosure Control, Wiley 2012, section 4.4 (sliding
    protection of primary cells, one at a time); from memory.

    Examples
    --------
    >>> cells = np.array([4.0, 30.0, 50.0, 84.0])
    >>> table = CountTable(("a", "b", "c", "all"), cells, np.array([[1, 1, 1, -1.0]]))
    >>> sorted(suppress(table, {"a"}, 10))
    ['a', 'b']
    """
    hidden, everything = frozenset(small), frozenset(table.groups) - table.stays
    given_up: set[int] = set()
    spent_count = 0
    while weak := [
        cell
        for cell in too_close(table, hidden, level)
        if cell not in given_up and (protected is None or table.groups[cell] in protected)
    ]:
        spent_count += 2 * int(table.is_in(hidden).sum())
        added = _cheapest(table, hidden, weak[0], level)
        if added is None or spent_count > PROGRAMS_MOST:
            return hidden | everything
        if added:
            hidden |= added
        else:
            given_up.add(weak[0])
    return hidden


def _cheapest(
    table: CountTable, hidden: AbstractSet[str], cell: int, level: float
) -> frozenset[str] | None:
    """Find the groups that let a cell move up and down by the level in all, at least cost.

    None where the search ended before it found any; empty where there are none.

    Variables are the moves up and down of every cell, which keep all sums, and for each
    group whether it is hidden: a cell that is shown does not move.
    """
    from planner.whole_programs import least_integer  # explain says figures without any search

    names = sorted(set(table.groups))
    cells, groups = len(table.groups), len(names)
    member = np.array([[group == name for name in names] for group in table.groups], dtype=float)
    cost = np.concatenate([np.zeros(2 * cells), member.T @ (table.values + 1.0)])
    is_open = np.array([name in hidden for name in names])
    # a group that holds no count hides nothing
    holds_any = member.T @ table.values > 0.0
    may_open = is_open | (np.array([name not in table.stays for name in names]) & holds_any)
    least = np.concatenate([np.tile(-table.values, 2), is_open.astype(float)])
    most = np.concatenate([np.full(2 * cells, np.inf), may_open.astype(float)])
    rows = _moves(table, member, cell, level)
    is_group = np.repeat([0, 1], [2 * cells, groups])
    found = least_integer(cost, rows, least, most, is_group, mip_max_nodes=NODES_MOST)
    if found.values is None:
        return frozenset() if found.is_impossible else None
    chosen = found.values[2 * cells :] > 1.0 / 2.0
    return frozenset(np.array(names)[chosen & ~is_open].tolist())


def _moves(table: CountTable, member: Numbers, cell: int, level: float) -> list[Rows]:
    cells, groups = member.shape
    nothing = np.zeros((table.sums.shape[0], cells))
    no_group = np.zeros((table.sums.shape[0], groups))
    keep_sums = np.vstack(
        [
            np.hstack([table.sums, nothing, no_group]),
            np.hstack([nothing, table.sums, no_group]),
        ]
    )
    # no cell need move further than both ways together
    reach = 2.0 * level * np.vstack([member, member])
    moves = np.eye(2 * cells)
    apart = np.zeros(2 * cells + groups)
    apart[cell], apart[cells + cell] = 1.0, -1.0
    return [
        (keep_sums, 0.0, 0.0),
        (np.hstack([moves, -reach]), -np.inf, 0.0),
        (np.hstack([moves, reach]), 0.0, np.inf),
        (apart, level, np.inf),
    ]
