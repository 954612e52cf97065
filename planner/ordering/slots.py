"""Days on which each supplier could deliver, how late it may, and the lines to order for them."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, field
from functools import cache
from typing import TYPE_CHECKING, Any

from planner.ordering.problem import Line, Slot

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    import polars as pl

    from planner.ordering.problem import Lock, Offer, Quarter
    from planner.ordering.shipping_window import TravelLimits, Weather
    from planner.ordering.working_days import WorkingDays


EXTRA_HOLDING_DAYS = 4
"""Days of holding beyond the limit that are looked at when no plan keeps to it."""


@dataclass(frozen=True)
class Calendar:
    """What fixes the days: today, hand-over days, working days, weather, holding, budgets."""

    from_date: dt.date  # first day on which may be ordered
    event_dates: tuple[dt.date, ...]  # hand-over days, rising
    working_days: WorkingDays
    weather: Weather
    holding_days_most: int
    quarters: tuple[Quarter, ...] = ()
    # days by which goods that keep may come late, by supplier
    buffer_days: Mapping[str, int] = field(default_factory=dict)
    # days before the last day for an order on which to place it, where there is time
    slack_days: int = 0

    def days_held(self, delivery: dt.date) -> dict[int, int]:
        """Days for which worms that come on a day are held until each event in reach."""
        longest = self.holding_days_most + EXTRA_HOLDING_DAYS
        held = {n: (day - delivery).days for n, day in enumerate(self.event_dates)}
        return {n: days for n, days in held.items() if 1 <= days <= longest}

    def quarter(self, day: dt.date) -> int:
        """Place of the budget that holds on a day; -1 where none does."""
        holding = (n for n, one in enumerate(self.quarters) if one.begins <= day < one.ends)
        return next(holding, -1)


@dataclass(frozen=True)
class Slots:
    """Slots, lines and offers in the order in which lines name them."""

    offers: tuple[Offer, ...]
    slots: tuple[Slot, ...]
    lines: tuple[Line, ...]
    # for each event, the slots from which it could have worms, with the days of holding
    live_slots: Sequence[Sequence[tuple[int, int]]]
    # for each slot of live worms, the warmest hour of each day on the way
    warmest_c: Mapping[int, Sequence[float]] = field(default_factory=dict)


def plan_slots(
    suppliers: pl.DataFrame, offers: pl.DataFrame, read: Mapping[str, Offer], calendar: Calendar
) -> Slots:
    """Set out every day on which a supplier could deliver, and every line, locked ones too.

    No day is left out here: which of them matter is decided from the whole purchase problem.
    Those of `offers` that serve what is needed have been `read`.
    """
    terms = {row["offer_id"]: row for row in offers.iter_rows(named=True)}
    slots: list[Slot] = []
    lines: list[Line] = []
    live: list[list[tuple[int, int]]] = [[] for _ in calendar.event_dates]
    warmest_c: dict[int, Sequence[float]] = {}

    @cache
    def held_chance(sent: dt.date, came: dt.date, travels: TravelLimits | None) -> float:
        """Chance that a parcel must wait, found once for all suppliers as fast as this one."""
        return calendar.weather.held_chance(days_between(sent, came), travels)

    for supplier in suppliers.iter_rows(named=True):
        code = supplier["supplier_id"]
        mine = [pair for pair in enumerate(read.values()) if pair[1].supplier_id == code]
        for slot in _slots(supplier, calendar) if mine else ():
            number, on_the_way = len(slots), (slot.dispatch_date, slot.delivery_date)
            slots.append(slot)
            held = calendar.days_held(slot.delivery_date)
            useful = [(place, offer) for place, offer in mine if held or not offer.is_live]
            for place, offer in useful:
                chance = held_chance(*on_the_way, offer.travels) if offer.is_live else 0.0
                row = terms[offer.offer_id]
                lines.append(_line(place, number, slot, chance, supplier, row, calendar))
            if any(offer.is_live for _, offer in useful):
                warmest_c[number] = calendar.weather.warmest_c(days_between(*on_the_way)).tolist()
                for event, days in held.items():
                    live[event].append((number, days))
    return Slots(tuple(read.values()), tuple(slots), tuple(lines), live, warmest_c)


def days_between(first: dt.date, last: dt.date) -> list[dt.date]:
    """List every day from one to another, both among them."""
    return [first + dt.timedelta(days=n) for n in range((last - first).days + 1)]


def _slots(supplier: dict[str, Any], calendar: Calendar) -> list[Slot]:
    """List the days of sending whose goods come by the last hand-over day."""
    code, last = supplier["supplier_id"], calendar.event_dates[-1]
    weekdays = supplier["first_dispatch_weekday"], supplier["last_dispatch_weekday"]
    late_days = calendar.buffer_days.get(code, 0)
    found = []
    for sent in calendar.working_days.dispatch_days(calendar.from_date, last, *weekdays):
        came = calendar.working_days.delivery(sent, supplier["transit_days"])
        if came <= last:
            found.append(Slot(code, sent, came, calendar.quarter(came), late_days))
    return found


def _line(
    place: int,
    number: int,
    slot: Slot,
    held_chance: float,
    supplier: dict[str, Any],
    terms: dict[str, Any],
    calendar: Calendar,
) -> Line:
    order_by = calendar.working_days.order_by(
        slot.dispatch_date, terms["lead_days"], supplier["order_by_weekday"]
    )
    latest = min(order_by, terms["valid_until_date"])
    earliest = max(calendar.from_date, terms["valid_from_date"])
    lock: Lock = ""
    if held_chance > calendar.weather.held_chance_most:
        lock = "held"
    elif order_by < calendar.from_date:
        lock = "late"
    elif latest < earliest:
        lock = "not_offered"
    with_slack = latest - dt.timedelta(days=calendar.slack_days)
    order_date = max(earliest, calendar.working_days.back_to_working(with_slack))
    last = max(latest, calendar.from_date)
    return Line(place, number, min(order_date, last), lock, last, held_chance)


PRIOR_ORDERS = 10.0
"""The allowance weighs as much as this many order lines of the supplier's record; judgement."""

