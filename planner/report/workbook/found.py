"""Sheets of areas, of months and of the survey: response, benchmark, calibration, retention."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING

from planner.cells import MONTH_FORMAT, Day, Number
from planner.messages import said
from planner.report.wording import first_day, labelled
from planner.report.workbook.formats import column_places, columns_of_figures, figure_cells

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from planner.cells import Cell
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
    areas = [register.parts(name) for name in AREA_FIGURES]
    order = sorted(areas[0], key=lambda area_id: (area_names.get(area_id, area_id), area_id))
    columns = [
        [*(part[a] for a in order), register.find(n)]
        for part, n in zip(areas, AREA_FIGURES, strict=True)
    ]
    names = [area_names.get(area_id, area_id) for area_id in order]
    spread = ("in_use", "fed", "landfilled", "kept_out", "per_household")
    headings = ["book.areas.given", *_with_limits(f"book.areas.{name}" for name in spread)]
    headings = ["book.area", *headings, "book.areas.top_third"]
    page = book.page("sheet.areas", (26, *[NUMBER_WIDTH] * (len(headings) - 1)), landscape=True)
    page.title(said("book.areas.title", year=register.reporting_year))
    page.note("book.areas.note")
    _table(page, headings, [*names, said("book.areas.whole")], columns, book.wording)


def add_months(book: Book, register: FigureRegister) -> None:
    """Write the sheet of months from the first hand-over to the end of the reporting year."""
    parts = [register.parts(name) for name in MONTH_FIGURES]
    order = sorted(parts[0])
    columns = [
        [*(part[month] for month in order), register[whole]]
        for part, whole in zip(parts, MONTH_FIGURES.values(), strict=True)
    ]
    names = [Day(first_day(month), MONTH_FORMAT) for month in order]
    spread = (f"book.months.{name}" for name in ("in_use", "fed", "kept_out"))
    headings = ["book.month", "book.months.given", *_with_limits(spread)]
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
    ages = sorted(int(age) for age in by_age)
    page.section("book.survey.in_use")
    page.note(register["retention_12_months"].method)
    places = column_places(by_age.values())
    page.table(
        ("book.survey.months_after", *SPREAD),
        [[Number(float(age)), *figure_cells(by_age[str(age)], wording, places)] for age in ages],
    )
