"""Papers of a purchase: said once, then set as a sheet of the workbook and as a Word document."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from planner.cells import Cell, Day, Number
from planner.messages import said
from planner.report.document import Block, Column, Document, Section, Statement, Table
from planner.report.document.saying import points, text
from planner.workbooks import sheet_name

if TYPE_CHECKING:
    from planner.ordering.shipping_window import TravelLimits
    from planner.report.orders.order import Order
    from planner.report.workbook.page import Book, Page


MOST_ON_A_PAGE = 24
"""Lines up to which a paper with its conditions is printed on one page."""


@dataclass(frozen=True)
class PaperTable:
    """A table: headings, rows of cells, and the row that sums them."""

    headings: tuple[str, ...]
    rows: tuple[tuple[Cell, ...], ...]
    total: tuple[Cell, ...] = ()


@dataclass(frozen=True)
class Part:
    """A heading and what stands under it: sentences, points of a list, a table, notes."""

    heading: str
    words: tuple[str, ...] = ()
    points: tuple[str, ...] = ()
    table: PaperTable | None = None
    notes: tuple[str, ...] = ()


@dataclass(frozen=True)
class Paper:
    """A document that goes to a supplier, to procurement or into the file."""

    stem: str  # name of its Word file without the ending
    sheet: str  # name of its sheet
    # what it is, and what should be read first
    title: str
    lead: str
    parts: tuple[Part, ...]  # in order
    widths: tuple[float, ...]  # widths of the columns of its sheet, in characters


def add_paper(book: Book, paper: Paper, taken: set[str]) -> None:
    """Write a paper as a sheet; none of those taken has its name."""
    rows = sum(len(part.table.rows) for part in paper.parts if part.table is not None)
    footer = f"{book.council}: {paper.title}"
    page = book.page(
        sheet_name(paper.sheet, taken),
        paper.widths,
        footer=footer,
        landscape=True,
        is_one_page=rows <= MOST_ON_A_PAGE,
    )
    page.title(paper.title)
    page.lead(paper.lead)
    for part in paper.parts:
        _add_part(page, part)


def _add_part(page: Page, part: Part) -> None:
    page.section(part.heading)
    for sentence in part.words:
        page.note(sentence)
    for point in part.points:
        page.note(f"• {point}")
    if part.table is not None:
        page.table(part.table.headings, part.table.rows, part.table.total or None)
    for sentence in part.notes:
        page.note(sentence)


def paper_document(paper: Paper, order: Order, written_at: dt.datetime) -> Document:
    """Arrange a paper as what the Word renderer sets; its cells in words."""
    sections = (
        Section(f"part_{place}", part.heading, _blocks(part, f"{paper.stem}_{place}"))
        for place, part in enumerate(paper.parts)
    )
    council = order.program.council.name
    return Document.of(paper.title, paper.lead, council, "", sections, order.wording, written_at)


def _blocks(part: Part, key: str) -> tuple[Block, ...]:
    table = () if part.table is None else (_table(part.table, key, part.heading),)
    return (*map(text, part.words), *points(part.points), *table, *map(text, part.notes))


def _table(table: PaperTable, key: str, caption: str) -> Table:
    width = len(table.headings)
    rows = [
        (*cells, *[None] * (width - len(cells)))
        for cells in (*table.rows, *([table.total] if table.total else []))
    ]
    columns = tuple(
        Column(heading, is_number=place > 0 and any(isinstance(row[place], Number) for row in rows))
        for place, heading in enumerate(table.headings)
    )
    told = tuple(tuple(Statement((cell_words(cell),)) for cell in row) for row in rows)
    has_total = bool(table.total)
    return Table(key, caption, columns, told, has_total=has_total, is_captioned=False)


def cell_words(cell: Cell) -> str:
    """Give a cell as it reads in running text: a number or a day says how itself."""
    if isinstance(cell, Number | Day):
        return cell.words or ("" if cell.value is None else f"{cell.value}")
    return cell if isinstance(cell, str) else ""


CAUTIONS = {"arrival": 3, "heat": 3, "species": 4, "dust": 2, "lifting": 2, "local": 1}
"""How many cautions there are of each subject.

After WorkSafe Queensland and Southern Health NZ (Legionella), the
University of Minnesota's jumping-worm project (species), TU Hamburg citing Edwards 1995
(heat) and common practice (the rest).
"""

OF_GOODS = ("day", "faulty", "packs", "quote_line")


def live_conditions(species: str, windows: Sequence[tuple[str, TravelLimits]]) -> list[str]:
    """Conditions for live worms that a supplier accepts with the order.

    The windows are how worms are packed, in words, and the weather through which they travel so.
    """
    return [
        said("order.condition.species", species=species),
        said("order.condition.arrival"),
        *(
            said(
                "order.condition.weather",
                packed=packed,
                coldest=f"{limits.coldest_c:g}",
                warmest=f"{limits.warmest_c:g}",
            )
            for packed, limits in windows
        ),
        *(said(f"order.condition.{name}") for name in ("packing", "weekends", "clean")),
    ]


def goods_conditions() -> list[str]:
    """Conditions for bins and bedding."""
    return [said(f"order.condition.{name}") for name in OF_GOODS]


def add_cautions(page: Page) -> None:
    """Write the cautions by subject."""
    for subject, count in CAUTIONS.items():
        page.section(said(f"caution.{subject}"))
        for number in range(1, count + 1):
            page.note(f"• {said(f'caution.{subject}.{number}')}")
