"""What worms must cost at least, hand-over by hand-over, added to the model as a bound.

Worms do not keep, so most hand-overs are served apart from each other. Each such part is a
small problem that is solved at once; its cost is a bound that the search of the whole would
need long to find for all parts together.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from planner.ordering.linear_program import RowName
from planner.ordering.model import build_model
from planner.ordering.request import Effort
from planner.ordering.searching import run_search

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from planner.ordering.linear_program import PurchaseModel
    from planner.ordering.problem import PurchaseProblem, Supplier

PART = Effort(1e-6, 200)
"""Effort for a part; where its nodes run out, what is proven by then still holds."""

ROUNDING = 1e-7
"""Share by which a bound is lowered, so that no plan is lost to the last bits."""


def bound_worm_cost_by_part(model: PurchaseModel) -> None:
    """Add to a model the least cost of the worms of each part.

    Freight and least orders that goods which keep may share count nothing here.

    Parameters
    ----------
    model
        A model that is about to be searched.
    """
    problem = model.problem
    is_live = np.array([offer.is_live for offer in problem.offers], dtype=bool)
    keeps_too = {offer.supplier_id for offer in problem.offers if not offer.is_live}
    live_step = is_live[model.offer_of_step()]
    slot_of_step = model.slot_of_step()
    for events in parts(problem):
        slots = sorted({int(slot) for number in events for slot in problem.live[number].slots})
        least = _least_cost(problem, events, slots, keeps_too)
        mine = np.flatnonzero(live_step & np.isin(slot_of_step, slots))
        choices = mine[model.chosen[mine] >= 0]
        columns = [*model.packs[mine], *model.chosen[choices]]
        costs = [*model.steps.price[mine], *model.steps.fixed_cost[choices]]
        for slot in slots:
            supplier = problem.suppliers[problem.slots[slot].supplier_id]
            if supplier.supplier_id in keeps_too:
                continue
            columns.append(model.used[slot])
            costs.append(supplier.freight_per_delivery)
            if model.pallets[slot] >= 0:
                columns.append(model.pallets[slot])
                costs.append(supplier.freight_per_pallet)
        if least > 0.0:
            name = RowName("live_part")
            model.program.add_row(name, columns, costs, lower=least * (1.0 - ROUNDING))


def parts(problem: PurchaseProblem) -> list[tuple[int, ...]]:
    """Divide the live needs into parts that share no slot.

    Parameters
    ----------
    problem
        The purchase problem.
    """
    owner: dict[int, int] = {}
    members: dict[int, list[int]] = {}
    for number, need in enumerate(problem.live):
        if need.needed_kg <= 0.0:
            continue
        touched = sorted({owner[int(slot)] for slot in need.slots if int(slot) in owner})
        joined = [number, *(event for key in touched for event in members.pop(key))]
        members[number] = joined
        for event in joined:
            owner.update(dict.fromkeys((int(slot) for slot in problem.live[event].slots), number))
    return [tuple(sorted(events)) for events in members.values()]


def _least_cost(
    problem: PurchaseProblem, events: tuple[int, ...], slots: list[int], keeps_too: set[str]
) -> float:
    """Least cost of the worms of some events, as if nothing else were bought."""
    part = replace(
        problem,
        suppliers={code: _alone(one, keeps_too) for code, one in problem.suppliers.items()},
        lines=tuple(
            line
            for line in problem.lines
            if line.slot in slots and problem.offers[line.offer].is_live
        ),
        stored=(),
        live=tuple(problem.live[number] for number in events),
        quarters=(),
        largest_supplier_share=1.0,
        store=None,
    )
    if not part.lines:
        return 0.0
    answer = run_search(build_model(_of_slots(part, slots)).program, PART)
    return answer.bound if answer.outcome != "infeasible" else 0.0


def _alone(supplier: Supplier, keeps_too: set[str]) -> Supplier:
    if supplier.supplier_id not in keeps_too:
        return supplier
    return replace(
        supplier, minimum_order_amount=0.0, freight_per_delivery=0.0, freight_per_pallet=0.0
    )


def _of_slots(problem: PurchaseProblem, slots: list[int]) -> PurchaseProblem:
    """Leave out all other slots, and number those that stay again."""
    place = {slot: number for number, slot in enumerate(slots)}

    def renumbered(old: NDArray[np.int64]) -> NDArray[np.int64]:
        return np.array([place[int(slot)] for slot in old], dtype=np.int64)

    return replace(
        problem,
        slots=tuple(problem.slots[slot] for slot in slots),
        lines=tuple(replace(line, slot=place[line.slot]) for line in problem.lines),
        live=tuple(replace(need, slots=renumbered(need.slots)) for need in problem.live),
    )
