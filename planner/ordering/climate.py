"""What can be done where heat or frost keeps live worms from hand-over days, and what it costs.

Four ways are set next to the plan: better packing (bought by the plan where an offer has it,
asked for where none has), plain packing alone, worms later by voucher or at a second date,
and hand-overs indoors. Costs are of plans searched again, freight and limits among them.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Literal

import numpy as np

from planner.ordering.plan import events_without_worms, served_count
from planner.ordering.shipping_window import TravelLimits
from planner.ordering.slots import days_between
from planner.ordering.solving import try_solving

if TYPE_CHECKING:
    from collections.abc import Collection, Mapping

    import polars as pl

    from planner.ordering.plan import OrderPlan
    from planner.ordering.problem import LiveNeed, Lock, Offer, PurchaseProblem
    from planner.ordering.request import Effort
    from planner.ordering.shipping_window import Weather
    from planner.ordering.slots import Calendar

Way = Literal["plain_packing", "better_packing", "later", "second_date", "indoors"]

SECOND_DATE_DAYS_MOST = 366
"""How far ahead a second date is looked for."""


@dataclass(frozen=True)
class ClimateOption:
    """One way to deal with heat and frost, next to the plan."""

    way: Way  # which it is
    event_ids: tuple[str, ...]  # hand-over days that it is about
    dates: tuple[dt.date, ...] = ()  # days on which worms would be handed over instead
    kilos: float = 0.0  # worms alive that those days need [kg]
    # cost beyond the plan's [currency]; negative where it saves, None where nobody has named a
    # price or no plan keeps every limit
    more_cost: float | None = None
    packing: str = ""  # how worms would be packed


Lack = Literal["heat", "frost", "late", "not_offered", "no_delivery", "limits"]
"""Why a hand-over day has no worms, or too few."""


def why_without_worms(plan: OrderPlan, number: int) -> Lack:
    """Tell what keeps worms from a hand-over day: what shuts all the ways on which they come."""
    problem, need = plan.problem, plan.problem.live[number]
    reach = need.slots[need.held_days <= problem.holding_days_most].tolist()
    ways = [
        line for line in problem.lines if line.slot in reach and problem.offers[line.offer].is_live
    ]
    if not ways:
        return "no_delivery"
    likeliest = min(ways, key=lambda line: (LOCKS.index(line.lock), line.held_chance))
    if likeliest.lock != "held":
        return likeliest.lock or "limits"
    weather, slot = plan.calendar.weather, problem.slots[likeliest.slot]
    limits = problem.offers[likeliest.offer].travels or weather.plain
    days = days_between(slot.dispatch_date, slot.delivery_date)
    hot = weather.held_chance(days, TravelLimits(-np.inf, limits.warmest_c))
    cold = weather.held_chance(days, TravelLimits(limits.coldest_c, np.inf))
    return "heat" if hot >= cold else "frost"


LOCKS: tuple[Lock, ...] = ("", "held", "not_offered", "late")
"""What shuts a way, that which an officer could best do without first."""


def climate_options(
    plan: OrderPlan,
    suppliers: pl.DataFrame,
    packings: Mapping[str, TravelLimits],
    outdoors_warmest_c: float,
    effort: Effort,
) -> tuple[ClimateOption, ...]:
    """Set out what can be done about heat and frost, and what each way costs.

    Nothing where neither heat nor frost matters. The plan has a solution, and limits stand by
    packing, those of plain packing under "".
    """
    return (
        *_plain_packing(plan, effort),
        *_better_packing(plan, packings),
        *_later(plan, suppliers, effort),
        *_indoors(plan, outdoors_warmest_c),
    )


def _names(plan: OrderPlan, numbers: Collection[int]) -> tuple[str, ...]:
    return tuple(plan.demand.events.event_ids[number] for number in numbers)


def _kilos(plan: OrderPlan, numbers: Collection[int]) -> float:
    return float(plan.demand.show_ups_count[list(numbers)].sum() * plan.starter_kg)


def _plain_packing(plan: OrderPlan, effort: Effort) -> list[ClimateOption]:
    """Find what plain packing alone would save, and which days it would leave without worms."""
    problem, solution = plan.problem, plan.solution
    if solution is None:
        return []
    bought = {solution.problem.lines[one.line].offer for one in solution.purchases}
    if not any(problem.offers[place].packing for place in bought):
        return []
    plain = tuple(line for line in problem.lines if not problem.offers[line.offer].packing)
    slots = {one.slot for one in plain if problem.offers[one.offer].is_live and not one.lock}
    longest = problem.holding_days_most
    lost = [
        number
        for number, need in enumerate(problem.live)
        if need.needed_kg > 0.0
        and not np.isin(need.slots[need.held_days <= longest], [*slots]).any()
    ]
    live = tuple(
        _scaled(need, 0.0) if number in lost else need for number, need in enumerate(problem.live)
    )
    cost = _cost(replace(problem, lines=plain, live=live), effort)
    more = None if cost is None else cost - solution.cost
    return [ClimateOption("plain_packing", _names(plan, lost), (), _kilos(plan, lost), more)]


def _scaled(need: LiveNeed, times: float) -> LiveNeed:
    return replace(need, needed_kg=need.needed_kg * times, sent_kg=need.sent_kg * times)


def _cost(problem: PurchaseProblem, effort: Effort) -> float | None:
    solution, _ = try_solving(problem, effort)
    return None if solution is None else solution.cost


def _better_packing(plan: OrderPlan, packings: Mapping[str, TravelLimits]) -> list[ClimateOption]:
    """Say how many days without worms a packing that nobody offers would serve."""
    problem = plan.problem
    offered = {one.packing for one in problem.offers if one.is_live}
    without = events_without_worms(plan)
    found = []
    for packing, limits in packings.items():
        if not packing or packing in offered:
            continue
        served = [n for n in without if _may_come(problem, n, plan.calendar.weather, limits)]
        if served:
            kilos = _kilos(plan, served)
            found.append(
                ClimateOption("better_packing", _names(plan, served), (), kilos, None, packing)
            )
    return found


def _may_come(
    problem: PurchaseProblem, number: int, weather: Weather, limits: TravelLimits
) -> bool:
    """Tell whether worms so packed could come for an event but for heat or frost."""
    need = problem.live[number]
    held = {line.slot for line in problem.lines if line.lock == "held"}
    reach = need.slots[need.held_days <= problem.holding_days_most]
    ways = (problem.slots[int(slot)] for slot in reach if int(slot) in held)
    return any(
        weather.held_chance(days_between(one.dispatch_date, one.delivery_date), limits)
        <= weather.held_chance_most
        for one in ways
    )


def _later(plan: OrderPlan, suppliers: pl.DataFrame, effort: Effort) -> list[ClimateOption]:
    """Price worms by voucher at the next day that has some, else at a second date of their own."""
    without = events_without_worms(plan)
    served = [n for n, count in enumerate(served_count(plan)) if count > 0]
    nexts = {n: next((m for m in served if m > n), None) for n in without}
    moved = {n: m for n, m in nexts.items() if m is not None}
    never = [n for n in without if n not in moved]
    found = []
    if moved:
        voucher = _voucher(plan, moved, effort)
        found.append(voucher)
        if voucher.more_cost is None:
            never = without
    if never:
        found.append(_second_date(plan, never, suppliers))
    return found


def _voucher(plan: OrderPlan, moved: Mapping[int, int], effort: Effort) -> ClimateOption:
    """Plan again with the worms of some days handed over on later ones."""
    live = list(plan.problem.live)
    for number in sorted(set(moved.values())):
        more_kg = _kilos(plan, [n for n, later in moved.items() if later == number])
        need = live[number]
        # what is in store is used up already: all that comes on top must be bought
        live[number] = _scaled(need, 1.0 + more_kg / need.needed_kg if need.needed_kg else 1.0)
    is_priced = all(live[number].needed_kg > 0.0 for number in moved.values())
    cost = _cost(replace(plan.problem, live=tuple(live)), effort) if is_priced else None
    days = sorted({plan.demand.events.event_dates[m] for m in moved.values()})
    more_cost = None if cost is None or plan.solution is None else cost - plan.solution.cost
    return ClimateOption("later", _names(plan, moved), tuple(days), _kilos(plan, moved), more_cost)


def _second_date(plan: OrderPlan, numbers: list[int], suppliers: pl.DataFrame) -> ClimateOption:
    """Find the first day on which worms for days without any may come, and their price."""
    kilos = _kilos(plan, numbers)
    after = plan.demand.events.event_dates[max(numbers)]
    rows = {row["supplier_id"]: row for row in suppliers.iter_rows(named=True)}
    ways = []
    for offer in plan.problem.offers:
        day = (
            _first_day(offer, rows[offer.supplier_id], after, plan.calendar)
            if offer.is_live
            else None
        )
        if day is not None:
            ways.append((day, _price(plan, offer, kilos)))
    if not ways:
        return ClimateOption("second_date", _names(plan, numbers), (), kilos)
    day, cost = min(ways)
    extra = plan.settings.second_day_cost or 0.0
    return ClimateOption("second_date", _names(plan, numbers), (day,), kilos, cost + extra)


def _first_day(
    offer: Offer, supplier: dict[str, str | int], after: dt.date, calendar: Calendar
) -> dt.date | None:
    """First day after a hand-over on which worms that may travel can be handed over."""
    first = after + dt.timedelta(days=1)
    last = after + dt.timedelta(days=SECOND_DATE_DAYS_MOST)
    weekdays = str(supplier["first_dispatch_weekday"]), str(supplier["last_dispatch_weekday"])
    for sent in calendar.working_days.dispatch_days(first, last, *weekdays):
        came = calendar.working_days.delivery(sent, int(supplier["transit_days"]))
        chance = calendar.weather.held_chance(days_between(sent, came), offer.travels)
        if chance <= calendar.weather.held_chance_most:
            return came + dt.timedelta(days=1)
    return None


def _price(plan: OrderPlan, offer: Offer, alive_kg: float) -> float:
    """Goods and freight of the deliveries that bring so many worms alive."""
    supplier = plan.problem.suppliers[offer.supplier_id]
    sent_kg = alive_kg / (1.0 - plan.laws[offer.supplier_id].mean_share)
    packs = max(int(np.ceil(sent_kg / offer.pack_quantity)), offer.minimum_packs_count)
    # beyond its limit by week the farm sends the rest in later weeks, each with its freight
    weeks = np.ceil(packs / (offer.weekly_limit_packs_count or packs))
    pallets = np.ceil(packs / offer.packs_per_pallet) if offer.packs_per_pallet else 0.0
    goods = max(offer.goods_cost(packs), supplier.minimum_order_amount)
    freight = weeks * supplier.freight_per_delivery + pallets * supplier.freight_per_pallet
    return float(goods + freight)


def _indoors(plan: OrderPlan, warmest_c: float) -> list[ClimateOption]:
    """Name the days with worms that are likely too hot, or frozen all day, for open air."""
    weather = plan.calendar.weather
    # in the warmest hour it is warmer than in the coldest by the daily range
    limits = TravelLimits(weather.plain.coldest_c - weather.daily_range_c, warmest_c)
    counts = served_count(plan)
    days = [
        number
        for number, day in enumerate(plan.demand.events.event_dates)
        if counts[number] > 0 and weather.held_chance([day], limits) > weather.held_chance_most
    ]
    if not days:
        return []
    each = plan.settings.indoor_cost_per_day
    cost = None if each is None else each * len(days)
    return [ClimateOption("indoors", _names(plan, days), (), _kilos(plan, days), cost)]
