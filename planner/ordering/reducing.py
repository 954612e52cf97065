"""A purchase problem without what cannot be bought, or is never better than another line."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from planner.ordering.limits import is_bought_at_once

if TYPE_CHECKING:
    from planner.ordering.problem import Line, LiveNeed, PurchaseProblem


def reduced(problem: PurchaseProblem, *, sends_apart: bool = False) -> PurchaseProblem:
    """Leave out locked lines, worms held too long, and lines that others stand in for.

    Goods that keep are as good from the first day of a quarter as from a later one: they
    come no later and are paid from the same budget. So the first alone is kept, unless the
    supplier sends worms too, with which a later delivery might travel, or room in store
    or a weekly limit asks for several.

    Parameters
    ----------
    problem
        The purchase problem.
    sends_apart
        Let goods that keep come on the first day of a quarter even from suppliers of worms:
        a smaller problem whose plans are plans of the whole, if not its cheapest.
    """
    lines = [line for line in problem.lines if not line.lock]
    if problem.store is None:
        with_live = {offer.supplier_id for offer in problem.offers if offer.is_live}
        lines = _first_of_quarters(problem, lines, set() if sends_apart else with_live)
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
