"""Audit of a table with hidden cells: how closely a reader can bound each of them.

A reader knows every cell that is shown, every total, and that no count is below zero. The
least and the most that a hidden cell can then be are two linear programs.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Set as AbstractSet

    from numpy.typing import NDArray

UNBOUNDED = 3
"""HiGHS's status where a linear program has no limit."""

TOLERANCE = 1e-6


@dataclass(frozen=True)
class CountTable:
    """Counts that add up to totals.

    Parameters
    ----------
    groups
        Shape (cells,): cells of one group, as the columns of an area, are hidden together.
    values
        Shape (cells,): the counts.
    sums
        Shape (totals, cells): 1 for each part and -1 for the total of each sum, so that
        ``sums @ values`` is 0.
    stays
        Groups that cannot be hidden to protect others.
    """

    groups: tuple[str, ...]
    values: NDArray[np.float64]
    sums: NDArray[np.float64]
    stays: frozenset[str] = frozenset()

    def __post_init__(self) -> None:
        """Hold the table to its own totals."""
        if np.abs(self.sums @ self.values).max(initial=0.0) > TOLERANCE:
            message = "the parts of a table do not add up to its totals"
            raise ValueError(message)

    def is_in(self, chosen: AbstractSet[str]) -> NDArray[np.bool_]:
        """Mark the cells whose group is among those chosen; shape (cells,)."""
        return np.array([group in chosen for group in self.groups], dtype=bool)


def bounds(table: CountTable, hidden: AbstractSet[str]) -> NDArray[np.float64]:
    r"""Least and most that each hidden cell can be, as a reader finds them.

    Parameters
    ----------
    table
        The counts.
    hidden
        Groups that are not shown.

    Returns
    -------
    ndarray
        Shape (cells, 2): the count itself, twice, where a cell is shown; `inf` where a
        cell has no upper bound.

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
        found[cell] = (least(aim, parts, rest), -least(-aim, parts, rest))
    return found


def too_close(table: CountTable, hidden: AbstractSet[str], level: float) -> list[int]:
    """Cells that are hidden and yet can be bounded more closely than the level.

    Parameters
    ----------
    table, hidden
        The counts, and the groups that are not shown.
    level
        Least width that the interval of a hidden cell must have.

    Returns
    -------
    list of int
        Places of cells, the closest first.
    """
    width = np.ptp(bounds(table, hidden), axis=1)
    weak = np.flatnonzero(table.is_in(hidden) & (width < level - TOLERANCE))
    return [int(cell) for cell in weak[np.argsort(width[weak], kind="stable")]]


def least(aim: NDArray[np.float64], sums: NDArray[np.float64], rest: NDArray[np.float64]) -> float:
    """Find the least that a sum of counts can be where these sums of them are known."""
    from scipy.optimize import linprog

    answer = linprog(aim, A_eq=sums, b_eq=rest, bounds=(0.0, None), method="highs")
    if answer.status == UNBOUNDED:
        return -np.inf
    if answer.status:
        message = f"the audit of hidden cells did not end: {answer.message}"
        raise ArithmeticError(message)
    return float(answer.fun)
