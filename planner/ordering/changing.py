"""A purchase problem with some of its limits changed."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Callable

    from planner.ordering.clashes import Change
    from planner.ordering.problem import PurchaseProblem

MARGIN = 1e-4
"""Share by which a change is made larger, so that its rounding leaves no clash."""


def with_changes(problem: PurchaseProblem, changes: tuple[Change, ...]) -> PurchaseProblem:
    """Change a problem's limits as told, so that it can be solved.

    Parameters
    ----------
    problem
        A problem that has no plan.
    changes
        As found by `find_clashes`.
    """
    for change in changes:
        problem = _CHANGES[change.family](problem, change)
    return problem


def _unlock(problem: PurchaseProblem, change: Change) -> PurchaseProblem:
    lines = list(problem.lines)
    place = int(change.key[0])
    lines[place] = replace(lines[place], lock="")
    return replace(problem, lines=tuple(lines))


def _raise_budget(problem: PurchaseProblem, change: Change) -> PurchaseProblem:
    quarters = list(problem.quarters)
    place = int(change.key[0])
    budget = quarters[place].budget + change.change * (1.0 + MARGIN)
    quarters[place] = replace(quarters[place], budget=budget)
    return replace(problem, quarters=tuple(quarters))


def _store_more(problem: PurchaseProblem, change: Change) -> PurchaseProblem:
    if problem.store is None:
        return problem
    most = problem.store.bins_most + change.change * (1.0 + MARGIN)
    return replace(problem, store=replace(problem.store, bins_most=most))


def _waive_minimum(problem: PurchaseProblem, change: Change) -> PurchaseProblem:
    supplier = problem.slots[int(change.key[0])].supplier_id
    waived = replace(problem.suppliers[supplier], minimum_order_amount=0.0)
    return replace(problem, suppliers={**problem.suppliers, supplier: waived})


def _raise_weekly_limit(problem: PurchaseProblem, change: Change) -> PurchaseProblem:
    offers = list(problem.offers)
    place = int(change.key[0])
    limit = int(np.ceil(change.limit + change.change - MARGIN))
    offers[place] = replace(offers[place], weekly_limit_packs_count=limit)
    return replace(problem, offers=tuple(offers))


def _hold_more(problem: PurchaseProblem, change: Change) -> PurchaseProblem:
    most = max(problem.holding_kg_most, change.limit + change.change * (1.0 + MARGIN))
    return replace(problem, holding_kg_most=most)


def _hold_longer(problem: PurchaseProblem, change: Change) -> PurchaseProblem:
    need = problem.live[int(change.key[0])]
    held = need.held_days[need.slots == int(change.key[1])]
    most = int(held.max(initial=problem.holding_days_most))
    return replace(problem, holding_days_most=most)


def _share_more(problem: PurchaseProblem, change: Change) -> PurchaseProblem:
    del change  # what one supplier may have beyond its share depends on all the rest
    return replace(problem, largest_supplier_share=1.0)


def _serve_fewer_live(problem: PurchaseProblem, change: Change) -> PurchaseProblem:
    live = list(problem.live)
    place = int(change.key[0])
    left = max(0.0, 1.0 - change.change * (1.0 + MARGIN))
    need = live[place]
    live[place] = replace(need, needed_kg=need.needed_kg * left, sent_kg=need.sent_kg * left)
    return replace(problem, live=tuple(live))


def _serve_fewer(problem: PurchaseProblem, change: Change) -> PurchaseProblem:
    stored = list(problem.stored)
    place, step = int(change.key[0]), int(change.key[1])
    quantities = stored[place].quantities.copy()
    left = change.limit - change.change * (1.0 + MARGIN)
    # events that ask for no more than this one have no row of their own
    same = (np.arange(len(quantities)) >= step) & (quantities <= change.limit)
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
