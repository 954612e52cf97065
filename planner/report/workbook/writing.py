"""Every sheet of the year-end workbook, in order."""

from __future__ import annotations

import datetime as dt
import io
from typing import TYPE_CHECKING

from openpyxl.drawing.image import Image

from planner.messages import paper
from planner.report.workbook.areas_months import add_areas, add_months
from planner.report.workbook.book import Book
from planner.report.workbook.formats import printed_cells
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
    from pathlib import Path

    from planner.cells import Cell
    from planner.figures import FigureRegister
    from planner.program import Program
    from planner.report.charts import Chart
    from planner.report.document import Document
    from planner.report.document.contents import Contents
    from planner.report.wording import Wording
    from planner.report.workbook.page import Page

NAME = "sheet.year"
WIDTHS = (42, 11, 9, 9, 11, 44)
PICTURE_WIDTH_PIXELS = 880
PICTURE_ROWS = 36
ONE_DAY = dt.timedelta(days=1)


PICTURE = "kept_out_by_month"


def add_year_page(book: Book, contents: Contents, state: str) -> str:
    """Write the year on one page and give the words of its picture, if it is drawn.

    `state` says whether this is a draft or an issue.
    """
    register, program, wording = contents.register, contents.program, contents.saying.wording
    chart = next((one for one in contents.charts if one.path_png.stem == PICTURE), None)
    page = book.add(NAME, WIDTHS)
    page.title(
        paper().say("book.year.title", council=register.council, year=register.reporting_year)
    )
    page.lead(state)
    start, end = program.months(register.reporting_year)
    runs = paper().say("book.year.runs", start=wording.day(start), end=wording.day(end - ONE_DAY))
    found = (runs, _so_far(register, wording), paper().say("book.year.note"))
    page.note(" ".join(words for words in found if words))
    if chart is not None:
        page.lead(f"{chart.title}.")
    page.row += 1
    page.table(
        ("book.year.figures", "book.result", "book.from", "book.to", "book.unit", "book.meaning"),
        [_headline(register, i, wording) for i in HEADLINES if i in register],
    )
    _add_targets(page, register, program, wording)
    page.row += 1
    if chart is not None:
        page.picture(_image(chart), PICTURE_ROWS)
        page.note(chart.caption)
    page.section("book.year.sure")
    for line in sureness_lines(register, wording):
        page.note(line)
    page.section("book.year.care")
    for line in CAUTIONS:
        page.note(line)
    page.finish(book.footer, is_one_page=True)
    return "" if chart is None else f"{chart.title}. {chart.alt_text}"


def _so_far(register: FigureRegister, wording: Wording) -> str:
    """Say how far the figures go where the year is still running; nothing otherwise."""
    if not register.through_date:
        return ""
    through = wording.day(dt.date.fromisoformat(register.through_date))
    return paper().say("report.of_running", day=through)


def _headline(register: FigureRegister, figure_id: str, wording: Wording) -> list[Cell]:
    figure = register[figure_id]
    cells = printed_cells(figure, wording)
    return [figure.label, *cells, wording.unit(figure), meaning(register, figure_id)]


def _add_targets(page: Page, register: FigureRegister, program: Program, wording: Wording) -> None:
    rows = target_rows(register, program.year(register.reporting_year), wording)
    page.row += 1
    if not rows:
        page.note("book.year.no_targets")
        return
    page.table(
        ("report.targets.caption", "book.target", "book.result", "", "", "book.judgement"),
        [[what, target, result, None, None, judged] for what, target, result, judged in rows],
    )
    for row in range(page.row - len(rows) - 1, page.row):
        page.single_line(row, first=3, last=5)


def _image(chart: Chart) -> Image:
    # from memory: openpyxl would keep the file open
    image = Image(io.BytesIO(chart.path_png.read_bytes()))
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


def write_workbook(path: Path, contents: Contents, document: Document) -> None:
    """Write the year-end workbook; the same content gives the same bytes.

    Parameters
    ----------
    path
        File to write; replaced where it exists.
    contents
        Cells hold the full value of its figures, the number format rounds it; its newest load
        dates the file.
    document
        What is said of them, as `build_document` says it.
    """
    register, program, wording = contents.register, contents.program, contents.saying.wording
    year, quality = register.reporting_year, contents.quality
    footer = f"{register.council}, {year}"
    book = Book(paper().say("book.year.book", year=year), register.council, wording, footer)
    picture_words = add_year_page(book, contents, document.subtitle)
    add_areas(book, register, contents.area_names, wording)
    add_months(book, register, wording)
    add_sections(book, document, RESULTS, register, wording)
    add_survey(book, register, wording)
    add_model(book, register, program, contents.factor_table)
    add_quality(book, register, program, quality)
    add_sections(book, document, ("records", "method"), register, wording)
    add_factors(book, register, contents.factor_table)
    add_figures(book, register, wording)
    path.write_bytes(book.contents(quality.newest, picture_words))
