"""The folder of an order: the workbook, the lines to load once sent, and the figures."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING

import polars as pl

from planner.errors import OrderError
from planner.messages import said
from planner.paths import FIGURES_FILE, FIGURES_TABLE_FILE, ORDERS_FOLDER
from planner.report.orders.approval import add_approval
from planner.report.orders.cautions import add_cautions
from planner.report.orders.days import add_calendar, add_quantities, add_receiving, add_stock
from planner.report.orders.figures import register_order
from planner.report.orders.order import Order, PurchaseRecords
from planner.report.orders.papers import add_paper, paper_document
from planner.report.orders.purchase_orders import purchase_orders
from planner.report.orders.quotes import quotes_compared, request_for_quotes
from planner.report.orders.under_way import invoices_matched, orders_under_way
from planner.report.word.placeholders import PAPER_TEMPLATE
from planner.report.word.writing import write_word
from planner.report.workbook.book import Book
from planner.store import open_store
from planner.store.files import disk_faults, refuse_there, write_whole
from planner.tables import TABLES
from planner.workbooks import records_workbook, workbook_bytes

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    from planner.ordering.plan import OrderPlan
    from planner.program import Program
    from planner.report.orders.papers import Paper

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
    OrderError
        A file cannot be written.
    ReportError
        The template cannot be filled.
    """
    order = Order.of(plan, program, read_purchase_records(folder, plan.from_date))
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


def read_purchase_records(folder: Path, as_of: dt.date) -> PurchaseRecords:
    """Read suppliers, and orders against deliveries and invoices up to a day.

    Raises
    ------
    StoreError
        The records cannot be read.
    """
    with open_store(folder, read_only=True) as store:
        return PurchaseRecords(
            store.records("suppliers"), store.query("three_way_match", as_of=as_of)
        )


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
