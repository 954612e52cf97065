"""Sheets of areas and of months."""

from __future__ import annotations

from typing import TYPE_CHECKING

from planner.cells import MONTH_FORMAT, Day
from planner.messages import paper
from planner.report.wording import first_day
from planner.report.workbook.formats import columns_of_figures

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from planner.figures import Figure, FigureRegister
    from planner.report.wording import Wording
    from planner.report.workbook.book import Book
    from planner.report.workbook.page import Page

AREA_FIGURES = (
    "bins_given",
    "bins_in_use",
    "fed_t",
    "landfill_share",
    "kept_out_of_landfill_t",
    "kept_out_kg_per_household",
    "chance_in_top_third",
)
AREA_HEADINGS = (
    "book.area",
    "book.areas.given",
    *("book.areas.in_use", "book.from", "book.to"),
    *("book.areas.fed", "book.from", "book.to"),
    *("book.areas.landfilled", "book.from", "book.to"),
    *("book.areas.kept_out", "book.from", "book.to"),
    *("book.areas.per_household", "book.from", "book.to"),
    "book.areas.top_third",
)
MONTH_FIGURES = {
    "bins_given_in_month": "bins_given_to_date",
    "bins_in_use_at_month_end": "bins_in_use",
    "fed_t_in_month": "fed_to_date_t",
    "kept_out_of_landfill_t_in_month": "kept_out_of_landfill_to_date_t",
}
"""Each figure by month with the figure of the whole program that closes its column."""

MONTH_HEADINGS = (
    "book.month",
    "book.months.given",
    *("book.months.in_use", "book.from", "book.to"),
    *("book.months.fed", "book.from", "book.to"),
    *("book.months.kept_out", "book.from", "book.to"),
)
NUMBER_WIDTH = 8.5


def add_areas(
    book: Book, register: FigureRegister, area_names: Mapping[str, str], wording: Wording
) -> None:
    """Write the sheet of areas; the last row is the whole program's, not a sum of the rows."""
    page = book.add(paper().say("sheet.areas"), (26, *[NUMBER_WIDTH] * (len(AREA_HEADINGS) - 1)))
    page.title(paper().say("book.areas.title", year=register.reporting_year))
    page.note("book.areas.note")
    areas = [register.parts(name) for name in AREA_FIGURES]
    order = sorted(areas[0], key=lambda area_id: (area_names.get(area_id, area_id), area_id))
    columns = [
        [*(part[a] for a in order), register.find(n)]
        for part, n in zip(areas, AREA_FIGURES, strict=True)
    ]
    names: list[str | Day] = [
        *(area_names.get(area_id, area_id) for area_id in order),
        paper().say("book.areas.whole"),
    ]
    _table(page, AREA_HEADINGS, names, columns, wording)
    page.finish(book.footer, landscape=True)


def add_months(book: Book, register: FigureRegister, wording: Wording) -> None:
    """Write the sheet of months from the first hand-over to the end of the reporting year."""
    page = book.add(paper().say("sheet.months"), (14, *[NUMBER_WIDTH] * (len(MONTH_HEADINGS) - 1)))
    page.title(paper().say("book.months.title", year=register.reporting_year))
    page.note("book.months.note")
    parts = [register.parts(name) for name in MONTH_FIGURES]
    order = sorted(parts[0])
    columns = [
        [*(part[month] for month in order), register[whole]]
        for part, whole in zip(parts, MONTH_FIGURES.values(), strict=True)
    ]
    names: list[str | Day] = [
        *(Day(first_day(month), MONTH_FORMAT) for month in order),
        paper().say("book.months.to_date"),
    ]
    _table(page, MONTH_HEADINGS, names, columns, wording)
    page.finish(book.footer, landscape=True)


def _table(
    page: Page,
    headings: Sequence[str],
    names: Sequence[str | Day],
    columns: Sequence[Sequence[Figure | None]],
    wording: Wording,
) -> None:
    cells = columns_of_figures(columns, wording)
    rows = [[name, *row] for name, row in zip(names, cells, strict=True)]
    page.row += 1
    page.table(headings, rows[:-1], rows[-1], stays_in_sight=True)
