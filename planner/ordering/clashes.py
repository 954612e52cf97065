"""Why no plan meets every limit: which limits clash, and the least change that mends it.

Limits are let go at a price of their own size: a tenth more budget weighs as much as a
tenth more worms in store. Then each kind of limit is let go alone, to see which of them
mends it by itself.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

import numpy as np

from planner.errors import OrderError
from planner.ordering.columns import PurchaseModel
from planner.ordering.model import build_model
from planner.ordering.rows import RowName
from planner.ordering.searching import Effort, run_search

if TYPE_CHECKING:
    from collections.abc import Collection

    from planner.ordering.problem import PurchaseProblem

Family = Literal[
    "need",
    "live_need",
    "budget",
    "store",
    "weekly_limit",
    "minimum_order",
    "holding_kg",
    "holding_days",
    "share",
    "held",
    "late",
    "not_offered",
]

FAMILIES: tuple[Family, ...] = (
    "budget",
    "store",
    "share",
    "minimum_order",
    "weekly_limit",
    "holding_kg",
    "holding_days",
    "held",
    "late",
    "not_offered",
    "live_need",
    "need",
)
"""Kinds of limits, in the order in which they are told."""

WEIGHTS: dict[Family, float] = {"need": 4.0, "live_need": 4.0, "held": 12.0, "late": 2.0}
"""Going short weighs more than a change of a limit, sending worms into heat or frost most."""

NEGLIGIBLE = 1e-6
SEARCH = Effort(1e-6, 20.0)


@dataclass(frozen=True)
class Change:
    """One limit that must give way.

    Attributes
    ----------
    family, key
        Kind of limit, and the places in the problem that it is about.
    limit, change
        The limit as it is, and by how much it must change, in its own unit.
    """

    family: Family
    key: tuple[int | str, ...]
    limit: float
    change: float


@dataclass(frozen=True)
class Clashes:
    """What mends an order that cannot be planned.

    Attributes
    ----------
    problem
        The purchase problem, to which keys of changes refer.
    least
        The least change over all kinds of limits.
    alone
        For each kind of limit that mends it by itself, its least change.
    """

    problem: PurchaseProblem
    least: tuple[Change, ...]
    alone: dict[Family, tuple[Change, ...]]


def find_clashes(problem: PurchaseProblem, search: Effort = SEARCH) -> Clashes:
    """Find the least change that makes a purchase problem solvable.

    Parameters
    ----------
    problem
        A problem that has no plan.
    search
        Gap and time of each search.

    Raises
    ------
    OrderError
        No change that was looked for makes a plan possible, or none was found in time.
    """
    least = _least_change(problem, FAMILIES, search)
    if least is None:
        message = "No change of limits makes this order possible. Check the offers and events."
        raise OrderError(message)
    alone = {}
    for family in FAMILIES:
        found = _least_change(problem, (family,), search)
        if found:
            alone[family] = found
    return Clashes(problem, least, alone)


def _least_change(
    problem: PurchaseProblem, families: Collection[Family], search: Effort
) -> tuple[Change, ...] | None:
    model = build_model(problem, keeps_weekly_limits=False)
    program = model.program
    program.cost[:] = [np.zeros_like(cost) for cost in program.cost]
    slack = _let_rows_go(model, families)
    unlocked = _let_locks_go(model, families)
    answer = run_search(program, search)
    if answer.values is None:
        return None
    changes = [
        Change(name.family, name.key, limit, float(answer.values[column]))  # type: ignore[arg-type]
        for column, (name, limit) in slack.items()
        if answer.values[column] > NEGLIGIBLE
    ]
    changes += [
        Change(problem.lines[line].lock, (line,), 0.0, 1.0)  # type: ignore[arg-type]
        for line, column in unlocked.items()
        if answer.values[column] > 0.5
    ]
    return tuple(sorted(changes, key=lambda change: FAMILIES.index(change.family)))


def _let_rows_go(
    model: PurchaseModel, families: Collection[Family]
) -> dict[int, tuple[RowName, float]]:
    """Add a column to each row of these kinds by which it may be missed."""
    program = model.program
    bounds = program.bounds()
    found: dict[int, tuple[RowName, float]] = {}
    for row, name in enumerate(program.names):
        if name.family not in families:
            continue
        low, high = bounds[row]
        limit = high if np.isinf(low) else low
        scale = limit if limit > 0.0 else _scale(model, name)
        weight = WEIGHTS.get(name.family, 1.0)  # type: ignore[call-overload]
        (column,) = program.add_columns(1, weight / max(scale, NEGLIGIBLE))
        program.add_to_row(row, int(column), -1.0 if np.isinf(low) else 1.0)
        found[int(column)] = (name, float(limit))
    return found


def _scale(model: PurchaseModel, name: RowName) -> float:
    """Size by which a limit of nothing is judged."""
    problem = model.problem
    if name.family == "holding_days":
        need = problem.live[int(name.key[0])]
        return float(need.sent_kg.max(initial=1.0))
    if name.family == "minimum_order":
        slot = problem.slots[int(name.key[0])]
        return problem.suppliers[slot.supplier_id].minimum_order_amount
    return max(1.0, sum(one.budget for one in problem.quarters) or 1000.0)


def _let_locks_go(model: PurchaseModel, families: Collection[Family]) -> dict[int, int]:
    """Let lines be bought that a lock of these kinds holds, at a price for each."""
    program, problem = model.program, model.problem
    upper = np.concatenate(program.upper)
    found: dict[int, int] = {}
    for place, line in enumerate(model.steps.line):
        lock = problem.lines[line].lock
        if not lock or lock not in families:
            continue
        if int(line) not in found:
            slot = problem.slots[problem.lines[line].slot]
            price = WEIGHTS.get(lock, 1.0) * (1.0 + (slot.held_chance if lock == "held" else 0.0))
            (column,) = program.add_columns(1, price, 0.0, 1.0, whole=True)
            found[int(line)] = int(column)
        upper[model.packs[place]] = model.steps.to_packs[place]
        columns = [model.packs[place], found[int(line)]]
        program.add_row(
            RowName("unlocked"), columns, [1.0, -model.steps.to_packs[place]], upper=0.0
        )
        if model.chosen[place] >= 0:
            upper[model.chosen[place]] = 1.0
    later = np.concatenate(program.upper)[len(upper) :]
    program.upper[:] = [upper, later]
    return found
