"""Sections of the report as sheets: the same statements and tables, with numbers in the cells."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace

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
        page.note(said("book.full", figures=said("sheet.figures")))


def _widths(tables: Sequence[Table], columns: int) -> list[float]:
    longest = [0 if tables else FIRST_WIDTHS[1], *[0] * (columns - 1)]
    for row in (row for table in tables for row in table.rows):
        for place, cell in enumerate(row):
            longest[place] = max(longest[place], len(cell.words) + 2)
    limits = [FIRST_WIDTHS, *[WIDTHS] * (columns - 1)]
    return [min(most, max(least, n)) for n, (least, most) in zip(longest, limits, strict=True)]


def _flat(section: Section) -> list[Section]:
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


AREA_FIGURES = {
    "bins_given": "given",
    "bins_in_use": "in_use",
    "fed_t": "fed",
    "landfill_share": "landfilled",
    "kept_out_of_landfill_t": "kept_out",
    "kept_out_kg_per_household": "per_household",
    "chance_in_top_third": "top_third",
}
"""Each figure by area, and the heading of its column."""

MONTH_FIGURES = {
    "bins_given_in_month": ("given", "bins_given_to_date"),
    "bins_in_use_at_month_end": ("in_use", "bins_in_use"),
    "fed_t_in_month": ("fed", "fed_to_date_t"),
    "kept_out_of_landfill_t_in_month": ("kept_out", "kept_out_of_landfill_to_date_t"),
}
"""Each figure by month, its heading, and the figure of the whole that closes its column."""


def add_areas(book: Book, register: FigureRegister, area_names: Mapping[str, str]) -> None:
    """Write the sheet of areas; the last row is the whole program's, not a sum of the rows."""
    names = {area_id: area_names.get(area_id, area_id) for area_id in register.parts("bins_given")}
    order = sorted(names, key=lambda area_id: (names[area_id], area_id))
    columns = {
        f"book.areas.{heading}": [*(parts[a] for a in order), register.find(name)]
        for name, heading in AREA_FIGURES.items()
        if (parts := register.parts(name))
    }
    named = [*(names[area_id] for area_id in order), said("book.areas.whole")]
    _add_columns(book, "areas", ("book.area", 26), named, columns, register)


def add_months(book: Book, register: FigureRegister) -> None:
    """Write the sheet of months from the first hand-over to the end of the reporting year."""
    order = sorted(register.parts("bins_given_in_month"))
    columns = {
        f"book.months.{heading}": [*(parts[month] for month in order), register[whole]]
        for name, (heading, whole) in MONTH_FIGURES.items()
        if (parts := register.parts(name))
    }
    days = [Day(first_day(one), MONTH_FORMAT) for one in order]
    names: list[str | Day] = [*days, said("book.months.to_date")]
    _add_columns(book, "months", ("book.month", 14), names, columns, register)


def _add_columns(
    book: Book,
    kind: str,
    first: tuple[str, float],
    names: Sequence[str | Day],
    columns: Mapping[str, Sequence[Figure | None]],
    register: FigureRegister,
) -> None:
    """Write a sheet of columns of figures; `first` are heading and width of their names."""
    headings = [first[0]]
    for heading, figures in columns.items():
        has_limits = any(one.low is not None for one in figures if one is not None)
        headings += [heading, *["book.from", "book.to"] * has_limits]
    page = book.page(f"sheet.{kind}", (first[1], *[8.5] * (len(headings) - 1)), landscape=True)
    page.title(said(f"book.{kind}.title", year=register.reporting_year))
    page.note(f"book.{kind}.note")
    page.row += 1
    cells = columns_of_figures(list(columns.values()), book.wording)
    rows = [[name, *row] for name, row in zip(names, cells, strict=True)]
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
