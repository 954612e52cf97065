"""Sheet of data quality: files, rows that were not taken in, survey rounds, audits."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING

from planner.report.workbook.cells import Day, Number
from planner.report.workbook.page import Page

if TYPE_CHECKING:
    from collections.abc import Mapping

    import polars as pl
    from openpyxl import Workbook

    from planner.figures import FigureRegister
    from planner.program import Program
    from planner.report.workbook.cells import Cell
    from planner.report.workbook.quality import Quality

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
COUNT_COLUMNS = ("asked_count", "answers_count", "households_count")
"""Counts of households, which are not printed below the program's threshold."""

RATE_FORMAT = "0.00"


def add_quality(
    workbook: Workbook, register: FigureRegister, program: Program, quality: Quality
) -> None:
    """Write the sheet of data quality."""
    least = program.privacy.small_cell_threshold
    page = Page(workbook, "Data quality", WIDTHS)
    page.title(f"The records behind {register.reporting_year}")
    page.note(f"Made with version {register.version} of the planner.")
    _add(page, "Files taken in", LOADS, quality.loads, "No file has been taken in.", least)
    _add(
        page,
        "Rows refused and not yet corrected",
        REFUSALS,
        quality.refusals,
        "No row is refused.",
        least,
    )
    _add(page, "Survey rounds", WAVES, quality.waves, "No survey round was opened.", least)
    page.note("A round without a number asked went to every household it could reach.")
    _add(page, "Audits of kerbside bins", AUDITS, quality.audits, "No bin was audited.", least)
    page.finish(f"{register.council}, {register.reporting_year}", landscape=True)


def _add(
    page: Page,
    title: str,
    headings: Mapping[str, str],
    frame: pl.DataFrame,
    words: str,
    least: int,
) -> None:
    page.section(title)
    if frame.is_empty():
        page.note(words)
        return
    rows = frame.select(*headings).iter_rows(named=True)
    page.table(tuple(headings.values()), [_cells(row, least) for row in rows])


def _cells(row: Mapping[str, object], least: int) -> list[Cell]:
    is_small = any(_is_below(row.get(name), least) for name in COUNT_COLUMNS)
    return [_cell(name, content, least, is_small=is_small) for name, content in row.items()]


def _cell(name: str, content: object, least: int, *, is_small: bool) -> Cell:
    if isinstance(content, dt.datetime):
        return Day(content.date())
    if isinstance(content, dt.date):
        return Day(content)
    if isinstance(content, float):
        return Number(None, words="not shown") if is_small else Number(content, RATE_FORMAT)
    if isinstance(content, int):
        hides = name in COUNT_COLUMNS and _is_below(content, least)
        return Number(None, words=f"fewer than {least}") if hides else Number(float(content))
    return (
        None
        if content is None
        else str(content).replace("_", " ")
        if (name in ("table_name", "wave_kind", "arm", "period"))
        else str(content)
    )


def _is_below(content: object, least: int) -> bool:
    return isinstance(content, int) and 0 < content < least
