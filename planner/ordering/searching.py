"""A search for the least cost of a program, as near and as long as the effort says.

Effort is counted in nodes of the search, not in seconds, so that a busy machine finds the
same plan as an idle one. Each solver runs on one thread; its own steps depend on nothing else.
"""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any, Literal

import highspy
import numpy as np

from planner.ordering.request import Effort
from planner.whole_programs import FEASIBLE, IMPOSSIBLE, program_of, quiet_solver

if TYPE_CHECKING:
    from collections.abc import Callable, Collection, Iterable

    import scipy
    from highspy._core import _Highs
    from numpy.typing import ArrayLike, NDArray

    from planner.ordering.linear_program import Program


Outcome = Literal["solved", "infeasible", "unfinished"]

# prices that are not quite the best serve as well: what is made of them holds for any prices
_PRICED = {highspy.HighsModelStatus.kOptimal, highspy.HighsModelStatus.kUnknown}


@dataclass(frozen=True)
class Answer:
    """What a search found."""

    # whether a plan was found, there is none, or the effort ended before it was known
    outcome: Outcome
    values: NDArray[np.float64] | None  # of every column; None without a plan
    # cost found, and the cost below which none can be
    objective: float
    bound: float
    reached_limit: bool = False  # a limit of the effort ended the search


def run_search(
    program: Program, effort: Effort, start: NDArray[np.float64] | None = None
) -> Answer:
    """Find the least cost of a program, as near and as long as the effort says.

    Where a plan is known, `start` has the values of all its columns.

    Raises
    ------
    RuntimeError
        The solver refuses the program: it is written wrongly, and no answer would count.
    """
    columns_count = sum(map(len, program.cost))
    if not columns_count:
        return _without_columns(program)
    answer = _searched(program, effort, start)
    patience = effort.first_plan_work // columns_count
    if answer.outcome != "unfinished" or patience <= effort.nodes_count:
        return answer
    first = _searched(program, replace(effort, nodes_count=patience), None, ends_at_first=True)
    if first.values is None:
        return first
    last = _searched(program, effort, first.values)
    return replace(last, bound=max(answer.bound, first.bound, last.bound))


MISTAKEN = 1e-6
"""Share by which the solver's own cost of a plan may lie below that of its values."""


def _searched(
    program: Program,
    effort: Effort,
    start: NDArray[np.float64] | None,
    *,
    ends_at_first: bool = False,
) -> Answer:
    solver = _solver(effort, _model(program, program.matrix(), program.bounds()))
    if ends_at_first:
        solver.setOptionValue("mip_max_improving_sols", 1)
    if start is not None:
        solver.setSolution(len(start), np.arange(len(start), dtype=np.int32), start)
    run_solver(solver)
    status, info = solver.getModelStatus(), solver.getInfo()
    if status in IMPOSSIBLE:
        return Answer("infeasible", None, np.inf, np.inf)
    bound = float(info.mip_dual_bound)
    if not np.isfinite(bound):
        bound = 0.0  # every cost is at least nothing
    if int(info.primal_solution_status) != FEASIBLE:
        return Answer("unfinished", None, np.inf, bound, reached_limit=True)
    values = np.asarray(solver.getSolution().col_value, dtype=np.float64)
    cost = float(np.concatenate(program.cost) @ values)
    if start is not None and cost - info.objective_function_value > MISTAKEN * cost:
        # presolved, the start counted as cheaper than it is: the search ended too soon
        again = _searched(program, effort, None)
        known = again.values is None or again.objective > cost
        return replace(again, outcome="solved", values=values, objective=cost) if known else again
    at_limit = status == highspy.HighsModelStatus.kSolutionLimit
    return Answer("solved", values, cost, bound, at_limit)


def lower_bound(program: Program, effort: Effort, limit: float) -> float:
    """Cost below which no plan can be, as far as it is proven up to a limit.

    A search that looks for plans cheaper than the limit alone fixes far more columns than one
    with a dearer plan to beat; that there is none proves the limit.
    """
    solver = _solver(replace(effort, gap=0.0), _model(program, program.matrix(), program.bounds()))
    solver.setOptionValue("objective_bound", limit)
    solver.setOptionValue("mip_max_improving_sols", 1)
    run_solver(solver)
    if solver.getModelStatus() in IMPOSSIBLE:
        return limit
    bound = float(solver.getInfo().mip_dual_bound)
    return min(bound, limit) if np.isfinite(bound) else 0.0


