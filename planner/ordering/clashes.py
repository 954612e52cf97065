"""Why no plan meets every limit: which limits clash, and the least change that resolves it.

Limits are relaxed at a price of their own size: a tenth more budget weighs as much as a
tenth more worms in store. Then each kind of limit is relaxed alone, to see which of them
resolves it alone.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from planner.errors import OrderError
from planner.messages import say
from planner.ordering.changes import (
    FAMILIES,
    Change,
    Family,
    in_order,
    joined_changes,
    with_changes,
)
from planner.ordering.delivery_days import without_dominated_days, without_locked_lines
from planner.ordering.linear_program import PurchaseModel, RowName
from planner.ordering.model import build_model
from planner.ordering.request import Effort
from planner.ordering.searching import run_search

if TYPE_CHECKING:
    from collections.abc import Collection

    from planner.ordering.problem import PurchaseProblem


WEIGHTS: dict[Family, float] = {"need": 4.0, "live_need": 4.0, "held": 12.0, "late": 2.0}
"""Going short weighs more than a change of a limit, sending worms into heat or frost most."""

NEGLIGIBLE = 1e-6
SEARCH = Effort(1e-3, 600)
"""Changes are rounded for an officer; proving them to the penny would take most of the time."""


ROUNDS = 3
"""Most times that changes are held against the problem that they make."""


@dataclass(frozen=True)
class Clashes:
    """What makes an order possible that cannot be planned as it is."""

    problem: PurchaseProblem  # the purchase problem, to which keys of changes refer
    least: tuple[Change, ...]  # the least change over all kinds of limits
    # for each kind of limit that resolves it alone, its least change
    alone: dict[Family, tuple[Change, ...]]
    # offers and slots from which a plan buys once the least change is made
    enough: frozenset[tuple[int, int]] = frozenset()


def find_clashes(problem: PurchaseProblem, search: Effort = SEARCH) -> Clashes:
    """Find the least change that makes a purchase problem solvable.

    The search for the least change of one kind takes a third of the nodes.

    Raises
    ------
    OrderError
        No change that was looked for makes a plan possible, or none was found in time.
    """
    found = _least_change(problem, FAMILIES, search)
    if found is None:
        raise OrderError(say("order.fail.no_change"))
    found = _completed(problem, found, search)
    kinds = {change.family for change in found[0]}
    alone, brief = {}, replace(search, nodes_count=search.nodes_count // 3)
    for family in FAMILIES:
        # where one kind is the least of all, it is the least of its own
        other = found if kinds == {family} else _least_change(problem, (family,), brief)
        if other is not None and other[0]:
            alone[family] = other[0]
    return Clashes(problem, found[0], alone, found[1])


def _completed(
    problem: PurchaseProblem,
    found: tuple[tuple[Change, ...], frozenset[tuple[int, int]]],
    search: Effort,
) -> tuple[tuple[Change, ...], frozenset[tuple[int, int]]]:
    """Add what must give way besides: with fewer events in reach, fewer packs are of use."""
    changes, enough = found
    for _ in range(ROUNDS):
        changed = with_changes(problem, changes)
        bought = tuple(line for line in changed.lines if (line.offer, line.slot) in enough)
        fewer = build_model(without_locked_lines(replace(changed, lines=bought)))
        if run_search(fewer.program, search).outcome == "solved":
            break
        more = _least_change(without_locked_lines(changed), FAMILIES, search)
        if more is None:
            break
        changes, enough = joined_changes(changes, more[0]), more[1]
    return changes, enough


def _least_change(
    problem: PurchaseProblem, families: Collection[Family], search: Effort
) -> tuple[tuple[Change, ...], frozenset[tuple[int, int]]] | None:
    """Find the least change of limits of these kinds, and what a plan buys once it is made."""
    model = build_model(without_dominated_days(problem), keeps_weekly_limits=False)
    program = model.program
    program.cost[:] = [np.zeros_like(cost) for cost in program.cost]
    slack = _relax_rows(model, families)
    unlocked = _relax_locks(model, families)
    # without anything that could give way it is the problem that has no plan
    answer = run_search(program, search) if slack or unlocked else None
    if answer is None or answer.values is None:
        return None
    changes = [
        Change(name.family, name.key, limit, float(answer.values[column]))  # type: ignore[arg-type]
        for column, (name, limit) in slack.items()
        if answer.values[column] > NEGLIGIBLE
    ]
    place = {(line.offer, line.slot): number for number, line in enumerate(problem.lines)}
    for number, column in unlocked.items():
        line = model.problem.lines[number]
        if answer.values[column] > 0.5:
            key = (place[line.offer, line.slot],)
            changes.append(Change(line.lock, key, 0.0, 1.0))  # type: ignore[arg-type]
    bought = model.steps.line[answer.values[model.packs] > 0.5]
    lines = [model.problem.lines[number] for number in bought]
    return in_order(changes), frozenset((line.offer, line.slot) for line in lines)


def _relax_rows(
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


def _relax_locks(model: PurchaseModel, families: Collection[Family]) -> dict[int, int]:
    """Let lines be bought that a lock of these kinds holds, at a price for each."""
    program, problem = model.program, model.problem
    upper = np.concatenate(program.upper)
    found: dict[int, int] = {}
    for place, line in enumerate(model.steps.line):
        lock = problem.lines[line].lock
        if not lock or lock not in families:
            continue
        if int(line) not in found:
            risk = problem.lines[line].held_chance if lock == "held" else 0.0
            price = WEIGHTS.get(lock, 1.0) * (1.0 + risk)
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
