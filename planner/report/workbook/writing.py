"""Every sheet of the year-end workbook, in order."""

from __future__ import annotations

from typing import TYPE_CHECKING

from planner.report.document import Contents, build_document
from planner.report.wording import Wording
from planner.report.workbook.areas_months import add_areas, add_months
from planner.report.workbook.book import Book
from planner.report.workbook.model import add_model
from planner.report.workbook.quality import add_quality
from planner.report.workbook.section_sheets import add_sections
from planner.report.workbook.survey_sheet import add_survey
from planner.report.workbook.trace import add_factors, add_figures
from planner.report.workbook.year_page import add_year_page

if TYPE_CHECKING:
    from collections.abc import Mapping
    from pathlib import Path

    from planner.factors import FactorTable
    from planner.figures import FigureRegister
    from planner.program import Program
    from planner.report.issues import GivenOut
    from planner.report.quality import Quality


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
