"""Deliveries of goods that keep, moved as near to their use as the plan allows."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from planner.ordering.problem import PurchaseProblem
    from planner.ordering.solving import Purchase, Solution

NEGLIGIBLE = 1e-6
"""Quantity below which a difference is nothing but rounding."""


def as_late_as_useful(problem: PurchaseProblem, solution: Solution) -> Solution:
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
            if all((offer, other) in place for offer in offers) and _is_met(problem, moved):
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


def _is_met(problem: PurchaseProblem, bought: dict[tuple[int, int], Purchase]) -> bool:
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