def _without_columns(program: Program) -> Answer:
    """Answer for a program in which nothing can be bought, which the solver does not judge."""
    bounds = program.bounds()
    if np.any(bounds[:, 0] > 0.0) or np.any(bounds[:, 1] < 0.0):
        return Answer("infeasible", None, np.inf, np.inf)
    return Answer("solved", np.zeros(0), 0.0, 0.0)


class Relaxation:
    """A program whose packs may be broken: its plan, and what each row is worth there.

    Prices come from inside the set of best prices, not from a corner of it: there they tell
    most about what a part must cost.
    """

    def __init__(self, program: Program) -> None:
        matrix, bounds = program.matrix(), program.bounds()
        self._solver = _solver(Effort(0.0), _model(program, matrix, bounds, is_whole=False))
        self._solver.setOptionValue("solver", "ipm")
        self._solver.setOptionValue("run_crossover", "off")
        self._solver.setOptionValue("ipm_optimality_tolerance", 1e-4)
        self._rows_count = len(bounds)

    def solve(self) -> tuple[NDArray[np.float64], NDArray[np.float64], float] | None:
        """Values of every column, price of every row of the program, and the cost.

        None where even broken packs have no plan: prices mean nothing then.
        """
        run_solver(self._solver)
        if self._solver.getModelStatus() not in _PRICED:
            return None
        found, cost = self._solver.getSolution(), self._solver.getInfo().objective_function_value
        prices = np.asarray(found.row_dual, dtype=np.float64)[: self._rows_count]
        return np.asarray(found.col_value, dtype=np.float64), prices, float(cost)

    def add_row(
        self, columns: NDArray[np.int64], values: NDArray[np.float64], lower: float
    ) -> None:
        """Add a row that a plan must reach."""
        places = columns.astype(np.int32)
        _accept(self._solver.addRow(lower, highspy.kHighsInf, len(places), places, values))


def side_by_side(tasks: Iterable[Callable[[], Any]], at_once: int = 2) -> list[Any]:
    """Do some tasks at a time, as the solver lets threads work; give what each gives, in order."""
    with ThreadPoolExecutor(at_once) as threads:
        return list(threads.map(lambda task: task(), tasks))


def least_cost_of_part(
    program: Program,
    effort: Effort,
    rows: tuple[scipy.sparse.csr_array, NDArray[np.float64]],
    columns: NDArray[np.int64],
    cost: NDArray[np.float64],
) -> float:
    """Least cost of some columns at costs and rows of their own, as far as is proven."""
    model = _model(program, *rows, columns)
    model.col_cost_ = cost
    solver = _solver(effort, model)
    # a small program takes longer to presolve again than to search on
    solver.setOptionValue("mip_allow_restart", False)
    run_solver(solver)
    return float(solver.getInfo().mip_dual_bound)


def run_solver(solver: _Highs) -> None:
    """Run a solver; one that fails is an error and no answer."""
    _accept(solver.run())


def _accept(status: highspy.HighsStatus, numbers: Collection[ArrayLike] = ()) -> None:
    # what is no number it takes without a word, and then answers anything
    if status == highspy.HighsStatus.kError or any(
        np.isnan(np.asarray(one)).any() for one in numbers
    ):
        message = "The solver refuses the program that it was given."
        raise RuntimeError(message)


def _solver(effort: Effort, model: highspy.HighsLp) -> _Highs:
    solver = quiet_solver()
    solver.setOptionValue("mip_rel_gap", effort.gap)
    solver.setOptionValue("mip_abs_gap", 0.0)
    solver.setOptionValue("mip_max_nodes", effort.nodes_count)
    limits = [model.row_lower_, model.row_upper_, model.col_lower_, model.col_upper_]
    _accept(solver.passModel(model), [*limits, model.col_cost_, model.a_matrix_.value_])
    return solver


def _model(
    program: Program,
    matrix: scipy.sparse.csr_array,
    bounds: NDArray[np.float64],
    columns: NDArray[np.int64] | None = None,
    *,
    is_whole: bool = True,
) -> highspy.HighsLp:
    chosen = slice(None) if columns is None else columns
    cost, lower, upper = (
        np.concatenate(blocks)[chosen] for blocks in (program.cost, program.lower, program.upper)
    )
    whole = np.concatenate(program.is_integer)[chosen] if is_whole else ()
    return program_of(cost, lower, upper, matrix, bounds, whole)
