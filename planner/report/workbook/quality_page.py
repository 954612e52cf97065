"""Sheet of data quality: files, rows that were not taken in, survey rounds, audits."""

from __future__ import annotations

import datetime as dt
from functools import partial
from typing import TYPE_CHECKING

from planner.cells import Day, Number
from planner.report.workbook.quality_counts import hidden_words

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    import polars as pl

    from planner.cells import Cell
    from planner.figures import FigureRegister
    from planner.program import Program
    from planner.report.quality import Quality
    from planner.report.workbook.book import Book
    from planner.report.workbook.page import Page

LOADS = {
    "file": "file",
    "loaded_at": "taken in",
    "sheet": "sheet",
    "table_name": "records",
    "rows_read": "rows read",
    "new_count": "new",
    "corrected_count": "corrected",
    "refused_count": "refused",
}
REFUSALS = {
    "file": "file",
    "sheet": "sheet",
    "column_name": "column",
    "reason": "reason",
    "rows_count": "rows",
    "cells_count": "cells",
}
WAVES = {
    "wave_id": "round",
    "opens_date": "opened",
    "wave_kind": "kind",
    "asked_count": "households asked",
    "answers_count": "answers",
}
AUDITS = {
    "arm": "arm",
    "period": "period",
    "audits_count": "audits",
    "households_count": "households",
    "food_kg_per_household_week": "food, kg a week and household",
    "residual_kg_per_household_week": "residual waste, kg a week and household",
}
WIDTHS = (30, 14, 22, 26, 13, 13, 12, 12)
CHECKS = {
    "title": "what does not fit",
    "severity": "severity",
    "table_name": "records",
    "advice": "what to do",
    "rows_count": "found",
}
RATE_FORMAT = "0.00"


def add_quality(book: Book, register: FigureRegister, program: Program, quality: Quality) -> None:
    """Write the sheet of data quality."""
    page = book.add("Data quality", WIDTHS)
    page.title(f"The records behind {register.reporting_year}")
    page.note(f"Made with version {register.version} of the planner.")
    hides = partial(hidden_words, least=program.privacy.small_cell_threshold)
    _add(page, "Files taken in", LOADS, quality.loads, hides, "No file has been taken in.")
    _add(
        page,
        "Rows refused and not yet corrected",
        REFUSALS,
        quality.refusals,
        hides,
        "No row is refused.",
    )
    page.new_page()
    _add(
        page,
        "Records that do not fit together",
        CHECKS,
        quality.checks,
        hides,
        "Every check of the records passed.",
    )
    page.note("`planner check` lists them record by record.")
    _add(page, "Survey rounds", WAVES, quality.waves, hides, "No survey round was opened.")
    page.note("A round without a number asked went to every household it could reach.")
    _add(page, "Audits of kerbside bins", AUDITS, quality.audits, hides, "No bin was audited.")
    page.finish(book.footer, landscape=True)


def _add(
    page: Page,
    title: str,
    headings: Mapping[str, str],
    frame: pl.DataFrame,
    hides: Callable[[Mapping[str, object]], Mapping[str, str]],
    words: str,
) -> None:
    page.section(title)
    if frame.is_empty():
        page.note(words)
        return
    rows = frame.select(*headings).iter_rows(named=True)
    page.table(tuple(headings.values()), [_cells(row, hides(row)) for row in rows])


def _cells(row: Mapping[str, object], hidden: Mapping[str, str]) -> list[Cell]:
    return [
        Number(None, words=hidden[name]) if name in hidden else _cell(name, content)
        for name, content in row.items()
    ]


def _cell(name: str, content: object) -> Cell:
    if isinstance(content, dt.datetime):
        return Day(content.date())
    if isinstance(content, dt.date):
        return Day(content)
    if isinstance(content, float):
        return Number(content, RATE_FORMAT)
    if isinstance(content, int):
        return Number(float(content))
    if content is None:
        return None
    in_words = ("table_name", "wave_kind", "arm", "period")
    return str(content).replace("_", " ") if name in in_words else str(content)
