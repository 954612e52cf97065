"""Sheets by day: deliveries, receiving, stock, and what each hand-over day needs and has."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import polars as pl

from planner.cells import Cell, Number
from planner.messages import paper, said
from planner.ordering.plan import event_table
from planner.ordering.working_days import WorkingDays
from planner.report.orders.clash_words import lack_words
from planner.report.orders.order import (
    Order,
    columns,
    day_cell,
    level_cell,
    quantity_format,
    unit_of,
)
from planner.report.wording import Wording, listing
from planner.report.workbook.formats import number_format
from planner.worms.bedding import material_words

if TYPE_CHECKING:
    from planner.report.workbook.page import Book, Page

FORECAST_DAYS_BEFORE = 2
"""Days before a dispatch on which its forecast is looked at."""

STOCK = "ordered short to_come opening received returned unusable handed lost unexplained in_store"
QUANTITIES = STOCK.replace("to_come", "outstanding").replace("in_store", "in_stock").split()
"""Quantities of the query stock_reconciled, and how they are headed."""

RECEIVING = "line due supplier item ordered came_on received unusable short seen"
EVENTS = (
    "place day date booked expected bought_by_then chance_enough starters alive sent_for_it "
    "chance_enough"
)
LIKELY = 0.1
"""Chance of a hold from which a second day is worth keeping free."""

SHOWN_MONTHS = (0, 1, 2, 3, 6, 12)


def add_calendar(book: Book, order: Order) -> None:
    """Write what is to be done on which day, until the last delivery."""
    wording = order.wording
    page = _page(book, order, "calendar", "title", (17, 17, 17, 17, 17, 30, 34, 13, 8))
    page.title("order.calendar.title")
    window = order.plan.calendar.weather.plain
    coldest, warmest = f"{window.coldest_c:g}", f"{window.warmest_c:g}"
    page.note(said("order.calendar.note", coldest=coldest, warmest=warmest))
    days = order.lines.group_by("slot", maintain_order=True).agg(
        pl.col("supplier_id", "dispatch_date", "delivery_date").first(),
        pl.col("order_date", "latest_order_date").first(),
        pl.col("held_chance").max(),
        pl.struct("item_kind", "item_id", "packing", "ordered_quantity").alias("items"),
    )
    ordered = days.sort("delivery_date", "supplier_id").iter_rows(named=True)
    headings = columns("order_by latest look_at_forecast sent comes supplier what for hold")
    page.table(headings, [_calendar_row(order, row) for row in ordered], stays_in_sight=True)
    risky = [row for row in days["held_chance"] if row > LIKELY]
    if risky:
        page.note(said("order.calendar.risky", len(risky), share=wording.share(LIKELY)))


def _page(book: Book, order: Order, sheet: str, name: str, widths: Sequence[float]) -> Page:
    """Begin the page of a sheet with its own footer."""
    footer = said(f"order.{sheet}.footer", council=order.program.council.name)
    return book.page(f"order.{sheet}.{name}", widths, footer=footer, landscape=True)


def _calendar_row(order: Order, row: dict[str, Any]) -> list[Cell]:
    is_live = any(item["item_kind"] == "worms" for item in row["items"])
    ahead = row["dispatch_date"] - dt.timedelta(days=FORECAST_DAYS_BEFORE)
    look = WorkingDays(order.plan.settings.public_holidays).back_to_working(ahead)
    share = number_format("share", 0, order.wording)
    return [
        day_cell(row["order_date"], order.wording),
        day_cell(row["latest_order_date"], order.wording),
        day_cell(look if is_live else None, order.wording, "–"),
        day_cell(row["dispatch_date"], order.wording),
        day_cell(row["delivery_date"], order.wording),
        order.supplier_name(row["supplier_id"]),
        "\n".join(_goods(order, item) for item in row["items"]),
        _events_served(order, row["slot"]) if is_live else said("order.calendar.stock"),
        Number(row["held_chance"] if is_live else None, share, "–"),
    ]


def _goods(order: Order, item: dict[str, Any]) -> str:
    kind = item["item_kind"]
    quantity = order.wording.number(item["ordered_quantity"], 0 if kind == "bins" else 1)
    return f"{quantity} {unit_of(kind)} {order.item_name(kind, item['item_id'], item['packing'])}"


def _events_served(order: Order, slot: int) -> str:
    served = {number for number, where in order.solution.sent_kg if where == slot}
    return ", ".join(order.plan.demand.events.event_ids[number] for number in sorted(served))


def add_receiving(book: Book, order: Order) -> None:
    """Write the list that is filled in as goods come, in the words of the sheet deliveries."""
    widths = (14, 17, 30, 29, 11, 12, 11, 11, 11, 17)
    page = _page(book, order, "receiving", "title", widths)
    page.title("order.receiving.title")
    page.note("order.receiving.note")
    headings, by = columns(RECEIVING), ("delivery_date", "supplier_id", "order_line_id")
    rows: list[list[Cell]] = [
        [
            row["order_line_id"],
            day_cell(row["delivery_date"], order.wording),
            order.supplier_name(row["supplier_id"]),
            order.item_name(row["item_kind"], row["item_id"], row["packing"]),
            Number(row["ordered_quantity"], quantity_format(row["item_kind"], order.wording)),
            *[""] * (len(headings) - 5),
        ]
        for row in order.lines.sort(by).iter_rows(named=True)
    ]
    page.table(headings, rows, stays_in_sight=True)


def add_stock(book: Book, order: Order) -> None:
    """Write what was ordered, came, was handed over, was lost and is in store."""
    widths = (22, 13, 11, 11, 12, 13, 11, 11, 13, 11, 13, 13)
    page = _page(book, order, "stock", "sheet", widths)
    page.title("order.stock.title")
    page.note("order.stock.note")
    rows: list[list[Cell]] = []
    for row in order.plan.reconciled.iter_rows(named=True):
        code = quantity_format(row["item_kind"], order.wording)
        label = said("order.item.live" if row["item_kind"] == "worms" else "order.item.all_bedding")
        if row["item_kind"] == "bins":
            label = order.item_name("bins", row["stock_item"])
        rows.append([label, *(Number(row[f"{name}_quantity"], code) for name in QUANTITIES)])
    if rows:
        page.table(columns(f"item {STOCK}"), rows)
    else:
        page.note("order.stock.nothing")


def add_quantities(book: Book, order: Order) -> None:
    """Write the hand-over days, the starter with its run-in, and losses by supplier."""
    widths = (30, 11, 17, 9, 10, 11, 10, 11, 11, 11, 10)
    page = _page(book, order, "quantities", "sheet", widths)
    page.title("order.quantities.title")
    page.note("order.quantities.note")
    events = event_table(order.plan, order.lines).iter_rows(named=True)
    rows = [_event_row(row, order.wording) for row in events]
    page.table(columns(EVENTS), rows, stays_in_sight=True)
    for words in lack_words(order.plan, order.wording):
        page.note(words)
    _starter(page, order)
    _bedding(page, order)
    _losses(page, order)


def _event_row(row: dict[str, Any], wording: Wording) -> list[Cell]:
    kilos = quantity_format("worms", wording)
    return [
        row["place"] or "–",
        row["event_id"],
        day_cell(row["event_date"], wording),
        Number(float(row["booked_count"])),
        Number(row["expected_count"], "#,##0"),
        Number(float(row["bins_bought_count"])),
        level_cell(row["bins_level"], wording),
        Number(float(row["show_ups_count"])),
        Number(row["worms_alive_kg"], kilos),
        Number(row["worms_sent_kg"], kilos),
        level_cell(row["worms_level"], wording),
    ]


def _starter(page: Page, order: Order) -> None:
    wording = order.wording
    page.section("order.starter.title")
    rule = "mass" if order.plan.settings.starter_rule == "mass" else "scraps"
    grams = wording.number(order.plan.starter_kg * 1000.0)
    page.note(said("order.starter.note", grams=grams, rule=said(f"order.starter.by_{rule}")))
    share = number_format("share", 0, wording)
    rows: list[list[Cell]] = []
    for model, taken in order.plan.run_in.items():
        shares = (Number(float(taken[month]), share) for month in SHOWN_MONTHS)
        rows.append([order.item_name("bins", model), "", "", *shares])
    months = [said("order.column.month", month=month) for month in SHOWN_MONTHS]
    page.table((*columns("takes - -"), *months), rows)


def _bedding(page: Page, order: Order) -> None:
    bedding = order.plan.bedding
    if not bedding.bought_kg and not bedding.free_kg:
        return
    page.section("order.bedding.title")
    grams = f'{number_format("", 0, order.wording)}" g"'
    parts = [("bought", bedding.bought_kg), ("free", bedding.free_kg)]
    rows: list[list[Cell]] = [
        [material_words(one, paper()), said(f"order.bedding.{how}"), "", Number(kg * 1000.0, grams)]
        for how, masses in parts
        for one, kg in masses.items()
    ]
    page.table(columns("material - - a_bin"), rows)
    if bedding.watered is None:
        return
    number, watered = order.wording.number, bedding.watered
    fills = listing(
        f"{order.item_name('bins', model)} {number(litres)} L"
        for model, litres in bedding.litres_by_model.items()
    )
    told = {"fills": fills, "water": number(bedding.water_litres, 1)}
    told["moisture"] = order.wording.share(watered.moisture_share)
    ratio = number(watered.carbon_to_nitrogen_ratio)
    page.note(said("order.bedding.note", **told, ratio=ratio))


def _losses(page: Page, order: Order) -> None:
    wording = order.wording
    live = sorted({one.supplier_id for one in order.plan.problem.offers if one.is_live})
    page.section("order.losses.title")
    share, kilos = number_format("share", 1, wording), quantity_format("worms", wording)
    rows: list[list[Cell]] = []
    for code in live:
        law = order.plan.laws[code]
        numbers = (Number(law.mean_share, share), Number(float(law.deliveries_count)))
        rows.append([order.supplier_name(code), "", "", *numbers, Number(law.received_kg, kilos)])
    page.table(columns("supplier - - loss_expected deliveries received"), rows)
    allowed = wording.share(order.plan.settings.transit_loss_share, 1)
    page.note(said("order.losses.note", share=allowed))
