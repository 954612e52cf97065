"""Sheets by day: deliveries, receiving, stock, and what each hand-over day needs and has."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING, Any

import polars as pl

from planner.cells import Number
from planner.ordering.plan import event_table
from planner.ordering.working_days import WorkingDays
from planner.report.orders.order import day_cell, level_cell, quantity_format, unit_of
from planner.report.wording import listing
from planner.report.workbook.formats import number_format

if TYPE_CHECKING:
    from planner.cells import Cell
    from planner.report.orders.order import Order
    from planner.report.wording import Wording
    from planner.report.workbook.book import Book
    from planner.report.workbook.page import Page

FORECAST_DAYS_BEFORE = 2
"""Days before a dispatch on which its forecast is looked at."""

STOCK_COLUMNS = {
    "ordered": "Ordered",
    "short": "Short",
    "outstanding": "To come",
    "opening": "Opening",
    "received": "Received",
    "returned": "Returned",
    "unusable": "Unusable",
    "handed": "Handed over",
    "lost": "Lost",
    "unexplained": "Unexplained",
}
"""Quantities of the query stock_reconciled as they are headed, but for what is in store."""

RECEIVING_HEADINGS = (
    "Line",
    "Due",
    "Supplier",
    "Item",
    "Ordered",
    "Came on",
    "Received",
    "Unusable",
    "Short",
    "Species seen, °C, initials",
)

LIKELY = 0.1
"""Chance of a hold from which a second day is worth keeping free."""

EVENT_HEADINGS = (
    "Place",
    "Day",
    "Date",
    "Booked",
    "Expected",
    "Bins bought by then",
    "Chance enough",
    "Starters to have",
    "Alive on the day",
    "Sent for it",
    "Chance enough",
)
SHOWN_MONTHS = (0, 1, 2, 3, 6, 12)


def add_calendar(book: Book, order: Order) -> None:
    """Write what is to be done on which day, until the last delivery."""
    wording = order.wording
    page = book.add("Delivery calendar", (17, 17, 17, 17, 17, 30, 34, 13, 8))
    page.title("Delivery calendar")
    window = order.plan.calendar.weather.plain
    page.note(
        "Plainly packed worms travel only when every day on the way is between "
        f"{window.coldest_c:g} and {window.warmest_c:g} °C; better packed ones as their line "
        "says. The chance of a hold rests on monthly normals, or on the forecast where one was "
        "given; look at the forecast on the day named and plan again with "
        "planner order --forecast."
    )
    days = order.lines.group_by("slot", maintain_order=True).agg(
        pl.col("supplier_id", "dispatch_date", "delivery_date").first(),
        pl.col("order_date", "latest_order_date").first(),
        pl.col("held_chance").max(),
        pl.struct("item_kind", "item_id", "packing", "ordered_quantity").alias("items"),
    )
    rows = [
        _calendar_row(order, row)
        for row in days.sort("delivery_date", "supplier_id").iter_rows(named=True)
    ]
    page.table(
        (
            "Order by",
            "At the latest",
            "Look at forecast",
            "Sent",
            "Comes",
            "Supplier",
            "What",
            "For",
            "Hold",
        ),
        rows,
        stays_in_sight=True,
    )
    risky = [row for row in days["held_chance"] if row > LIKELY]
    if risky:
        page.note(
            f"{len(risky)} deliveries have a chance of more than {wording.share(LIKELY)} to be "
            "held: agree a second day with the supplier beforehand."
        )
    page.finish(f"{order.program.council.name}: deliveries", landscape=True)


def _calendar_row(order: Order, row: dict[str, Any]) -> list[Cell]:
    is_live = any(item["item_kind"] == "worms" for item in row["items"])
    ahead = row["dispatch_date"] - dt.timedelta(days=FORECAST_DAYS_BEFORE)
    look = WorkingDays(order.plan.settings.public_holidays).back_to_working(ahead)
    return [
        day_cell(row["order_date"], order.wording),
        day_cell(row["latest_order_date"], order.wording),
        day_cell(look if is_live else None, order.wording, "–"),
        day_cell(row["dispatch_date"], order.wording),
        day_cell(row["delivery_date"], order.wording),
        order.supplier_name(row["supplier_id"]),
        "\n".join(_goods(order, item) for item in row["items"]),
        _events_served(order, row["slot"]) if is_live else "stock",
        Number(
            row["held_chance"] if is_live else None, number_format("share", 0, order.wording), "–"
        ),
    ]


def _goods(order: Order, item: dict[str, object]) -> str:
    kind, name = str(item["item_kind"]), str(item["item_id"])
    quantity = order.wording.number(
        float(str(item["ordered_quantity"])), 0 if kind == "bins" else 1
    )
    return f"{quantity} {unit_of(kind)} {order.item_name(kind, name, str(item['packing']))}"


def _events_served(order: Order, slot: int) -> str:
    solution = order.plan.solution
    served = [
        number for number, where in (order.solution.sent_kg if solution else {}) if where == slot
    ]
    return ", ".join(order.plan.demand.events.event_ids[number] for number in sorted(set(served)))


def add_receiving(book: Book, order: Order) -> None:
    """Write the list that is filled in as goods come, in the words of the sheet deliveries."""
    widths = (14, 17, 30, 29, 11, 12, 11, 11, 11, 17)
    page = book.add("Receiving checklist", widths)
    page.title("Receiving checklist")
    page.note(
        "Fill in a line as it comes, on the day. Weigh worms without their packing mix; weigh "
        "the dead apart. Bins: count broken and faulty ones as unusable. Then write these "
        "numbers on the sheet deliveries of the intake workbook and load it."
    )
    rows: list[list[Cell]] = [
        [
            row["order_line_id"],
            day_cell(row["delivery_date"], order.wording),
            order.supplier_name(row["supplier_id"]),
            order.item_name(row["item_kind"], row["item_id"], row["packing"]),
            Number(row["ordered_quantity"], quantity_format(row["item_kind"], order.wording)),
            *[""] * (len(RECEIVING_HEADINGS) - 5),
        ]
        for row in order.lines.sort("delivery_date", "supplier_id", "order_line_id").iter_rows(
            named=True
        )
    ]
    page.table(RECEIVING_HEADINGS, rows, stays_in_sight=True)
    page.finish(f"{order.program.council.name}: receiving", landscape=True)


def add_stock(book: Book, order: Order) -> None:
    """Write what was ordered, came, was handed over, was lost and is in store."""
    page = book.add("Stock", (22, 13, 11, 11, 12, 13, 11, 11, 13, 11, 13, 13))
    page.title("Ordered, received, handed over, lost, in store")
    page.note(
        "At the end of the first day of this order. In store = opening + received + returned + "
        "unexplained − unusable − handed over − lost. Unexplained is what the last count found "
        "beyond the books; it should be 0."
    )
    columns = (*STOCK_COLUMNS, "in_stock")
    headings = ("Item", *STOCK_COLUMNS.values(), "In store")
    rows: list[list[Cell]] = []
    for row in order.plan.reconciled.iter_rows(named=True):
        code = quantity_format(row["item_kind"], order.wording)
        label = "Live worms" if row["item_kind"] == "worms" else "Bedding, dry"
        if row["item_kind"] == "bins":
            label = order.item_name("bins", row["stock_item"])
        rows.append([label, *(Number(row[f"{name}_quantity"], code) for name in columns)])
    if rows:
        page.table(headings, rows)
    else:
        page.note("Nothing was ordered, delivered or counted yet.")
    page.finish(f"{order.program.council.name}: stock", landscape=True)


def add_quantities(book: Book, order: Order) -> None:
    """Write the hand-over days, the starter with its run-in, and losses by supplier."""
    page = book.add("Quantities", (30, 11, 17, 9, 10, 11, 10, 11, 11, 11, 10))
    page.title("Quantities by hand-over day")
    page.note(
        "Bins keep, so their numbers add up from day to day and count those in store and on "
        "order apart; worms do not, so each day has its own. Chances count every combination "
        "of households that come or stay away and of bins that prove usable or not."
    )
    rows = [
        _event_row(row, order.wording)
        for row in event_table(order.plan, order.lines).iter_rows(named=True)
    ]
    page.table(EVENT_HEADINGS, rows, stays_in_sight=True)
    _starter(page, order)
    _bedding(page, order)
    _losses(page, order)
    page.finish(f"{order.program.council.name}: quantities", landscape=True)


def _event_row(row: dict[str, Any], wording: Wording) -> list[Cell]:
    kilos = '#,##0.0" kg"'
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
    page.section("Starter worms")
    rule = (
        "as program.toml says"
        if order.plan.settings.starter_rule == "mass"
        else "from people, scraps and the share the stock can take at first"
    )
    page.note(
        f"{wording.number(order.plan.starter_kg * 1000.0)} g a bin, {rule}. By mass, not by "
        "number: the same kilogram holds 2,000 grown worms or 4,000 of mixed size."
    )
    share = number_format("share", 0, wording)
    names = {model.model_id: model.model_name for model in order.program.bin_models}
    rows: list[list[Cell]] = []
    for model, run_in in order.plan.run_in.items():
        taken = dict(zip(run_in.months, run_in.taken_share, strict=True))
        rows.append([names[model], "", "", *(Number(float(taken[m]), share) for m in SHOWN_MONTHS)])
    months = [f"month {month}" for month in SHOWN_MONTHS]
    page.table(("Share of its scraps that a bin takes", "", "", *months), rows)


def _bedding(page: Page, order: Order) -> None:
    bedding = order.plan.bedding
    if not bedding.bought_kg and not bedding.free_kg:
        return
    page.section("Bedding for a bin")
    kilos = '#,##0.00" kg"'
    parts = [("bought", bedding.bought_kg), ("free", bedding.free_kg)]
    rows: list[list[Cell]] = [
        [material.replace("_", " "), how, "", Number(mass, kilos)]
        for how, masses in parts
        for material, mass in masses.items()
    ]
    page.table(("Material, as bought", "", "", "A bin"), rows)
    if bedding.watered is None:
        return
    names = {model.model_id: model.model_name for model in order.program.bin_models}
    fills = listing(
        f"{names[model]} {order.wording.number(litres)} L"
        for model, litres in bedding.litres_by_model.items()
    )
    page.note(
        f"The cheapest mix of what is free and what is offered that fills the first tray: {fills}. "
        f"Add {order.wording.number(bedding.water_litres, 1)} L of water a bin, to "
        f"{order.wording.share(bedding.watered.moisture_share)} moisture. Carbon to nitrogen "
        f"{order.wording.number(bedding.watered.carbon_to_nitrogen_ratio)} to 1, as a guide."
    )


def _losses(page: Page, order: Order) -> None:
    wording = order.wording
    live = sorted({one.supplier_id for one in order.plan.problem.offers if one.is_live})
    page.section("Worms dead on arrival, by supplier")
    share = number_format("share", 1, wording)
    rows: list[list[Cell]] = [
        [
            order.supplier_name(code), "", "",
            Number(order.plan.laws[code].mean_share, share),
            Number(float(order.plan.laws[code].deliveries_count)),
            Number(order.plan.laws[code].received_kg, '#,##0" kg"'),
        ]
        for code in live
    ]  # fmt: skip
    page.table(("Supplier", "", "", "Expected", "Deliveries", "Received"), rows)
    page.note(
        f"Before there are deliveries the allowance is "
        f"{wording.share(order.plan.settings.transit_loss_share, 1)} in three days on the way "
        "(growers claim less; no independent study was found). Each kilogram bag that came "
        "moves it, bags of one delivery less than single ones."
    )
