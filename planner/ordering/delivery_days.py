"""Days of delivery of goods that keep: those worth a search, and the latest that serve."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from planner.ordering.model import is_bought_at_once

if TYPE_CHECKING:
    from planner.ordering.problem import Line, LiveNeed, PurchaseProblem
    from planner.ordering.solving import Purchase, Solution


def reduced(problem: PurchaseProblem, *, keeps_worms_apart: bool = False) -> PurchaseProblem:
    """Leave out locked lines, worms held too long, and lines that others stand in for.

    Goods that keep are as good from the first day of a quarter as from a later one: they
    come no later and are paid from the same budget. So the first alone is kept, unless the
    supplier sends worms too, with which a later delivery might travel, or room in store
    or a weekly limit asks for several.

    Parameters
    ----------
    problem
        The purchase problem.
    keeps_worms_apart
        Let goods that keep come on the first day of a quarter even from suppliers of worms:
        a smaller problem whose plans are plans of the whole, if not its cheapest.
    """
    lines = [line for line in problem.lines if not line.lock]
    if problem.store is None:
        with_live = {offer.supplier_id for offer in problem.offers if offer.is_live}
        lines = _first_of_quarters(problem, lines, set() if keeps_worms_apart else with_live)
    live = tuple(_within_limit(need, problem.holding_days_most) for need in problem.live)
    return replace(problem, lines=tuple(lines), live=live)


def _first_of_quarters(
    problem: PurchaseProblem, lines: list[Line], kept_whole: set[str]
) -> list[Line]:
    first: dict[tuple[int, int], Line] = {}
    kept = []
    for line in sorted(lines, key=lambda one: problem.slots[one.slot].delivery_date):
        offer, slot = problem.offers[line.offer], problem.slots[line.slot]
        is_first = first.setdefault((line.offer, slot.quarter), line) is line
        if is_first or not is_bought_at_once(offer) or offer.supplier_id in kept_whole:
            kept.append(line)
    return kept


def _within_limit(need: LiveNeed, holding_days_most: int) -> LiveNeed:
    kept = need.held_days <= holding_days_most
    return replace(
        need,
        slots=need.slots[kept],
        sent_kg=need.sent_kg[kept],
        held_days=need.held_days[kept],
    )


NEGLIGIBLE = 1e-6
"""Quantity below which a difference is nothing but rounding."""


def postpone_deliveries(problem: PurchaseProblem, solution: Solution) -> Solution:
    """Move each delivery of bins and bedding to the last day of its quarter that serves.

    Costs and quantities stay; every need is met as before, and the store is fuller for a
    shorter time. Deliveries with worms stay on their day.

    Parameters
    ----------
    problem
        The purchase problem with all its lines.
    solution
        A plan of it.
    """
    bought: dict[tuple[int, int], Purchase] = {}
    for one in solution.purchases:
        line = solution.problem.lines[one.line]
        bought[line.offer, line.slot] = one
    pallets = dict(solution.pallets_count)
    place = {(line.offer, line.slot): n for n, line in enumerate(problem.lines) if not line.lock}
    for slot in sorted(pallets, key=lambda one: problem.slots[one].delivery_date, reverse=True):
        offers = [offer for offer, where in bought if where == slot]
        if any(problem.offers[offer].is_live for offer in offers):
            continue
        for other in _later_slots(problem, slot, set(pallets)):
            moved = {
                (offer, other if where == slot else where): one
                for (offer, where), one in bought.items()
            }
            if all((offer, other) in place for offer in offers) and _meets_needs(problem, moved):
                bought = moved
                pallets[other] = pallets.pop(slot)
                break
    purchases = [replace(one, line=place[key]) for key, one in bought.items() if key in place]
    ordered = sorted(purchases, key=lambda one: (problem.lines[one.line].slot, one.line))
    return replace(solution, problem=problem, purchases=tuple(ordered), pallets_count=pallets)


def _later_slots(problem: PurchaseProblem, slot: int, taken: set[int]) -> list[int]:
    """List free slots of the same supplier and quarter after one, the last first."""
    here = problem.slots[slot]
    later = [
        number
        for number, other in enumerate(problem.slots)
        if (other.supplier_id, other.quarter) == (here.supplier_id, here.quarter)
        and other.delivery_date > here.delivery_date
        and number not in taken
    ]
    return sorted(later, key=lambda number: problem.slots[number].delivery_date, reverse=True)


def _meets_needs(problem: PurchaseProblem, bought: dict[tuple[int, int], Purchase]) -> bool:
    for need in problem.stored:
        mine = [
            (problem.slots[slot].delivery_date, one.packs_count, problem.offers[offer])
            for (offer, slot), one in bought.items()
            if problem.offers[offer].item == need.item and not problem.offers[offer].is_live
        ]
        came = [
            sum(packs * offer.pack_quantity for day, packs, offer in mine if day <= ready)
            for ready in need.ready_dates
        ]
        if np.any(np.array(came) < need.quantities - NEGLIGIBLE):
            return False
    return True
