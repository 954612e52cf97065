"""Days of delivery: those on which a cheapest plan can be found, and the latest that serve.

A purchase problem names every day on which a supplier could send. Most of them can be left
out without loss: whatever is bought for such a day could be bought for another one at no
more cost and with no limit missed. `without_dominated_days` leaves out exactly these.
"""

from __future__ import annotations

from bisect import bisect_left
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

import numpy as np

from planner.ordering.linear_program import most_packs
from planner.ordering.working_days import monday_of

if TYPE_CHECKING:
    import datetime as dt
    from collections.abc import Collection

    from planner.ordering.problem import Line, LiveNeed, Lock, Offer, PurchaseProblem
    from planner.ordering.solving import Purchase, Solution

NEGLIGIBLE = 1e-6
"""Quantity below which a difference is nothing but rounding."""


def without_locked_lines(problem: PurchaseProblem) -> PurchaseProblem:
    """Leave out lines that may not be bought, and worms that cannot come or be held so long."""
    lines = tuple(line for line in problem.lines if not line.lock)
    sends_worms = sorted({line.slot for line in lines if problem.offers[line.offer].is_live})
    live = tuple(
        _kept_sources(
            need,
            (need.held_days <= problem.holding_days_most) & np.isin(need.slots, sends_worms),
        )
        for need in problem.live
    )
    return replace(problem, lines=lines, live=live)


def _kept_sources(need: LiveNeed, kept: np.ndarray) -> LiveNeed:
    return replace(
        need,
        slots=need.slots[kept],
        sent_kg=need.sent_kg[kept],
        held_days=need.held_days[kept],
    )


def without_dominated_days(
    problem: PurchaseProblem, enough: Collection[tuple[int, int]] = ()
) -> PurchaseProblem:
    """Leave out the days of delivery that another day of the supplier stands in for.

    Days of the offers and slots that are `enough` stay.

    Notes
    -----
    A day stands in for another one of the same supplier where all of this holds:

    - both are paid from the same quarter's budget, and fall in the same week where an
      offer has a weekly limit;
    - every offer that can be had on the other can be had on it, and no larger order is asked;
    - goods that keep come before the same days of need or earlier, and, where room for
      bins is limited, no earlier than room for them is made;
    - worms serve the same events, with no more mass to send and no longer holding.

    Then a whole delivery may move to it. Where it meets another delivery there, the two
    become one: freight is paid once, pallets and least orders are no worse, and prices
    that fall with the quantity make the goods no dearer. So the cheapest plan over the
    days that are kept is the cheapest over all. Suppliers with a price that rises with the
    quantity keep every day. Only the largest share of a supplier could gain by a delivery
    split in two, to have it cost more; `solving` bounds what that could save.
    """
    # lines that come after all need, or with worms that no event can take
    used = zip(problem.lines, most_packs(problem) > 0.0, strict=True)
    problem = replace(problem, lines=tuple(line for line, is_useful in used if is_useful))
    days = _described_days(problem)
    kept: dict[tuple[str, int], list[_Day]] = {}
    for day in days:
        rivals = kept.setdefault((day.supplier_id, day.quarter), [])
        if any(_stands_in(rival, day) for rival in rivals):
            continue
        # to stand in is transitive, so what a dropped rival stood in for is stood in for still
        rivals[:] = [rival for rival in rivals if not _stands_in(day, rival)]
        rivals.append(day)
    slots = {day.slot for rivals in kept.values() for day in rivals} | {slot for _, slot in enough}
    live = tuple(_kept_sources(need, np.isin(need.slots, sorted(slots))) for need in problem.live)
    lines = tuple(line for line in problem.lines if line.slot in slots)
    return replace(problem, lines=lines, live=live)


@dataclass
class _Day:
    """A slot, as far as it matters to which others it can stand in for."""

    slot: int
    supplier_id: str
    quarter: int
    week: dt.date
    delivery_date: dt.date
    needs_behind: int
    rooms_behind: int
    least_order: float
    held_chances: dict[int, float] = field(default_factory=dict)
    locks: dict[int, Lock] = field(default_factory=dict)
    sent_kg: dict[int, float] = field(default_factory=dict)
    is_limited: bool = False
    has_stored: bool = False
    has_bins: bool = False
    merges: bool = True


