"""Every sheet of the year-end workbook, in order."""

from __future__ import annotations

import datetime as dt
import io
from typing import TYPE_CHECKING

from openpyxl.drawing.image import Image

from planner.report.charts import month_chart_png
from planner.report.document import Contents, build_document
from planner.report.wording import Wording
from planner.report.workbook.areas_months import add_areas, add_months
from planner.report.workbook.book import Book
from planner.report.workbook.formats import figure_cells
from planner.report.workbook.headlines import (
    CAUTIONS,
    HEADLINES,
    meaning,
    sureness_lines,
    target_rows,
)
from planner.report.workbook.model import add_model
from planner.report.workbook.quality import add_quality
from planner.report.workbook.section_sheets import add_sections
from planner.report.workbook.survey_sheet import add_survey
from planner.report.workbook.trace import add_factors, add_figures

if TYPE_CHECKING:
    from collections.abc import Mapping
    from pathlib import Path

    from planner.cells import Cell
    from planner.factors import FactorTable
    from planner.figures import FigureRegister
    from planner.program import Program
    from planner.report.issues import GivenOut
    from planner.report.quality import Quality
    from planner.report.workbook.book import Book
    from planner.report.workbook.page import Page

NAME = "The year"
WIDTHS = (42, 11, 9, 9, 11, 44)
PICTURE_WIDTH_PIXELS = 880
PICTURE_ROWS = 36
ONE_DAY = dt.timedelta(days=1)


def add_year_page(book: Book, register: FigureRegister, program: Program, state: str) -> str:
    """Write the year on one page and give the words of its picture.

    `state` says whether this is a draft or an issue.
    """
    wording = Wording.of(program)
    chart, finding, words = month_chart_png(register, program)
    page = book.add(NAME, WIDTHS)
    page.title(f"{register.council}: worm-bin giveaway in {register.reporting_year}")
    page.lead(state)
    start, end = program.months(register.reporting_year)
    page.note(
        f"Reporting year {wording.day(start)} to {wording.day(end - ONE_DAY)}. "
        f"{_so_far(register, wording)}"
        "From and to are the limits of the 95% interval; counts and sums of the ledger have none. "
        "Cells hold the full number; sentences round it to what its interval bears."
    )
    page.lead(f"{finding}.")
    page.row += 1
    page.table(
        ("The year in figures", "result", "from", "to", "unit", "what it means"),
        [_headline(register, i, wording) for i in HEADLINES if i in register],
    )
    _add_targets(page, register, program, wording)
    page.row += 1
    page.picture(_image(chart), PICTURE_ROWS)
    page.section("How sure we are")
    for line in sureness_lines(register, wording):
        page.note(line)
    page.section("Read with care")
    for line in CAUTIONS:
        page.note(line)
    page.finish(book.footer, is_one_page=True)
    return f"{finding}. {words}"


def _so_far(register: FigureRegister, wording: Wording) -> str:
    """Say how far the figures go where the year is still running; nothing otherwise."""
    if not register.through_date:
        return ""
    through = wording.day(dt.date.fromisoformat(register.through_date))
    return f"The year is still running: figures go to {through}, targets are the whole year's. "


def _headline(register: FigureRegister, figure_id: str, wording: Wording) -> list[Cell]:
    figure = register[figure_id]
    cells = figure_cells(figure, wording)
    return [figure.label, *cells, wording.unit(figure), meaning(register, figure_id)]


def _add_targets(page: Page, register: FigureRegister, program: Program, wording: Wording) -> None:
    rows = target_rows(register, program.year(register.reporting_year), wording)
    page.row += 1
    if not rows:
        page.note("No targets and no budget are set in the program file for this year.")
        return
    page.table(
        ("Results against targets", "target", "result", "", "", "judgement"),
        [[what, target, result, None, None, judged] for what, target, result, judged in rows],
    )
    for row in range(page.row - len(rows) - 1, page.row):
        page.single_line(row, first=3, last=5)


def _image(chart: bytes) -> Image:
    image = Image(io.BytesIO(chart))
    image.height = image.height * PICTURE_WIDTH_PIXELS / image.width
    image.width = PICTURE_WIDTH_PIXELS
    return image


RESULTS = (
    "forecast",
    "planned",
    "problems",
    "sites",
    "chain",
    "emissions",
    "money",
    "sureness",
    "earlier",
)
"""Sections of results that have a sheet, in order."""


def write_workbook(
    path: Path,
    register: FigureRegister,
    program: Program,
    factor_table: FactorTable,
    area_names: Mapping[str, str],
    quality: Quality,
    given_out: GivenOut | None = None,
) -> None:
    """Write the year-end workbook; the same content gives the same bytes.

    Parameters
    ----------
    path
        File to write; replaced where it exists.
    register
        Every figure. Cells hold their full value, the number format rounds it.
    program
        Locale, currency, targets and the threshold of small counts.
    factor_table
        Citations of the factors that the figures name.
    area_names
        Name of each area by area_id.
    quality
        What the store knows about its own records; the newest load dates the file.
    given_out
        Reports issued before, and this one if it is issued.
    """
    wording = Wording.of(program)
    contents = Contents(
        register, program, factor_table, area_names, quality, (), *(given_out or ())
    )
    document = build_document(contents)
    year = register.reporting_year
    footer = f"{register.council}, {year}"
    book = Book(f"Worm-bin giveaway, {year}", register.council, wording, footer)
    picture_words = add_year_page(book, register, program, document.subtitle)
    add_areas(book, register, area_names, wording)
    add_months(book, register, wording)
    add_sections(book, document, RESULTS, register, wording)
    add_survey(book, register, wording)
    add_model(book, register, program, factor_table)
    add_quality(book, register, program, quality)
    add_sections(book, document, ("records", "method"), register, wording)
    add_factors(book, register, factor_table)
    add_figures(book, register, wording)
    path.write_bytes(book.contents(quality.newest, picture_words))
