"""Sections of the report as sheets: the same statements and tables, with numbers in the cells."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from planner.cells import Number
from planner.messages import said
from planner.report.document import Paragraph, Shown, Table
from planner.report.wording import decimals
from planner.report.workbook.formats import as_printed, number_format, to_cents

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

    from planner.cells import Cell
    from planner.figures import FigureRegister
    from planner.report.document import Document, Section, Statement
    from planner.report.wording import Wording
    from planner.report.workbook.book import Book
    from planner.report.workbook.page import Page

SHEETS = {
    "forecast": "sheet.forecast",
    "planned": "sheet.planned",
    "problems": "sheet.problems",
    "sites": "sheet.sites",
    "chain": "sheet.chain",
    "emissions": "sheet.emissions",
    "money": "sheet.money",
    "sureness": "sheet.sureness",
    "earlier": "sheet.earlier",
    "records": "sheet.records",
    "method": "sheet.method",
}
"""Name of the sheet of each section that has one; other sections have sheets of their own."""

SUPPORT = {
    "problems": ("supplied",),
    "chain": ("by_step", "castings"),
    "emissions": ("by_source",),
    "money": ("over_life",),
    "sureness": ("by_doubt",),
    "earlier": ("by_year",),
}
"""Parts of the appendices that stand on the sheet of the section that they support."""

FIRST_WIDTHS, WIDTHS = (20, 54), (15, 26)
"""Least and most width of the first column and of the others."""

LEAST_COLUMNS = 4
FULL = "book.full"
NUMBERS = ("number", "amount", "figure")


RESULTS = tuple(SHEETS)[:-2]
"""Sections of results among them, in order."""


def add_sections(
    book: Book,
    document: Document,
    keys: Iterable[str],
    register: FigureRegister,
    names: Mapping[str, str] = SHEETS,
) -> None:
    """Write a sheet, called by `names`, for each section of these keys that the report has."""
    there = {one.key: one for section in document.sections for one in _flat(section)}
    for key in keys:
        if key in there:
            more = tuple(there[name] for name in SUPPORT.get(key, ()) if name in there)
            section = replace(there[key], parts=(*there[key].parts, *more))
            _add_section(book, names[key], document, section, register)


def _add_section(
    book: Book, name: str, document: Document, section: Section, register: FigureRegister
) -> None:
    wording = book.wording
    tables = [block for one in _flat(section) for block in one.blocks if isinstance(block, Table)]
    columns = max([LEAST_COLUMNS, *(len(table.columns) for table in tables)])
    footer = f"{document.council}, {document.reporting_year}"
    is_wide = columns > LEAST_COLUMNS
    page = book.page(name, _widths(tables, columns), footer=footer, landscape=is_wide)
    page.title(f"{section.heading}, {document.reporting_year}")
    for part in _flat(section):
        if part is not section:
            page.section(part.heading)
        for block in part.blocks:
            if isinstance(block, Paragraph):
                _add_paragraph(page, block)
            elif isinstance(block, Table):
                _add_table(page, block, register, wording)
    cells = [cell for table in tables for row in table.rows for cell in row]
    if any(_is_rounded(cell, register, wording) for cell in cells):
        page.note(said(FULL, figures=said("sheet.figures")))


def _widths(tables: Sequence[Table], columns: int) -> list[float]:
    """Give each column the width of its longest cell, within limits."""
    longest = [0 if tables else FIRST_WIDTHS[1], *[0] * (columns - 1)]
    for row in (row for table in tables for row in table.rows):
        for place, cell in enumerate(row):
            longest[place] = max(longest[place], len(cell.words) + 2)
    limits = [FIRST_WIDTHS, *[WIDTHS] * (columns - 1)]
    return [min(most, max(least, n)) for n, (least, most) in zip(longest, limits, strict=True)]


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
        return Number(as_printed(figure.value, figure, wording), code, parts[0].words)
    if len(parts) == 1 and isinstance(parts[0], Shown):
        # a spreadsheet would run words that begin with a hyphen; the minus sign it leaves alone
        return Number(None, words=parts[0].words.replace("-", "−"))
    return statement.words or None


def _is_rounded(statement: Statement, register: FigureRegister, wording: Wording) -> bool:
    figures = [register[name] for name in statement.figure_ids]
    return any(
        as_printed(figure.value, figure, wording) != to_cents(figure.value, figure.unit, wording)
        for figure in figures
        if figure.value is not None
    )
