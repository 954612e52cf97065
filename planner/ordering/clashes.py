"""Why no plan meets every limit: which limits clash, and the least change that resolves it.

Limits are relaxed at a price of their own size: a tenth more budget weighs as much as a
tenth more worms in store. Then each kind of limit is relaxed alone, to see which of them
resolves it alone.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any, Literal, get_args

import numpy as np

from planner.errors import OrderError
from planner.messages import say
from planner.ordering.delivery_days import without_dominated_days, without_locked_lines
from planner.ordering.linear_program import PurchaseModel, RowName
from planner.ordering.model import build_model
from planner.ordering.request import Effort
from planner.ordering.searching import run_search

if TYPE_CHECKING:
    from collections.abc import Callable, Collection

    from planner.ordering.problem import PurchaseProblem


Family = Literal[
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
]
"""Kinds of limits, in the order in which they are reported."""

FAMILIES: tuple[Family, ...] = get_args(Family)

WEIGHTS: dict[Family, float] = {"need": 4.0, "live_need": 4.0, "held": 12.0, "late": 2.0}
"""Going short weighs more than a change of a limit, sending worms into heat or frost most."""

NEGLIGIBLE = 1e-6
SEARCH = Effort(1e-3, 600)
"""Changes are rounded for an officer; proving them to the penny would take most of the time."""


ROUNDS = 3
"""Most times that changes are held against the problem that they make."""


@dataclass(frozen=True)
class Change:
    """One limit that must give way."""

    # kind of limit, and the places in the problem that it is about
    family: Family
    key: tuple[int | str, ...]
    # the limit as it is, and by how much it must change, in its own unit
    limit: float
    change: float


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


def joined_changes(first: tuple[Change, ...], more: tuple[Change, ...]) -> tuple[Change, ...]:
    """Put changes of changed limits to those before: what gives way twice is one change."""
    found = {(one.family, one.key): one for one in first}
    for one in more:
        before = found.get((one.family, one.key))
        if before is None:
            found[one.family, one.key] = one
        elif one.family == "live_need":
            # a share of what was left of the day
            left = (1.0 - before.change) * (1.0 - one.change)
            found[one.family, one.key] = replace(before, change=1.0 - left)
        else:
            found[one.family, one.key] = replace(before, change=before.change + one.change)
    return _in_order(found.values())


def _in_order(changes: Collection[Change]) -> tuple[Change, ...]:
    return tuple(sorted(changes, key=lambda change: FAMILIES.index(change.family)))


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
    return _in_order(changes), frozenset((line.offer, line.slot) for line in lines)


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


MARGIN = 1e-4
"""Share by which a change is made larger, so that its rounding leaves no clash."""


def with_changes(problem: PurchaseProblem, changes: tuple[Change, ...]) -> PurchaseProblem:
    """Apply changes to the limits of a problem that has no plan, so that it can be solved."""
    for change in changes:
        problem = _CHANGES[change.family](problem, change)
    return problem


def _more(change: Change) -> float:
    return change.change * (1.0 + MARGIN)


def _changed(items: tuple[Any, ...], change: Change, **fields: object) -> tuple[Any, ...]:
    """Change the one that a change is about."""
    place = int(change.key[0])
    return (*items[:place], replace(items[place], **fields), *items[place + 1 :])


def _unlock(problem: PurchaseProblem, change: Change) -> PurchaseProblem:
    return replace(problem, lines=_changed(problem.lines, change, lock=""))


def _raise_budget(problem: PurchaseProblem, change: Change) -> PurchaseProblem:
    budget = problem.quarters[int(change.key[0])].budget + _more(change)
    return replace(problem, quarters=_changed(problem.quarters, change, budget=budget))


def _store_more(problem: PurchaseProblem, change: Change) -> PurchaseProblem:
    if problem.store is None:
        return problem
    # room that lacks on several days is the same room: the most of them, not all together
    taken = problem.store.bins_most - problem.store.room_on(_day_of(change))
    most = max(problem.store.bins_most, taken + change.limit + _more(change))
    return replace(problem, store=replace(problem.store, bins_most=most))


def _day_of(change: Change) -> dt.date:
    return dt.date.fromisoformat(str(change.key[-1]))


def _waive_minimum(problem: PurchaseProblem, change: Change) -> PurchaseProblem:
    below = problem.slots[int(change.key[0])].below_least_amount + _more(change)
    return replace(problem, slots=_changed(problem.slots, change, below_least_amount=below))


def _raise_weekly_limit(problem: PurchaseProblem, change: Change) -> PurchaseProblem:
    """Let more be sent in this week alone: as if fewer packs had been ordered for it before."""
    place, week = int(change.key[0]), _day_of(change)
    weekly = dict(problem.commitments.weekly_packs)
    most = problem.offers[place].weekly_limit_packs_count or 0
    weekly[place, week] = most - int(np.ceil(change.limit + change.change - MARGIN))
    return replace(problem, commitments=replace(problem.commitments, weekly_packs=weekly))


def _hold_more(problem: PurchaseProblem, change: Change) -> PurchaseProblem:
    needed = problem.commitments.held_on(_day_of(change)) + change.limit + _more(change)
    return replace(problem, holding_kg_most=max(problem.holding_kg_most, needed))


def _hold_longer(problem: PurchaseProblem, change: Change) -> PurchaseProblem:
    """Let worms of this delivery be held for this day alone, as if for no longer than others."""
    need = problem.live[int(change.key[0])]
    is_it = need.slots == int(change.key[1])
    held = np.where(is_it, problem.holding_days_most, need.held_days)
    return replace(problem, live=_changed(problem.live, change, held_days=held))


def _share_more(problem: PurchaseProblem, change: Change) -> PurchaseProblem:
    """Let this supplier alone have more, by what lacks."""
    one = problem.suppliers[str(change.key[0])]
    beyond = one.beyond_share_amount + _more(change)
    changed = {one.supplier_id: replace(one, beyond_share_amount=beyond)}
    return replace(problem, suppliers={**problem.suppliers, **changed})


def _serve_fewer_live(problem: PurchaseProblem, change: Change) -> PurchaseProblem:
    left, need = max(0.0, 1.0 - _more(change)), problem.live[int(change.key[0])]
    needed, sent = need.needed_kg * left, need.sent_kg * left
    return replace(problem, live=_changed(problem.live, change, needed_kg=needed, sent_kg=sent))


def _serve_fewer(problem: PurchaseProblem, change: Change) -> PurchaseProblem:
    stored = list(problem.stored)
    place, step = int(change.key[0]), int(change.key[1])
    quantities = stored[place].quantities.copy()
    # at another level of service the day needs more or less: the same share of it is left
    limit = float(quantities[step])
    left = limit * (1.0 - _more(change) / change.limit)
    # events that ask for no more than this one have no row of their own
    same = (np.arange(len(quantities)) >= step) & (quantities <= limit)
    quantities[same] = np.minimum(quantities[same], left)
    stored[place] = replace(stored[place], quantities=quantities)
    return replace(problem, stored=tuple(stored))


_CHANGES: dict[str, Callable[[PurchaseProblem, Change], PurchaseProblem]] = {
    "held": _unlock,
    "late": _unlock,
    "not_offered": _unlock,
    "budget": _raise_budget,
    "store": _store_more,
    "minimum_order": _waive_minimum,
    "weekly_limit": _raise_weekly_limit,
    "holding_kg": _hold_more,
    "holding_days": _hold_longer,
    "share": _share_more,
    "live_need": _serve_fewer_live,
    "need": _serve_fewer,
}