PRIOR_LATE_SHARE, PRIOR_NEXT_DAY_SHARE = 0.2, 0.5
"""Allowance: a fifth of deliveries come late, half of those later than any one day more;
judgement, no source."""

MOST_DAYS = 60
"""No delivery is waited for longer than this when days are set."""


@dataclass(frozen=True)
class Lateness:
    """What is known of a supplier's punctuality."""

    # days after the day agreed on which each line came; 0 for those on time
    late_days: tuple[int, ...] = ()

    def chance_later_than(self, days: int) -> float:
        """Probability that a delivery comes more than so many days late.

        Notes
        -----
        Mean of a Dirichlet law: the allowance, ``0.2 * 0.5**days``, counts as
        `PRIOR_ORDERS` lines next to those of the record.

        Examples
        --------
        >>> round(Lateness().chance_later_than(0), 3)
        0.2
        >>> round(Lateness((0,) * 30).chance_later_than(0), 3)
        0.05
        """
        allowed = PRIOR_LATE_SHARE * PRIOR_NEXT_DAY_SHARE**days
        later = sum(1 for late in self.late_days if late > days)
        return (PRIOR_ORDERS * allowed + later) / (PRIOR_ORDERS + len(self.late_days))

    def buffer_days(self, on_time_level: float) -> int:
        """Least days to plan ahead so that goods have come in time with a probability.

        Examples
        --------
        >>> Lateness().buffer_days(0.95)
        2
        >>> Lateness((0, 4, 0, 6, 5)).buffer_days(0.9)
        5
        """
        enough = (
            days for days in range(MOST_DAYS) if self.chance_later_than(days) <= 1.0 - on_time_level
        )
        return next(enough, MOST_DAYS)


def read_lateness(committed: pl.DataFrame) -> dict[str, Lateness]:
    """Read the record of each supplier from rows of the query orders_committed."""
    known = committed.filter(committed["late_days"].is_not_null())
    return {
        str(supplier): Lateness(tuple(late))
        for supplier, late in known.group_by("supplier_id").agg("late_days").iter_rows()
    }
