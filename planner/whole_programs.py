"""Least cost of a linear program with whole variables, by HiGHS through its own interface.

scipy brings a copy of the same solver (1.12 in scipy 1.17) that prints a line of its makers
among an officer's results, whatever it is told; HiGHS has no such line from 1.13 on.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import highspy
import numpy as np
import scipy
from highspy._core import _Highs

from planner.arrays import Numbers

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import ArrayLike

    Rows = tuple[Numbers | scipy.sparse.csr_array, ArrayLike, ArrayLike]

IMPOSSIBLE = {
    highspy.HighsModelStatus.kInfeasible,
    highspy.HighsModelStatus.kUnboundedOrInfeasible,
}
FEASIBLE = int(highspy.SolutionStatus.kSolutionStatusFeasible)
"""How the solver marks values that keep every limit."""


@dataclass(frozen=True)
class IntegerSolution:
    """What a search found: the values, None where it found none."""

    values: Numbers | None
    gap_share: float  # share of the objective by which the best there can be may be better
    is_impossible: bool  # nothing keeps every limit, proven
    message: str  # how the search ended, in the solver's words


def quiet_solver() -> _Highs:
    """Make a solver that says nothing and takes one thread, so that it finds the same again."""
    # the class on which Highs rests: Highs prints a banner before it can be told not to
    solver = _Highs()
    solver.setOptionValue("output_flag", False)
    solver.setOptionValue("threads", 1)
    return solver


def least_integer(
    cost: ArrayLike,
    rows: Sequence[Rows],
    least: ArrayLike,
    most: ArrayLike,
    is_whole: ArrayLike = 0,
    **options: float,
) -> IntegerSolution:
    """Find values of least cost within bounds and rows.

    Parameters
    ----------
    cost
        Of each variable, shape (variables,).
    rows
        Matrices over the variables, and what each of their rows lies between: triples.
    least, most, is_whole
        Bounds of each variable, and whether it is whole; shape (variables,) or one for all.
    options
        Options of the solver by their names: mip_rel_gap, time_limit, mip_max_nodes.
    """
    costs = np.asarray(cost, dtype=np.float64)
    solver = quiet_solver()
    for name, value in options.items():
        solver.setOptionValue(name, value)
    low, high, whole = (
        np.broadcast_to(np.asarray(one, dtype=np.float64), costs.shape)
        for one in (least, most, is_whole)
    )
    solver.passModel(program_of(costs, low, high, *_stacked(rows, len(costs)), whole))
    solver.run()
    status, info = solver.getModelStatus(), solver.getInfo()
    message = solver.modelStatusToString(status)
    if int(info.primal_solution_status) != FEASIBLE or status in IMPOSSIBLE:
        return IntegerSolution(None, np.inf, status in IMPOSSIBLE, message)
    values = np.asarray(solver.getSolution().col_value, dtype=np.float64)
    return IntegerSolution(values, float(info.mip_gap), is_impossible=False, message=message)


def _stacked(rows: Sequence[Rows], columns_count: int) -> tuple[scipy.sparse.csr_array, Numbers]:
    """Put all rows under each other, and their limits, shape (rows, 2)."""
    if not rows:
        return scipy.sparse.csr_array((0, columns_count)), np.zeros((0, 2))
    parts = [scipy.sparse.csr_array(np.atleast_2d(one) if isinstance(one, np.ndarray) else one)
             for one, _, _ in rows]  # fmt: skip
    limits = [
        np.column_stack([np.broadcast_to(end, part.shape[0]) for end in ends])
        for part, (_, *ends) in zip(parts, rows, strict=True)
    ]
    return scipy.sparse.vstack(parts), np.concatenate(limits)


def program_of(
    cost: Numbers,
    least: Numbers,
    most: Numbers,
    matrix: scipy.sparse.csr_array,
    limits: Numbers,
    is_whole: ArrayLike = (),
) -> highspy.HighsLp:
    """State a program as the solver takes it: limits of shape (rows, 2), none whole unless said."""
    model, by_column = highspy.HighsLp(), matrix.tocsc()
    model.num_row_, model.num_col_ = by_column.shape
    model.col_cost_, model.col_lower_, model.col_upper_ = cost, least, most
    model.row_lower_, model.row_upper_ = limits[:, 0], limits[:, 1]
    model.a_matrix_.format_ = highspy.MatrixFormat.kColwise
    model.a_matrix_.start_ = by_column.indptr
    model.a_matrix_.index_ = by_column.indices
    model.a_matrix_.value_ = by_column.data
    kinds = (highspy.HighsVarType.kContinuous, highspy.HighsVarType.kInteger)
    model.integrality_ = [kinds[int(one)] for one in np.asarray(is_whole)]
    return model
