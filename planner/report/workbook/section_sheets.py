"""Sections of the report as sheets: the same statements and tables, with numbers in the cells."""

from __future__ import annotations

from typing import TYPE_CHECKING

from planner.report.document.model import Paragraph, Shown, Table
from planner.report.wording import decimals
from planner.report.workbook.cells import Number, number_format
from planner.report.workbook.page import Page

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from openpyxl import Workbook

    from planner.figures import FigureRegister
    from planner.report.document.model import Document, Section, Statement
    from planner.report.wording import Wording
    from planner.report.workbook.cells import Cell

SHEETS = {
    "chain": "Gross to net",
    "emissions": "Emissions",
    "money": "Money",
    "sureness": "How sure",
    "earlier": "Earlier years",
    "method": "Method",
}
"""Name of the sheet of each section that has one; other sections have sheets of their own."""

FIRST_WIDTH, WIDTH = 54, 15
LEAST_COLUMNS = 4
NUMBERS = ("number", "amount", "figure")


def add_sections(
    workbook: Workbook,
    document: Document,
    keys: Iterable[str],
    register: FigureRegister,
    wording: Wording,
) -> None:
    """Write a sheet for each section of these keys that the report has.

    Parameters
    ----------
    workbook
        Takes the sheets.
    document
        What the report says.
    keys
        Which sections, in order.
    register, wording
        Values of the figures, and the council's money and locale.
    """
    there = {section.key: section for section in document.sections}
    for key in keys:
        if key in there:
            _add_section(workbook, document, there[key], register, wording)


def _add_section(
    workbook: Workbook,
    document: Document,
    section: Section,
    register: FigureRegister,
    wording: Wording,
) -> None:
    tables = [block for one in _flat(section) for block in one.blocks if isinstance(block, Table)]
    columns = max([LEAST_COLUMNS, *(len(table.columns) for table in tables)])
    page = Page(workbook, SHEETS[section.key], (FIRST_WIDTH, *[WIDTH] * (columns - 1)))
    page.title(f"{section.heading}, {document.reporting_year}")
    for part in _flat(section):
        if part is not section:
            page.section(part.heading)
        for block in part.blocks:
            if isinstance(block, Paragraph):
                _add_paragraph(page, block)
            elif isinstance(block, Table):
                _add_table(page, block, register, wording)
    page.finish(f"{document.council}, {document.reporting_year}", landscape=columns > LEAST_COLUMNS)


def _flat(section: Section) -> list[Section]:
    """List a section and those inside it, in order."""
    return [section, *(one for part in section.parts for one in _flat(part))]


def _add_paragraph(page: Page, paragraph: Paragraph) -> None:
    if paragraph.kind == "lead":
        page.lead(paragraph.words)
    else:
        page.note(f"• {paragraph.words}" if paragraph.kind == "point" else paragraph.words)


def _add_table(page: Page, table: Table, register: FigureRegister, wording: Wording) -> None:
    page.section(table.caption)
    rows = [[_cell(cell, register, wording) for cell in row] for row in table.rows]
    total = rows.pop() if table.has_total and rows else None
    page.table([column.heading for column in table.columns], rows, total)
    if table.note:
        page.note(table.note)


def _cell(statement: Statement, register: FigureRegister, wording: Wording) -> Cell:
    """Put a figure alone as its full number; everything else as words."""
    parts: Sequence[str | Shown] = [part for part in statement.parts if part != ""]
    if len(parts) == 1 and isinstance(parts[0], Shown) and parts[0].shows in NUMBERS:
        figure = register[parts[0].figure_id]
        code = number_format(figure.unit, decimals(figure), wording)
        return Number(figure.value, code, parts[0].words)
    if len(parts) == 1 and isinstance(parts[0], Shown):
        # a spreadsheet would run words that begin with a hyphen; the minus sign it leaves alone
        return parts[0].words.replace("-", "−") or None
    return statement.words or None