def _described_days(problem: PurchaseProblem) -> list[_Day]:
    """Describe every slot for which something can be bought, by day of delivery."""
    ready = sorted({day for need in problem.stored for day in need.ready_dates})
    room = sorted(set(problem.store.event_dates)) if problem.store else []
    days: dict[int, _Day] = {}
    for line in problem.lines:
        day = days.get(line.slot) or _described(problem, line, ready, room)
        days[line.slot] = day
        offer = problem.offers[line.offer]
        day.locks[line.offer] = line.lock
        if line.lock == "held":
            day.held_chances[line.offer] = line.held_chance
        day.is_limited |= offer.weekly_limit_packs_count is not None
        day.has_stored |= not offer.is_live
        day.has_bins |= offer.item_kind == "bins"
        day.merges &= is_cheaper_together(offer)
    for number, need in enumerate(problem.live):
        for slot, kilos in zip(need.slots, need.sent_kg, strict=True):
            if need.needed_kg > 0.0 and int(slot) in days:
                days[int(slot)].sent_kg[number] = float(kilos)
    return sorted(days.values(), key=lambda day: (day.delivery_date, day.slot))


def _described(
    problem: PurchaseProblem, line: Line, ready: list[dt.date], room: list[dt.date]
) -> _Day:
    slot = problem.slots[line.slot]
    return _Day(
        line.slot,
        slot.supplier_id,
        slot.quarter,
        monday_of(slot.dispatch_date),
        slot.delivery_date,
        bisect_left(ready, slot.counted_date),
        bisect_left(room, slot.delivery_date),
        problem.least_order(line.slot),
    )


def _stands_in(one: _Day, other: _Day) -> bool:
    """Tell whether whatever is bought for the other day could come on this one."""
    if not other.merges or (other.is_limited and one.week != other.week):
        return False
    if one.least_order > other.least_order:
        return False
    if any(one.locks.get(offer, "none") not in ("", lock) for offer, lock in other.locks.items()):
        return False
    if other.has_stored and one.needs_behind > other.needs_behind:
        return False
    if other.has_bins and one.rooms_behind < other.rooms_behind:
        return False
    if other.sent_kg and one.delivery_date < other.delivery_date:
        return False
    if any(
        one.held_chances.get(offer, 0.0) > chance for offer, chance in other.held_chances.items()
    ):
        return False
    return all(one.sent_kg.get(n, np.inf) <= kilos for n, kilos in other.sent_kg.items())


def is_cheaper_together(offer: Offer) -> bool:
    """Tell whether two orders of an offer never cost less than one: its price only falls.

    Examples
    --------
    >>> from planner.ordering.problem import Offer, PriceStep
    >>> steps = (PriceStep(1, 10.0), PriceStep(11, 8.0))
    >>> is_cheaper_together(Offer("O", "S", "bins", "m", "m", 1.0, None, 1, None, False, steps))
    True
    """
    prices = [step.price_per_pack for step in offer.steps]
    return prices == sorted(prices, reverse=True)


def postpone_deliveries(problem: PurchaseProblem, solution: Solution) -> Solution:
    """Move each delivery of bins and bedding to the last day of its quarter that serves.

    Costs and quantities stay; every need is met as before, and the store is fuller for a
    shorter time. Deliveries with worms, or with an offer that has a weekly limit, stay. The
    problem has all its lines.
    """
    bought: dict[tuple[int, int], Purchase] = {}
    for one in solution.purchases:
        line = solution.problem.lines[one.line]
        bought[line.offer, line.slot] = one
    pallets = dict(solution.pallets_count)
    place = {(line.offer, line.slot): n for n, line in enumerate(problem.lines) if not line.lock}
    for slot in sorted(pallets, key=lambda one: problem.slots[one].delivery_date, reverse=True):
        offers = [offer for offer, where in bought if where == slot]
        if any(
            problem.offers[offer].is_live
            or problem.offers[offer].weekly_limit_packs_count is not None
            for offer in offers
        ):
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
        and problem.least_order(number) <= problem.least_order(slot)
    ]
    return sorted(later, key=lambda number: problem.slots[number].delivery_date, reverse=True)


def _meets_needs(problem: PurchaseProblem, bought: dict[tuple[int, int], Purchase]) -> bool:
    for need in problem.stored:
        mine = [
            (problem.slots[slot].counted_date, one.packs_count, problem.offers[offer])
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
