"""The folder of an order: the workbook, the lines to load once sent, and the figures."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from pathlib import Path

import numpy as np
import polars as pl

from planner.errors import OrderError
from planner.figures import INTERVAL_PERCENT, FigureRegister, Input
from planner.messages import said
from planner.ordering.plan import (
    OrderPlan,
    cost_by_quarter,
    cost_by_supplier,
    event_table,
    overall_levels,
)
from planner.ordering.spares import demand_pmf
from planner.paths import FIGURES_FILE, FIGURES_TABLE_FILE, ORDERS_FOLDER
from planner.program import Program, label_of_date
from planner.report.inputs import WordedFigures
from planner.report.orders.approval import add_approval
from planner.report.orders.days import add_calendar, add_quantities, add_receiving, add_stock
from planner.report.orders.order import Order
from planner.report.orders.papers import Paper, add_cautions, add_paper, paper_document
from planner.report.orders.purchase_orders import purchase_orders
from planner.report.orders.quotes import quotes_compared, request_for_quotes
from planner.report.orders.under_way import invoices_matched, orders_under_way
from planner.report.word.placeholders import PAPER_TEMPLATE
from planner.report.word.writing import write_word
from planner.report.workbook.page import Book
from planner.store.files import disk_faults, refuse_there, write_whole
from planner.store.opening import open_store
from planner.tables import TABLES
from planner.units import PER_CENT
from planner.workbooks import records_workbook, workbook_bytes

SHEETS = (
    "order.calendar.title",
    "order.receiving.title",
    "order.quantities.sheet",
    "order.stock.sheet",
    "order.cautions.sheet",
)
"""Keys of names that a supplier's sheet must not take."""

ORDER_FILE = "order.xlsx"
TO_LOAD_FILE = "orders_to_load.xlsx"


def order_files(folder: Path, from_date: dt.date) -> tuple[Path, ...]:
    """Name the files of an order."""
    place = folder / ORDERS_FOLDER / from_date.isoformat()
    names = (ORDER_FILE, TO_LOAD_FILE, FIGURES_FILE, FIGURES_TABLE_FILE)
    return tuple(place / name for name in names)


def check_absent(folder: Path, from_date: dt.date, *, force: bool) -> None:
    """Refuse with an OrderError to write over an order from that day, unless by force."""
    order = order_files(folder, from_date)[:1]
    refuse_there(order, "orders.sent_already", OrderError, forced=force)


def write_order(
    folder: Path, plan: OrderPlan, program: Program, template: Path | None = None
) -> tuple[Path, ...]:
    """Write the files of an order that has a plan, or of one with nothing to buy.

    With nothing to buy the workbook says so, with what is under way and what was charged.

    Raises
    ------
    StoreError
        The records cannot be read.
    OrderError
        A file cannot be written.
    ReportError
        The template cannot be filled.
    """
    with open_store(folder, read_only=True) as store:
        order = Order.of(plan, program, store)
    written_at = dt.datetime.combine(plan.from_date, dt.time())
    to_suppliers: tuple[Paper, ...] = ()
    if plan.has_lines:
        to_suppliers = (*purchase_orders(order), request_for_quotes(order), quotes_compared(order))
    into_the_file = (invoices_matched(order), orders_under_way(order))
    book = _book(order, (*to_suppliers, *into_the_file))
    register = register_order(order)
    contents = {ORDER_FILE: book.contents(written_at), **register.contents()}
    if plan.has_lines:
        to_load = order.lines.with_columns(order_date=pl.lit(plan.from_date)).select(
            TABLES["orders"].column_names()
        )
        contents[TO_LOAD_FILE] = workbook_bytes(records_workbook({"orders": to_load}), written_at)
    files = [path for path in order_files(folder, plan.from_date) if path.name in contents]
    place = files[0].parent
    with disk_faults(place, "orders.not_made", OrderError):
        place.mkdir(parents=True, exist_ok=True)
    words = _write_words(place, order, to_suppliers or into_the_file, written_at, template)
    # the workbook last: while it is not there, nothing can have been sent
    for path in reversed(files):
        with disk_faults(path, "file.close", OrderError):
            write_whole(path, contents[path.name])
    return (*files, *words)


def _book(order: Order, papers: Sequence[Paper]) -> Book:
    """Write the workbook of an order."""
    title = said("order.file_title", day=f"{order.plan.from_date}")
    book = Book(title, order.program.council.name, order.wording)
    add_approval(book, order)
    names = (*(said(key) for key in SHEETS), *book.workbook.sheetnames)
    taken = {name.casefold() for name in names}
    for paper in papers:
        add_paper(book, paper, taken)
    if order.plan.has_lines:
        add_calendar(book, order)
        add_receiving(book, order)
    add_quantities(book, order)
    add_stock(book, order)
    page = book.page("order.cautions.sheet", (28, 28, 28, 28))
    page.title("order.cautions.sheet")
    add_cautions(page)
    return book


