"""Sheets of areas and of months."""

from __future__ import annotations

from typing import TYPE_CHECKING

from planner.cells import MONTH_FORMAT, Day
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
    "Area",
    "bins given in the year",
    *("bins in use at year end", "from", "to"),
    *("fed in the year, t", "from", "to"),
    *("landfilled before, share", "from", "to"),
    *("kept out of landfill in the year, t", "from", "to"),
    *("kept out per household with a bin, kg", "from", "to"),
    "chance of the top third",
)
MONTH_FIGURES = {
    "bins_given_in_month": "bins_given_to_date",
    "bins_in_use_at_month_end": "bins_in_use",
    "fed_t_in_month": "fed_to_date_t",
    "kept_out_of_landfill_t_in_month": "kept_out_of_landfill_to_date_t",
}
"""Each figure by month with the figure of the whole program that closes its column."""

MONTH_HEADINGS = (
    "Month",
    "bins given",
    *("bins in use at month end", "from", "to"),
    *("fed, t", "from", "to"),
    *("kept out of landfill, t", "from", "to"),
)
NUMBER_WIDTH = 8.5


def add_areas(
    book: Book, register: FigureRegister, area_names: Mapping[str, str], wording: Wording
) -> None:
    """Write the sheet of areas; the last row is the whole program's, not a sum of the rows."""
    page = book.add("Areas", (26, *[NUMBER_WIDTH] * (len(AREA_HEADINGS) - 1)))
    page.title(f"Areas in {register.reporting_year}")
    page.note(
        "Areas with few households are not shown, nor is another where it would give them away. "
        "The last row is the whole program with them. Intervals do not add up: errors of areas "
        "partly cancel."
    )
    areas = [register.parts(name) for name in AREA_FIGURES]
    order = sorted(areas[0], key=lambda area_id: (area_names.get(area_id, area_id), area_id))
    columns = [
        [*(part[a] for a in order), register.find(n)]
        for part, n in zip(areas, AREA_FIGURES, strict=True)
    ]
    names: list[str | Day] = [
        *(area_names.get(area_id, area_id) for area_id in order),
        "Whole program",
    ]
    _table(page, AREA_HEADINGS, names, columns, wording)
    page.finish(book.footer, landscape=True)


def add_months(book: Book, register: FigureRegister, wording: Wording) -> None:
    """Write the sheet of months from the first hand-over to the end of the reporting year."""
    page = book.add("Months", (14, *[NUMBER_WIDTH] * (len(MONTH_HEADINGS) - 1)))
    page.title(f"Months to the end of {register.reporting_year}")
    page.note(
        "The last twelve months are the reporting year. The last row is the program to date; its "
        "interval is its own, because months err together."
    )
    parts = [register.parts(name) for name in MONTH_FIGURES]
    order = sorted(parts[0])
    columns = [
        [*(part[month] for month in order), register[whole]]
        for part, whole in zip(parts, MONTH_FIGURES.values(), strict=True)
    ]
    names: list[str | Day] = [*(Day(first_day(month), MONTH_FORMAT) for month in order), "To date"]
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
