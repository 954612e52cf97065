"""Sections of the report as sheets: the same statements and tables, with numbers in the cells."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

from planner.cells import MONTH_FORMAT, Cell, Day, Number
from planner.figures import Figure, FigureRegister
from planner.messages import said
from planner.report.document import Document, Paragraph, Section, Shown, Statement, Table
from planner.report.wording import Wording, decimals, first_day, labelled
from planner.report.workbook.formats import (
    as_printed,
    column_places,
    columns_of_figures,
    figure_cells,
    number_format,
    to_cents,
)

if TYPE_CHECKING:
    from planner.report.workbook.page import Book, Page


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


AREA_FIGURES = (
    "bins_given",
    "bins_in_use",
    "fed_t",
    "landfill_share",
    "kept_out_of_landfill_t",
    "kept_out_kg_per_household",
    "chance_in_top_third",
)
MONTH_FIGURES = {
    "bins_given_in_month": "bins_given_to_date",
    "bins_in_use_at_month_end": "bins_in_use",
    "fed_t_in_month": "fed_to_date_t",
    "kept_out_of_landfill_t_in_month": "kept_out_of_landfill_to_date_t",
}
"""Each figure by month with the figure of the whole program that closes its column."""

NUMBER_WIDTH = 8.5


def add_areas(book: Book, register: FigureRegister, area_names: Mapping[str, str]) -> None:
    """Write the sheet of areas; the last row is the whole program's, not a sum of the rows."""
    known = [name for name in AREA_FIGURES if register.parts(name)]
    areas = [register.parts(name) for name in known]
    order = sorted(areas[0], key=lambda area_id: (area_names.get(area_id, area_id), area_id))
    columns = [
        [*(part[a] for a in order), register.find(n)] for part, n in zip(areas, known, strict=True)
    ]
    names = [area_names.get(area_id, area_id) for area_id in order]
    spread = ("in_use", "fed", "landfilled", "kept_out", "per_household")
    headings = ["book.areas.given", *_with_limits(f"book.areas.{name}" for name in spread)]
    headings = ["book.area", *headings, "book.areas.top_third"]
    if known == [AREA_FIGURES[0]]:
        headings = headings[:2]
    page = book.page("sheet.areas", (26, *[NUMBER_WIDTH] * (len(headings) - 1)), landscape=True)
    page.title(said("book.areas.title", year=register.reporting_year))
    page.note("book.areas.note")
    _table(page, headings, [*names, said("book.areas.whole")], columns, book.wording)


def add_months(book: Book, register: FigureRegister) -> None:
    """Write the sheet of months from the first hand-over to the end of the reporting year."""
    known = {name: whole for name, whole in MONTH_FIGURES.items() if register.parts(name)}
    order = sorted(register.parts("bins_given_in_month"))
    columns = [
        [*(register[f"{name}[{month}]"] for month in order), register[whole]]
        for name, whole in known.items()
    ]
    names = [Day(first_day(month), MONTH_FORMAT) for month in order]
    spread = (f"book.months.{name}" for name in ("in_use", "fed", "kept_out"))
    headings = ["book.month", "book.months.given", *_with_limits(spread)][: 3 * len(known) - 1]
    page = book.page("sheet.months", (14, *[NUMBER_WIDTH] * (len(headings) - 1)), landscape=True)
    page.title(said("book.months.title", year=register.reporting_year))
    page.note("book.months.note")
    _table(page, headings, [*names, said("book.months.to_date")], columns, book.wording)


def _with_limits(headings: Iterable[str]) -> list[str]:
    return [one for name in headings for one in (name, "book.from", "book.to")]


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


SURVEY_PARTS = (
    ("book.survey.answers", "book.round", "response_share"),
    ("book.survey.weight", "book.round", "largest_weight_over_mean"),
    ("book.survey.as_if", "book.figure", "without_response_history"),
    ("book.survey.likelier", "book.survey.figure_odds", "if_users_odds"),
    ("book.survey.feed", "book.round", "surveyed_to_modelled_feed"),
)
"""Tables of the survey: title, heading of the first column, figure."""

WHO = ("book.survey.who", "book.survey.round_known", "response_odds_ratio")
"""Likewise, of who answered: a row for each group and round, to look things up in."""

SPREAD = ("book.value", "book.from", "book.to")
MOST_ROWS_OF_A_PAGE = 85
"""Up to here one page is readable; with more rows several are printed."""


def add_survey(book: Book, register: FigureRegister) -> None:
    """Write the sheet of what the survey found, on which the intervals rest."""
    wording = book.wording
    page = book.page("sheet.survey", (52, 13, 13, 13, 13))
    page.title(said("book.survey.title", year=register.reporting_year))
    page.note("book.survey.note")
    for title, heading, figure_id in SURVEY_PARTS:
        _add_parts(page, title, heading, register, figure_id, wording)
    _add_calibration(page, register, wording)
    _add_parts(page, "book.survey.routes", "book.route", register, "prior_route_share", wording)
    _add_retention(page, register, wording)
    page.is_one_page = page.row <= MOST_ROWS_OF_A_PAGE
    if register.parts(WHO[-1]):
        page.print_no_further()
        title, heading, figure_id = WHO
        _add_parts(page, title, heading, register, figure_id, wording)


def _add_parts(
    page: Page,
    title: str,
    heading: str,
    register: FigureRegister,
    figure_id: str,
    wording: Wording,
) -> None:
    parts = register.parts(figure_id)
    if parts:
        page.section(title)
        places, is_round = column_places(parts.values()), heading == "book.round"
        rows: list[list[Cell]] = [
            [name if is_round else figure.label, *figure_cells(figure, wording, places)]
            for name, figure in parts.items()
        ]
        page.table((heading, *SPREAD), rows)


def _add_calibration(page: Page, register: FigureRegister, wording: Wording) -> None:
    names = ("weighed_kg_per_reported_kg", "weighed_kg_per_reported_litre")
    figures = [register[name] for name in names if name in register]
    if figures:
        page.section("book.survey.calibration")
        rows = [[f.label, *figure_cells(f, wording), wording.unit(f)] for f in figures]
        page.table(("book.quantity", *SPREAD, "book.unit"), rows)
        for figure in figures:
            page.note(labelled(figure.label, figure.method))


def _add_retention(page: Page, register: FigureRegister, wording: Wording) -> None:
    observed = register.parts("retention_observed")
    if observed:
        page.section("book.survey.in_use_asked")
        rows = [
            [said("number.from_to", low=low, high=high), *figure_cells(f, wording)]
            for band, f in observed.items()
            for low, high in (band.split("-"),)
        ]
        page.table(("book.survey.months_after", *SPREAD), rows)
    by_age = register.parts("retention_by_age")
    if not by_age:
        return
    ages = sorted(int(age) for age in by_age)
    page.section("book.survey.in_use")
    page.note(register["retention_12_months"].method)
    places = column_places(by_age.values())
    page.table(
        ("book.survey.months_after", *SPREAD),
        [[Number(float(age)), *figure_cells(by_age[str(age)], wording, places)] for age in ages],
    )