def _write_words(
    place: Path,
    order: Order,
    papers: Sequence[Paper],
    written_at: dt.datetime,
    template: Path | None,
) -> tuple[Path, ...]:
    """Set each paper as a Word document in the council's template or the planner's."""
    files = []
    for paper in papers:
        document = paper_document(paper, order, written_at)
        keys = tuple(section.key for section in document.sections)
        files.append(place / f"{paper.stem}.docx")
        with disk_faults(files[-1], "file.close", OrderError):
            write_word(files[-1], document, (), template or PAPER_TEMPLATE, keys)
    return tuple(files)


SETTINGS = Input("program", "[ordering]")
OFFERS = Input("query", "offers", "table offers")


def register_order(order: Order) -> FigureRegister:
    """Register every figure of an order."""
    label = label_of_date(order.plan.from_date, order.program.council.reporting_year_first_month)
    figures = WordedFigures.of(order.program, label, "order.figure.")
    _put_costs(figures, order)
    _put_quantities(figures, order)
    _put_levels(figures, order)
    return figures.register


def _put_costs(figures: WordedFigures, order: Order) -> None:
    solution, lines, currency = order.solution, order.lines, order.program.council.currency
    whole, least = "order_landed_cost", "order_least_cost_proven"
    for figure_id, label, value in (
        (whole, "landed_cost", solution.cost),
        ("order_goods_cost", "goods_cost", float(lines["goods_amount"].sum())),
        ("order_freight_cost", "freight_cost", float(lines["freight_amount"].sum())),
        (least, "least_cost", solution.bound),
    ):
        figures.put(figure_id, label, value, currency, "program", SETTINGS, OFFERS)
    figures.put("order_gap_share", "gap", solution.gap, "share", "gap_method", whole, least)
    for row in cost_by_supplier(lines).iter_rows(named=True):
        figure_id = f"order_supplier_cost[{row['supplier_id']}]"
        cost, supplier = row["landed_amount"], order.supplier_name(row["supplier_id"])
        method = "supplier_method"
        figures.put(figure_id, "supplier_cost", cost, currency, method, whole, supplier=supplier)
    for row in cost_by_quarter(order.plan, lines).iter_rows(named=True):
        day = row["begins"].isoformat() if row["begins"] else "no_budget"
        for name, value, rests_on in (
            ("quarter_cost", row["landed_amount"], (SETTINGS, OFFERS)),
            ("quarter_budget", row["budget"], (SETTINGS,)),
        ):
            method = "quarter_method" if name == "quarter_cost" else "quarter_budget_method"
            if value is not None:
                figures.put(
                    f"order_{name}[{day}]", name, value, currency, method, *rests_on, day=day
                )


def _put_quantities(figures: WordedFigures, order: Order) -> None:
    settings, events = order.plan.settings, order.plan.demand.events
    booked = int(events.booked_count.sum())
    up_to = np.cumsum(
        demand_pmf(events.booked_count, settings.show_up_share, settings.show_up_likeness)
    )
    low, high = (float(np.searchsorted(up_to, percent / PER_CENT)) for percent in INTERVAL_PERCENT)
    counted = Input("query", "upcoming_events", f"{len(events.event_ids)} hand-over days")
    unit, come = "households", (booked * settings.show_up_share, low, high)
    figures.put("order_booked", "booked", float(booked), unit, "booked_method", counted)
    figures.put(
        "order_show_ups", "show_ups", come, unit, "show_ups_method", "order_booked", SETTINGS
    )
    starter_kg = order.plan.starter_kg
    figures.put("order_starter_kg", "starter", starter_kg, "kg", "starter_method", SETTINGS)
    totals = order.lines.group_by("item_kind", "item_id").agg(pl.col("ordered_quantity").sum())
    for kind, item, quantity in totals.sort("item_kind", "item_id").iter_rows():
        name, unit = f"order_quantity[{item}]", "bins" if kind == "bins" else "kg"
        method, rests_on = "quantity_method", ("order_show_ups", SETTINGS)
        figures.put(name, "quantity", float(quantity), unit, method, *rests_on, item=item)


def _put_levels(figures: WordedFigures, order: Order) -> None:
    for item, level in overall_levels(order.plan, order.lines).items():
        name, rests_on = f"order_service_level[{item}]", (SETTINGS, "order_show_ups")
        figures.put(name, "level", level, "share", "level_method", *rests_on, item=item)
    for row in event_table(order.plan, order.lines).iter_rows(named=True):
        event, sent_kg = row["event_id"], row["worms_sent_kg"]
        name, rests_on = f"order_event_worms_kg[{event}]", (SETTINGS, "order_starter_kg")
        figures.put(name, "event_worms", sent_kg, "kg", "event_method", *rests_on, event=event)
    for supplier, law in sorted(order.plan.laws.items()):
        name = f"order_live_loss_share[{supplier}]"
        held = Input("query", "live_deliveries", f"{law.deliveries_count} deliveries")
        share = law.mean_share
        figures.put(name, "loss", share, "share", "loss_method", held, supplier=supplier)
