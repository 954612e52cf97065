"""The folder of an order: the workbook, the lines to load once sent, and the figures."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING

import polars as pl

from planner.errors import OrderError
from planner.paths import FIGURES_FILE, FIGURES_TABLE_FILE
from planner.report.orders.approval import add_approval
from planner.report.orders.cautions import add_cautions
from planner.report.orders.days import add_calendar, add_quantities, add_receiving, add_stock
from planner.report.orders.figures import register_order
from planner.report.orders.order import Order
from planner.report.orders.supplier_sheets import add_supplier_sheets
from planner.report.workbook.book import Book
from planner.store.files import write_whole
from planner.tables import TABLES
from planner.workbooks import records_workbook, workbook_bytes

if TYPE_CHECKING:
    from pathlib import Path

    from planner.ordering.plan import OrderPlan
    from planner.program import Program

ORDERS_FOLDER = "orders"
ORDER_FILE = "order.xlsx"
TO_LOAD_FILE = "orders_to_load.xlsx"


def order_files(folder: Path, from_date: dt.date) -> tuple[Path, ...]:
    """Name the files of an order."""
    place = folder / ORDERS_FOLDER / from_date.isoformat()
    names = (ORDER_FILE, TO_LOAD_FILE, FIGURES_FILE, FIGURES_TABLE_FILE)
    return tuple(place / name for name in names)


def check_absent(folder: Path, from_date: dt.date, *, force: bool) -> None:
    """Refuse to write over an order.

    Raises
    ------
    OrderError
        An order from that day is there already, and `force` is False.
    """
    there = [path for path in order_files(folder, from_date) if path.exists()]
    if there and not force:
        message = (
            f"{there[0]}: is there already, and may have been sent. Name another first day with "
            "--from, or add --force to write it anew."
        )
        raise OrderError(message, path=str(there[0]))


def write_order(folder: Path, plan: OrderPlan, program: Program) -> tuple[Path, ...]:
    """Write the files of an order that has a plan.

    Parameters
    ----------
    folder
        Program folder.
    plan
        A plan with a solution.
    program
        The program file.

    Raises
    ------
    OrderError
        A file cannot be written.
    """
    order = Order.of(plan, program)
    day = plan.from_date
    book = Book(f"Order from {day}", program.council.name, order.wording)
    add_approval(book, order)
    add_supplier_sheets(book, order)
    add_calendar(book, order)
    add_receiving(book, order)
    add_quantities(book, order)
    add_stock(book, order)
    _add_cautions(book)
    written_at = dt.datetime.combine(day, dt.time())
    register = register_order(order)
    to_load = order.lines.with_columns(order_date=pl.lit(day)).select(
        TABLES["orders"].column_names()
    )
    contents = (
        book.contents(written_at),
        workbook_bytes(records_workbook({"orders": to_load}), written_at),
        register.to_json().encode(),
        register.to_csv().encode("utf-8-sig"),
    )
    files = order_files(folder, plan.from_date)
    for path, content in zip(files, contents, strict=True):
        _write(path, content)
    return files


def _add_cautions(book: Book) -> None:
    with book.page("Cautions", (28, 28, 28, 28)) as page:
        page.title("Cautions")
        add_cautions(page)


def _write(path: Path, content: bytes) -> None:
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        write_whole(path, content, mode=0o644)
    except OSError as error:
        message = f"{path}: cannot be written ({error.strerror}). Close it in other programs."
        raise OrderError(message, path=str(path)) from error
