"""Due in the field: hand-over days and what is ordered for them, calls, survey rounds."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Iterator
from typing import TYPE_CHECKING

import polars as pl

from planner.field.calling_request import CallRequest
from planner.field.draw import BROUGHT
from planner.field.due import FIRST_CHECK_DAYS, NO_RISK, find_due, rules_for
from planner.messages import say
from planner.ordering.working_days import WorkingDays
from planner.report.due import ROUND_MONTHS, DueItem, Window
from planner.survey.response import GOOD_RESPONSE_SHARE

if TYPE_CHECKING:
    from planner.factors import FactorTable
    from planner.program import Program
    from planner.store.opening import Store

LATEST_START_DAYS = 365
"""How far beyond the window a hand-over day may lie whose order falls into it."""

SILENT_CALLED_DAYS = 60
"""Days after a round closes in which those who did not answer it are best called; later they tell
of another time. Common practice, no source."""

ORDERED_DAYS = 60
"""An order that arrives so many days before a hand-over day, or later, counts as one for it."""


def hand_over_days(store: Store, window: Window) -> Iterator[DueItem]:
    """List hand-over days ahead with their bookings, and days whose hand-overs are not loaded."""
    ahead = window.last + dt.timedelta(days=1)
    events = store.query("upcoming_events", from_date=window.first, before_date=ahead)
    bookings = store.records("bookings")
    for event in events.iter_rows(named=True):
        is_brought = event["event_kind"] == BROUGHT
        papers = f"{'routes' if is_brought else 'events'} --day {event['event_id']}"
        yield DueItem(
            event["event_date"],
            say(
                "due.delivery_day" if is_brought else "due.hand_over",
                event=event["event_id"],
                at=say("due.at", venue=event["venue"]) if event["venue"] else "",
                places=say("due.places", event["places_count"]),
                booked=_booked(bookings, event),
            ),
            papers if event["booked_count"] else "events",
            f"event-{event['event_id']}",
        )
    yield from _not_loaded(store, bookings, window)


def _booked(bookings: pl.DataFrame, event: dict[str, object]) -> str:
    """Count those who said yes and those who have not answered."""
    of_day = bookings.filter(pl.col("event_id") == event["event_id"])["state"]
    yes, open_count = (int((of_day == state).sum()) for state in ("accepted", "offered"))
    booked = "due.booked" if yes or open_count else "due.none_booked"
    return say(booked, yes=yes, open=open_count)


def _not_loaded(store: Store, bookings: pl.DataFrame, window: Window) -> Iterator[DueItem]:
    """List days that are over though the state of their bookings does not say who came."""
    past = pl.col("event_date") < window.first
    events = store.records("events").filter(past).select("event_id", "event_date")
    waiting = (
        bookings.filter(pl.col("state") == "accepted")
        .join(events, on="event_id")
        .group_by("event_id", "event_date")
        .len()
        .sort("event_date", "event_id")
    )
    for event_id, day, count in waiting.iter_rows():
        yield DueItem(
            day,
            say("due.run_sheet", count, event=event_id),
            "load RUN-SHEET.xlsx",
            f"unloaded-{event_id}",
            is_late=True,
        )


def order_days(store: Store, program: Program, window: Window) -> Iterator[DueItem]:
    """List the last days to order for hand-over days, by the fastest offer that is open.

    What no offer can bring in time any more is late. A kind of which an order arrives within
    `ORDERED_DAYS` before the day is off the list: `planner order` tells whether it is enough.
    """
    before = window.last + dt.timedelta(days=LATEST_START_DAYS)
    tomorrow = window.first + dt.timedelta(days=1)
    events = store.query("upcoming_events", from_date=tomorrow, before_date=before)
    terms = store.records("offers").join(store.records("suppliers"), on="supplier_id")
    ordered = store.records("orders")
    slack = dt.timedelta(days=program.ordering.order_slack_days)
    for event in events.iter_rows(named=True):
        for (kind,), offers in terms.group_by("item_kind", maintain_order=True):
            latest = _latest_order(offers, event["event_date"], str(kind), program)
            if latest is None or _is_ordered(ordered, str(kind), event["event_date"]):
                continue
            is_late, wanted = latest < window.first, latest - slack
            if is_late or wanted <= window.last:
                yield DueItem(
                    latest if is_late else max(wanted, window.first),
                    say(
                        "due.order_late" if is_late else "due.order",
                        item=say(f"due.item.{kind}"),
                        event=event["event_id"],
                        day=window.say(event["event_date"]),
                        last=window.say(latest),
                    ),
                    "order --dry-run",
                    f"order_{kind}-{event['event_id']}",
                    is_late,
                )


def _is_ordered(orders: pl.DataFrame, kind: str, event_date: dt.date) -> bool:
    since = event_date - dt.timedelta(days=ORDERED_DAYS)
    arrives = pl.col("delivery_date").is_between(since, event_date)
    return not orders.filter(arrives & (pl.col("item_kind") == kind)).is_empty()


def _latest_order(
    offers: pl.DataFrame, event_date: dt.date, kind: str, program: Program
) -> dt.date | None:
    settings = program.ordering
    days = WorkingDays(settings.public_holidays, settings.receiving_weekdays)
    # worms come alive on the days before; what keeps must lie ready earlier
    ready = 1 if kind == "worms" else settings.ready_days_before
    arrival = event_date - dt.timedelta(days=ready)
    found = [
        min(
            days.order_by(
                days.sent_for(days.back_to_working(arrival), offer["transit_days"]),
                offer["lead_days"],
                offer["order_by_weekday"],
            ),
            offer["valid_until_date"],
        )
        for offer in offers.unique(["supplier_id", "lead_days"]).iter_rows(named=True)
        if offer["valid_from_date"] <= event_date
    ]
    return max(found, default=None)


def deliveries(store: Store, window: Window) -> Iterator[DueItem]:
    """List what was ordered and has not come."""
    lines = store.query("orders_committed", as_of=window.first)
    waiting = (
        lines.filter(pl.col("outstanding_quantity") > 0.0)
        .group_by("supplier_id", "delivery_date", maintain_order=True)
        .agg(pl.col("item_kind").unique().sort())
        .sort("delivery_date", "supplier_id")
    )
    for supplier_id, day, kinds in waiting.iter_rows():
        if day > window.last:
            continue
        items = ", ".join(say(f"due.item.{kind}") for kind in kinds)
        yield DueItem(
            day,
            say("due.coming", items=items, supplier=supplier_id),
            "load deliveries.xlsx" if day < window.first else "",
            f"delivery-{supplier_id}-{day}",
            day < window.first,
        )


def calls(
    store: Store, program: Program, factors: FactorTable, window: Window
) -> Iterator[DueItem]:
    """List households that are due a call now, and first checks that come due."""
    register = store.query("followup_register", on_date=window.first)
    trays = {one.model_id: (one.trays_count, one.tray_area_m2) for one in program.bin_models}
    due = find_due(register, NO_RISK, trays, rules_for(CallRequest(window.first), factors))
    now = due.filter(pl.col("barrier").is_null())
    if now.height:
        reasons = now.group_by("call_reason").len().sort("len", "call_reason", descending=True)
        reasons_in_words = ", ".join(
            say(f"due.call_reason.{name}", count=count) for name, count in reasons.iter_rows()
        )
        what = say("due.call", now.height, reasons=reasons_in_words)
        yield DueItem(window.first, what, "followup", "calls")
    first, last = (dt.timedelta(days=days) for days in FIRST_CHECK_DAYS)
    coming = pl.col("handover_date").is_between(
        window.first - first, window.last - first, closed="right"
    )
    by_week = (
        register.filter(coming & pl.col("may_contact"))
        .group_by(pl.col("handover_date").dt.truncate("1w").alias("week"))
        .agg(pl.len(), pl.col("handover_date").min().alias("handed"))
        .sort("week")
    )
    for week, count, handed in by_week.iter_rows():
        until = window.say(handed + last)
        yield DueItem(
            handed + first,
            say("due.first_check", count, from_day=window.say(handed), until=until),
            "followup",
            f"check-{week}",
        )


def rounds(store: Store, window: Window) -> Iterator[DueItem]:
    """List survey rounds that open or close, and a round that is missing."""
    waves = store.records("waves").sort("opens_date")
    for wave_id, opens, closes in waves.select("wave_id", "opens_date", "closes_date").iter_rows():
        if window.holds(opens):
            yield DueItem(opens, say("due.round_opens", wave=wave_id), "", f"opens-{wave_id}")
        if window.holds(closes):
            yield DueItem(closes, say("due.round_closes", wave=wave_id), "", f"closes-{wave_id}")
    yield from _missing_round(store, waves, window)
    yield from _silent(store, waves, window)


def _silent(store: Store, waves: pl.DataFrame, window: Window) -> Iterable[DueItem]:
    """Ask for calls to the silent of the newest follow-up, while they know what they did then."""
    closed = waves.filter(pl.col("closes_date") < window.first)
    newest = (
        store.query("wave_response", before_date=window.first)
        .filter(pl.col("wave_kind") == "followup", pl.col("answers_count") > 0)
        .join(closed.select("wave_id", "closes_date"), on="wave_id")
        .sort("opens_date", "wave_id")
        .tail(1)
    )
    is_low = pl.col("answers_count") < GOOD_RESPONSE_SHARE * pl.col("asked_count")
    for row in newest.filter(is_low, pl.col("again_count") == 0).iter_rows(named=True):
        day = row["closes_date"] + dt.timedelta(days=SILENT_CALLED_DAYS)
        wave_id, share = row["wave_id"], row["answers_count"] / row["asked_count"]
        if day >= window.first:
            yield DueItem(
                day,
                say("advice.more_answers.due", share=window.wording.share(share), wave=wave_id),
                f"sample {wave_id}S --silent {wave_id} --response 0.5",
                f"silent-{wave_id}",
            )


def _missing_round(store: Store, waves: pl.DataFrame, window: Window) -> Iterable[DueItem]:
    """Name the day by which a follow-up should have closed, counted from the last."""
    followups = waves.filter(pl.col("wave_kind") == "followup")["closes_date"]
    handed = store.records("handovers")["handover_date"]
    since = followups.max() if followups.len() else handed.min()
    if not isinstance(since, dt.date):
        return
    day = pl.select(pl.lit(since).dt.offset_by(f"{ROUND_MONTHS}mo")).item()
    if day <= window.last:
        yield DueItem(
            day,
            say("due.missing_round", months=ROUND_MONTHS, day=window.say(since)),
            "sample ROUND --kind followup --response 0.4",
            "missing-round",
            day < window.first,
        )
