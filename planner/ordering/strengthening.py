"""Rows and columns that only help a search: what parts must cost at least, and how many there are.

Worms do not keep, so most hand-overs are served apart from each other, and goods that keep
are needed item by item. Each such part is a small problem that is solved at once; its cost
is a bound that the search of the whole would need long to find for all parts together.
Where many days serve alike, what matters is how many deliveries, pallets and orders at a
price there are: counting them in columns of their own lets the search decide on the count
at once instead of day by day.
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


def strengthen(model: PurchaseModel) -> None:
    """Add everything that helps the search and changes no plan.

    Parameters
    ----------
    model
        A model that is about to be searched.
    """
    bound_worm_cost_by_part(model)
    bound_cost_by_item(model)
    count_alike(model)


def bound_worm_cost_by_part(model: PurchaseModel) -> None:
    """Add to a model the least cost of the worms of each part, with the freight of its days.

    Least orders that goods which keep may help to reach count nothing here.

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
        places = np.flatnonzero(live_step & np.isin(slot_of_step, slots))
        _add_least(model, "live_part", places, slots, least)


def bound_cost_by_item(model: PurchaseModel) -> None:
    """Add the least cost of each item that keeps, with freight and without.

    Whole packs and price breaks of an item alone are cheap to search; freight that other
    goods on the same days pay too stands in the sum in full.

    Parameters
    ----------
    model
        A model that is about to be searched.
    """
    problem, offers = model.problem, model.problem.offers
    for need in problem.stored:
        lines = tuple(
            line
            for line in problem.lines
            if offers[line.offer].item == need.item and not offers[line.offer].is_live
        )
        if not lines:
            continue
        slots = sorted({line.slot for line in lines})
        mine = [one.item == need.item and not one.is_live for one in offers]
        places = np.flatnonzero(np.array(mine)[model.offer_of_step()])
        for with_freight in (False, True):
            part = replace(
                problem,
                suppliers={code: _without_terms(one, keeps_freight=with_freight)
                           for code, one in problem.suppliers.items()},
                lines=lines, stored=(need,), live=(), quarters=(), largest_supplier_share=1.0,
                store=None,
            )  # fmt: skip
            answer = run_search(build_model(part).program, PART)
            if answer.outcome != "infeasible":
                freight_slots = slots if with_freight else []
                _add_least(model, "item_part", places, freight_slots, answer.bound)


def _without_terms(supplier: Supplier, *, keeps_freight: bool) -> Supplier:
    """Leave out a supplier's least order, and its freight where that is not kept."""
    free = replace(supplier, minimum_order_amount=0.0)
    return (
        free if keeps_freight else replace(free, freight_per_delivery=0.0, freight_per_pallet=0.0)
    )


def _add_least(
    model: PurchaseModel, family: str, places: NDArray[np.int64], slots: list[int], least: float
) -> None:
    """Add that some price steps, with the freight of some days, cost no less than found."""
    if least <= 0.0:
        return
    choices = places[model.chosen[places] >= 0]
    columns = [*model.packs[places], *model.chosen[choices]]
    costs = [*model.steps.price[places], *model.steps.fixed_cost[choices]]
    for slot in slots:
        supplier = model.problem.suppliers[model.problem.slots[slot].supplier_id]
        for column, cost in (
            (model.used[slot], supplier.freight_per_delivery),
            (model.pallets[slot], supplier.freight_per_pallet),
        ):
            if column >= 0:
                columns.append(column)
                costs.append(cost)
    model.program.add_row(RowName(family), columns, costs, lower=least * (1.0 - ROUNDING))


def count_alike(model: PurchaseModel) -> None:
    """Count deliveries and pallets by supplier, and orders of an offer by price, in columns.

    Parameters
    ----------
    model
        A model that is about to be searched.
    """
    problem = model.problem
    owner = np.array([slot.supplier_id for slot in problem.slots], dtype=object)
    for code in problem.suppliers:
        _count(model, model.used[owner == code])
        _count(model, model.pallets[owner == code])
    offer = model.offer_of_step()
    for number, one in enumerate(problem.offers):
        if one.is_live:
            continue
        mine = offer == number
        _count(model, model.chosen[mine])
        for step in one.steps:
            _count(model, model.chosen[mine & (model.steps.price == step.price_per_pack)])


def _count(model: PurchaseModel, columns: NDArray[np.int64]) -> None:
    """Add a whole column that is the sum of others; -1 stands for none."""
    there = columns[columns >= 0]
    if len(there) > 1:
        total = model.program.add_columns(1, whole=True)
        values = [*np.ones(len(there)), -1.0]
        model.program.add_row(RowName("count"), [*there, *total], values, 0.0, 0.0)


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
        suppliers={
            code: _without_terms(one, keeps_freight=True) if code in keeps_too else one
            for code, one in problem.suppliers.items()
        },
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
