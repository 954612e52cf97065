"""The folder of an order: the workbook, the lines to load once sent, and the figures."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING

import polars as pl
from openpyxl import Workbook
from openpyxl.cell import WriteOnlyCell

from planner.errors import OrderError
from planner.paths import FIGURES_FILE, FIGURES_TABLE_FILE
from planner.report.orders.approval import add_approval
from planner.report.orders.cautions import CAUTIONS
from planner.report.orders.deliveries import add_calendar, add_receiving, add_stock
from planner.report.orders.figures import register_order
from planner.report.orders.numbered import numbered_lines
from planner.report.orders.quantities import add_quantities
from planner.report.orders.supplier_sheets import add_supplier_sheets
from planner.report.wording import Wording
from planner.report.workbook.archive import workbook_bytes
from planner.report.workbook.cells import safe_text
from planner.report.workbook.page import Page
from planner.store.files import write_whole
from planner.tables import TABLES

if TYPE_CHECKING:
    from pathlib import Path

    from planner.ordering.plan import OrderPlan
    from planner.program import Program

ORDERS_FOLDER = "orders"
ORDER_FILE = "order.xlsx"
TO_LOAD_FILE = "orders_to_load.xlsx"
DAY_FORMAT = "yyyy-mm-dd"


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
    solution = plan.solution
    if solution is None:
        message = "an order without a plan has no files"
        raise ValueError(message)
    lines = numbered_lines(solution, plan.from_date)
    wording = Wording.of(program)
    book = Workbook()
    book.remove(book.worksheets[0])
    add_approval(book, plan, solution, lines, program, wording)
    add_supplier_sheets(book, plan, lines, program, wording)
    add_calendar(book, plan, lines, program, wording)
    add_receiving(book, plan, lines, program, wording)
    add_quantities(book, plan, lines, program, wording)
    add_stock(book, plan, program, wording)
    _add_cautions(book, program)
    book.properties.title = safe_text(f"Order from {plan.from_date}")
    book.properties.creator = safe_text(program.council.name)
    written_at = dt.datetime.combine(plan.from_date, dt.time())
    register = register_order(plan, lines, program)
    contents = (
        workbook_bytes(book, written_at, ""),
        lines_to_load(lines.with_columns(order_date=pl.lit(plan.from_date)), written_at),
        register.to_json().encode(),
        b"\xef\xbb\xbf" + register.to_csv().encode(),
    )
    files = order_files(folder, plan.from_date)
    for path, content in zip(files, contents, strict=True):
        _write(path, content)
    return files


def lines_to_load(lines: pl.DataFrame, written_at: dt.datetime) -> bytes:
    """Workbook with the sheet orders, to be loaded when the order has gone out.

    Parameters
    ----------
    lines
        Lines with order_line_id; order_date is the day on which the order goes out.
    written_at
        Stands for the time of writing.
    """
    names = TABLES["orders"].column_names()
    rows = lines.select(names)
    book = Workbook(write_only=True)
    sheet = book.create_sheet("orders")
    sheet.append(names)
    for row in rows.iter_rows():
        cells = []
        for value in row:
            cell = WriteOnlyCell(sheet, value)
            if isinstance(value, str):
                cell.data_type = "s"
                cell.quotePrefix = True
            if isinstance(value, dt.date):
                cell.number_format = DAY_FORMAT
            cells.append(cell)
        sheet.append(cells)
    return workbook_bytes(book, written_at, "")


def _add_cautions(book: Workbook, program: Program) -> None:
    page = Page(book, "Cautions", (28, 28, 28, 28))
    page.title("Cautions")
    for subject, sentences in CAUTIONS:
        page.section(subject)
        for sentence in sentences:
            page.note(f"• {sentence}")
    page.finish(f"{program.council.name}: cautions")


def _write(path: Path, content: bytes) -> None:
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        write_whole(path, content, mode=0o644)
    except OSError as error:
        message = f"{path}: cannot be written ({error.strerror}). Close it in other programs."
        raise OrderError(message, path=str(path)) from error
