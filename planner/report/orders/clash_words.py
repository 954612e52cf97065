"""Why an order cannot be planned, in words."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterable, Sequence
from typing import TYPE_CHECKING

from planner.messages import said
from planner.ordering.climate import why_without_worms
from planner.ordering.plan import OrderPlan, events_with_fewer_worms, events_without_worms
from planner.report.orders.order import unit_of
from planner.report.wording import Wording, listing

if TYPE_CHECKING:
    from planner.ordering.changes import Change
    from planner.ordering.clashes import Clashes
    from planner.ordering.problem import Line, PurchaseProblem

    _Words = dict[str, str | int]

MOST_OF_A_KIND = 3


def clash_lines(plan: OrderPlan, wording: Wording) -> list[str]:
    """Tell which limits clash, the least change, and which kinds of change do alone."""
    clashes = plan.clashes
    if clashes is None:
        return []
    told = describe_changes(clashes.least, clashes.problem, wording)
    lines = [said("order.clash.lead"), *(f"  - {words}" for words in told)]
    return [*lines, *lack_words(plan, wording), *_alone(clashes, wording)]


def lack_words(plan: OrderPlan, wording: Wording) -> list[str]:
    """Say why hand-over days get no worms, or too few, those of one cause together."""
    events = plan.demand.events
    causes: dict[tuple[str, str], list[tuple[str, dt.date]]] = {}
    for lack, numbers in (
        ("none", events_without_worms(plan)), ("fewer", events_with_fewer_worms(plan))
    ):  # fmt: skip
        for number in numbers:
            day = events.event_ids[number], events.event_dates[number]
            causes.setdefault((lack, why_without_worms(plan, number)), []).append(day)
    return [
        said(f"order.why.{cause}", days=_days_of(days, wording), lack=said(f"order.lack.{lack}"))
        for (lack, cause), days in causes.items()
    ]


def _days_of(days: Iterable[tuple[str, dt.date]], wording: Wording) -> str:
    named = (
        said("order.clash.event_day", event=event, day=wording.day(day)) for event, day in days
    )
    return listing(named, most=40)


def describe_changes(
    changes: Sequence[Change], problem: PurchaseProblem, wording: Wording
) -> list[str]:
    """Say changes of limits, those of a kind beside each other, many of a kind together."""
    lines: list[str] = []
    for family in dict.fromkeys(change.family for change in changes):
        mine = [change for change in changes if change.family == family]
        if family == "live_need" and len(mine) > MOST_OF_A_KIND:
            lines.append(_many_live_needs(mine, problem, wording))
            continue
        lines += [change_words(change, problem, wording) for change in mine[:MOST_OF_A_KIND]]
        if len(mine) > MOST_OF_A_KIND:
            lines[-1] += f" {said('order.clash.more', len(mine) - MOST_OF_A_KIND)}"
    return lines


def _many_live_needs(changes: Sequence[Change], problem: PurchaseProblem, wording: Wording) -> str:
    needs = [problem.live[int(change.key[0])] for change in changes]
    pairs = zip(changes, needs, strict=True)
    kilos = wording.number(sum(change.change * need.needed_kg for change, need in pairs), 1)
    days = _days_of(((one.event_id, one.event_date) for one in needs), wording)
    return said("order.clash.many_live_needs", count=len(needs), kilos=kilos, days=days)


def _alone(clashes: Clashes, wording: Wording) -> list[str]:
    others = {
        family: changes
        for family, changes in clashes.alone.items()
        if {change.family for change in clashes.least} != {family}
    }
    if not others:
        return []
    lines = [said("order.clash.alone")]
    for family, changes in others.items():
        suppliers = len(changes) if family == "share" else None
        lines.append(f"  - {said(f'order.clash.kind.{family}', suppliers)}:")
        lines += [f"    {words}" for words in describe_changes(changes, clashes.problem, wording)]
    return lines


def change_words(change: Change, problem: PurchaseProblem, wording: Wording) -> str:
    """Say one change in a sentence."""
    words = _WORDS[change.family](change, problem, wording)
    if "needed" in words and words["kilos"] == words["needed"]:
        return said("order.clash.no_live_worms", **words)
    return said(f"order.clash.{change.family}", **words)


def _budget(change: Change, problem: PurchaseProblem, wording: Wording) -> _Words:
    money, begins = wording.money, problem.quarters[int(change.key[0])].begins
    return {
        "day": wording.day(begins), "more": money(change.change), "limit": money(change.limit)
    }  # fmt: skip


def _store(change: Change, problem: PurchaseProblem, wording: Wording) -> _Words:
    most = problem.store.bins_most if problem.store else 0.0
    bins, day = wording.number(change.change), wording.day(_day(change.key[0]))
    return {"bins": bins, "day": day, "most": wording.number(most)}


def _share(change: Change, problem: PurchaseProblem, wording: Wording) -> _Words:
    name = problem.suppliers[str(change.key[0])].supplier_name
    share = wording.share(problem.largest_supplier_share)
    return {"supplier": name, "share": share, "more": wording.money(change.change)}


def _minimum_order(change: Change, problem: PurchaseProblem, wording: Wording) -> _Words:
    slot = problem.slots[int(change.key[0])]
    supplier = problem.suppliers[slot.supplier_id]
    return {
        "supplier": supplier.supplier_name,
        "more": wording.money(change.change),
        "least": wording.money(supplier.minimum_order_amount),
        "day": wording.day(slot.delivery_date),
    }


def _weekly_limit(change: Change, problem: PurchaseProblem, wording: Wording) -> _Words:
    offer = problem.offers[int(change.key[0])]
    return {
        "supplier": problem.suppliers[offer.supplier_id].supplier_name,
        "packs": wording.number(change.change),
        "item": offer.item_name,
        "day": wording.day(_day(change.key[1])),
        "limit": wording.number(change.limit),
    }


def _holding_kg(change: Change, _: PurchaseProblem, wording: Wording) -> _Words:
    kilos, most = wording.number(change.limit + change.change, 1), wording.number(change.limit, 1)
    return {"kilos": kilos, "day": wording.day(_day(change.key[0])), "most": most}


def _holding_days(change: Change, problem: PurchaseProblem, wording: Wording) -> _Words:
    need, slot = problem.live[int(change.key[0])], problem.slots[int(change.key[1])]
    return {
        "event": need.event_id,
        "days": (need.event_date - slot.delivery_date).days,
        "day": wording.day(slot.delivery_date),
        "most": problem.holding_days_most,
    }


def _held(change: Change, problem: PurchaseProblem, wording: Wording) -> _Words:
    line, name = _line_of(change, problem)
    day = wording.day(problem.slots[line.slot].dispatch_date)
    return {"supplier": name, "day": day, "share": wording.share(line.held_chance)}


def _not_sold(change: Change, problem: PurchaseProblem, wording: Wording) -> _Words:
    """Say that goods would have to come in spite of a lead time, or of an offer that has ended."""
    line, name = _line_of(change, problem)
    day = wording.day(problem.slots[line.slot].delivery_date)
    return {"supplier": name, "item": problem.offers[line.offer].item_name, "day": day}


def _live_need(change: Change, problem: PurchaseProblem, wording: Wording) -> _Words:
    need = problem.live[int(change.key[0])]
    return {
        "event": need.event_id,
        "day": wording.day(need.event_date),
        "kilos": wording.number(change.change * need.needed_kg, 1),
        "needed": wording.number(need.needed_kg, 1),
    }


def _need(change: Change, problem: PurchaseProblem, wording: Wording) -> _Words:
    need, step = problem.stored[int(change.key[0])], int(change.key[1])
    kinds = {offer.item: offer.item_kind for offer in problem.offers}
    return {
        "quantity": wording.number(change.change),
        "unit": unit_of(kinds.get(need.item, "bins")),
        "item": need.item,
        "event": need.event_ids[step],
        "day": wording.day(need.ready_dates[step]),
    }


def _line_of(change: Change, problem: PurchaseProblem) -> tuple[Line, str]:
    line = problem.lines[int(change.key[0])]
    supplier = problem.slots[line.slot].supplier_id
    return line, problem.suppliers[supplier].supplier_name


def _day(part: object) -> dt.date:
    return dt.date.fromisoformat(str(part))


_WORDS: dict[str, Callable[[Change, PurchaseProblem, Wording], _Words]] = {
    "budget": _budget,
    "store": _store,
    "share": _share,
    "minimum_order": _minimum_order,
    "weekly_limit": _weekly_limit,
    "holding_kg": _holding_kg,
    "holding_days": _holding_days,
    "held": _held,
    "late": _not_sold,
    "not_offered": _not_sold,
    "live_need": _live_need,
    "need": _need,
}
"""What fills the sentence of each family of changes."""
