"""Why an order cannot be planned, in words."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING

from planner.report.orders.order import unit_of
from planner.report.wording import listing

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from planner.ordering.clashes import Change, Clashes
    from planner.ordering.plan import OrderPlan
    from planner.ordering.problem import Line, PurchaseProblem
    from planner.report.wording import Wording

MOST_OF_A_KIND = 3

KINDS = {
    "budget": "a larger budget",
    "store": "more room for bins",
    "share": "a larger share of one supplier",
    "minimum_order": "smaller least orders",
    "weekly_limit": "more in a week from a supplier",
    "holding_kg": "holding more worms at a time",
    "holding_days": "holding worms longer",
    "held": "sending worms outside the shipping window",
    "late": "suppliers who send faster",
    "not_offered": "offers that hold longer",
    "live_need": "fewer worms at some hand-over days",
    "need": "fewer bins or less bedding in time",
}
"""What each kind of change is called."""


def clash_lines(plan: OrderPlan, wording: Wording) -> list[str]:
    """Tell which limits clash, the least change, and which kinds of change do alone.

    Parameters
    ----------
    plan
        A plan with clashes.
    wording
        Money and dates.
    """
    clashes = plan.clashes
    if clashes is None:
        return []
    lines = ["No plan meets every limit. The least change that makes one possible:"]
    lines += [f"  - {words}" for words in told_changes(clashes.least, clashes.problem, wording)]
    lines += _alone(clashes, wording)
    return lines


def told_changes(
    changes: Sequence[Change], problem: PurchaseProblem, wording: Wording
) -> list[str]:
    """Say changes in sentences, many of a kind together.

    Parameters
    ----------
    changes
        Changes of limits, those of a kind beside each other.
    problem, wording
        What they are of, and how days and numbers are written.
    """
    lines: list[str] = []
    for family in dict.fromkeys(change.family for change in changes):
        mine = [change for change in changes if change.family == family]
        if family == "live_need" and len(mine) > MOST_OF_A_KIND:
            lines.append(_many_live_needs(mine, problem, wording))
            continue
        lines += [change_words(change, problem, wording) for change in mine[:MOST_OF_A_KIND]]
        if len(mine) > MOST_OF_A_KIND:
            lines[-1] += f" And {len(mine) - MOST_OF_A_KIND} more of the kind."
    return lines


def _many_live_needs(changes: Sequence[Change], problem: PurchaseProblem, wording: Wording) -> str:
    needs = [problem.live[int(change.key[0])] for change in changes]
    pairs = zip(changes, needs, strict=True)
    kilos = wording.number(sum(change.change * need.needed_kg for change, need in pairs), 1)
    days = listing((f"{one.event_id} on {wording.day(one.event_date)}" for one in needs), most=40)
    return (
        f"{len(needs)} hand-over days go without {kilos} kg of live worms in all: {days}. Move "
        "the days, collect worms nearby, or give them later."
    )


def _alone(clashes: Clashes, wording: Wording) -> list[str]:
    others = {
        family: changes
        for family, changes in clashes.alone.items()
        if {change.family for change in clashes.least} != {family}
    }
    if not others:
        return []
    lines = ["Changing one of these instead would do as well, each with all its lines:"]
    for family, changes in others.items():
        lines.append(f"  - {KINDS[family]}:")
        lines += [f"    {words}" for words in told_changes(changes, clashes.problem, wording)]
    return lines


def change_words(change: Change, problem: PurchaseProblem, wording: Wording) -> str:
    """Say one change in a sentence."""
    return _SENTENCES[change.family](change, problem, wording)


def _budget(change: Change, problem: PurchaseProblem, wording: Wording) -> str:
    quarter = problem.quarters[int(change.key[0])]
    return (
        f"Raise the budget of the quarter from {wording.day(quarter.begins)} by "
        f"{wording.money(change.change)}, from {wording.money(change.limit)}."
    )


def _store(change: Change, problem: PurchaseProblem, wording: Wording) -> str:
    most = problem.store.bins_most if problem.store else 0.0
    return (
        f"Make room for {wording.number(change.change)} bins more in store on "
        f"{wording.day(_day(str(change.key[0])))} (bins_stored_most is {wording.number(most)})."
    )


def _share(change: Change, problem: PurchaseProblem, wording: Wording) -> str:
    name = problem.suppliers[str(change.key[0])].supplier_name
    return (
        f"Let {name} have more than {wording.share(problem.largest_supplier_share)} of the "
        f"spending: {wording.money(change.change)} more."
    )


def _minimum_order(change: Change, problem: PurchaseProblem, wording: Wording) -> str:
    slot = problem.slots[int(change.key[0])]
    supplier = problem.suppliers[slot.supplier_id]
    return (
        f"Ask {supplier.supplier_name} to take an order {wording.money(change.change)} below "
        f"its least of {wording.money(supplier.minimum_order_amount)} for "
        f"{wording.day(slot.delivery_date)}."
    )


def _weekly_limit(change: Change, problem: PurchaseProblem, wording: Wording) -> str:
    offer = problem.offers[int(change.key[0])]
    name = problem.suppliers[offer.supplier_id].supplier_name
    week = wording.day(_day(str(change.key[1])))
    return (
        f"Ask {name} for {change.change:.0f} packs of {offer.item_name} more in the week of "
        f"{week}, beyond its limit of {change.limit:.0f}."
    )


def _holding_kg(change: Change, problem: PurchaseProblem, wording: Wording) -> str:
    del problem
    return (
        f"Make room to hold {wording.number(change.limit + change.change, 1)} kg of worms from "
        f"{wording.day(_day(str(change.key[0])))} (holding_kg_most is "
        f"{wording.number(change.limit, 1)} kg)."
    )


def _holding_days(change: Change, problem: PurchaseProblem, wording: Wording) -> str:
    need = problem.live[int(change.key[0])]
    slot = problem.slots[int(change.key[1])]
    days = (need.event_date - slot.delivery_date).days
    return (
        f"Hold worms for {need.event_id} for {days} days, from {wording.day(slot.delivery_date)} "
        f"(holding_days_most is {problem.holding_days_most})."
    )


def _held(change: Change, problem: PurchaseProblem, wording: Wording) -> str:
    line, name = _line_of(change, problem)
    slot = problem.slots[line.slot]
    return (
        f"{name} would have to send worms on {wording.day(slot.dispatch_date)}, when the chance "
        f"that they must be held for heat or frost is {wording.share(line.held_chance)}."
    )


def _late(change: Change, problem: PurchaseProblem, wording: Wording) -> str:
    line, name = _line_of(change, problem)
    slot, offer = problem.slots[line.slot], problem.offers[line.offer]
    return (
        f"Ask {name} to deliver {offer.item_name} on {wording.day(slot.delivery_date)}, sooner "
        "than its lead time and last day for orders allow."
    )


def _not_offered(change: Change, problem: PurchaseProblem, wording: Wording) -> str:
    line, name = _line_of(change, problem)
    slot, offer = problem.slots[line.slot], problem.offers[line.offer]
    return (
        f"Ask {name} to let its offer of {offer.item_name} hold for a delivery on "
        f"{wording.day(slot.delivery_date)}."
    )


def _live_need(change: Change, problem: PurchaseProblem, wording: Wording) -> str:
    need = problem.live[int(change.key[0])]
    kilos = wording.number(change.change * need.needed_kg, 1)
    return (
        f"{need.event_id} on {wording.day(need.event_date)} goes without {kilos} of its "
        f"{wording.number(need.needed_kg, 1)} kg of live worms: move the day, collect them "
        "nearby, or give them later."
    )


def _need(change: Change, problem: PurchaseProblem, wording: Wording) -> str:
    need, step = problem.stored[int(change.key[0])], int(change.key[1])
    kinds = {offer.item: offer.item_kind for offer in problem.offers}
    unit = unit_of(kinds.get(need.item, "bins"))
    return (
        f"{wording.number(change.change)} {unit} of {need.item} cannot be there for "
        f"{need.event_ids[step]}, by {wording.day(need.ready_dates[step])}: move the day or "
        "serve fewer."
    )


def _line_of(change: Change, problem: PurchaseProblem) -> tuple[Line, str]:
    line = problem.lines[int(change.key[0])]
    supplier = problem.slots[line.slot].supplier_id
    return line, problem.suppliers[supplier].supplier_name


def _day(text: str) -> dt.date:
    return dt.date.fromisoformat(text)


_SENTENCES: dict[str, Callable[[Change, PurchaseProblem, Wording], str]] = {
    "budget": _budget,
    "store": _store,
    "share": _share,
    "minimum_order": _minimum_order,
    "weekly_limit": _weekly_limit,
    "holding_kg": _holding_kg,
    "holding_days": _holding_days,
    "held": _held,
    "late": _late,
    "not_offered": _not_offered,
    "live_need": _live_need,
    "need": _need,
}
