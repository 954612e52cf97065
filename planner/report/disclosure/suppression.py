"""Which cells to hide besides the small ones, so that no total gives them away."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from planner.report.disclosure.audit import CountTable, too_close

if TYPE_CHECKING:
    from collections.abc import Set as AbstractSet

    from numpy.typing import NDArray

    from planner.whole_programs import Rows


PROGRAMS_MOST = 10_000
"""Linear programs of one suppression; each takes a millisecond or so."""

NODES_MOST = 2_000


def suppress(
    table: CountTable,
    small: AbstractSet[str],
    level: float,
    protected: AbstractSet[str] | None = None,
) -> frozenset[str]:
    """Find the groups to hide: the small ones, and the cheapest others that protect them.

    The audit names the hidden cell that is bounded most closely; an integer program finds
    the groups of least total count that free it; and so on until the audit names none.

    Parameters
    ----------
    table
        The counts.
    small
        Groups that must be hidden for themselves.
    level
        Least width of the interval to which a reader can bound a hidden cell.
    protected
        Groups whose cells may not be bounded more closely; all that are hidden unless said.

    Returns
    -------
    frozenset of str
        Groups to hide. Where the groups that stay leave no way to protect a cell, it stays
        as close as the audit finds it. Where the search grows too long, all that may be hidden.

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
    from planner.whole_programs import least_whole  # explain says figures without any search

    names = sorted(set(table.groups))
    cells, groups = len(table.groups), len(names)
    member = np.array([[group == name for name in names] for group in table.groups], dtype=float)
    cost = np.concatenate([np.zeros(2 * cells), member.T @ (table.values + 1.0)])
    is_open = np.array([name in hidden for name in names])
    may_open = is_open | (np.array([n not in table.stays for n in names]) & _counts(table, member))
    least = np.concatenate([np.tile(-table.values, 2), is_open.astype(float)])
    most = np.concatenate([np.full(2 * cells, np.inf), may_open.astype(float)])
    rows = _moves(table, member, cell, level)
    is_group = np.repeat([0, 1], [2 * cells, groups])
    found = least_whole(cost, rows, least, most, is_group, mip_max_nodes=NODES_MOST)
    if found.values is None:
        return frozenset() if found.is_impossible else None
    chosen = found.values[2 * cells :] > 1.0 / 2.0
    return frozenset(np.array(names)[chosen & ~is_open].tolist())


def _counts(table: CountTable, member: NDArray[np.float64]) -> NDArray[np.bool_]:
    """Mark groups that hold any count: one that holds none hides nothing."""
    marked: NDArray[np.bool_] = member.T @ table.values > 0.0
    return marked


def _moves(table: CountTable, member: NDArray[np.float64], cell: int, level: float) -> list[Rows]:
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
