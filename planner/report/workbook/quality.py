"""Sheet of data quality: files, rows that were not taken in, survey rounds, audits."""

from __future__ import annotations

import datetime as dt
from functools import partial
from typing import TYPE_CHECKING

from planner.cells import Day, Number
from planner.report.disclosure import hidden_parts, hides_part, is_small

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
    "table_name": "records",
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
AMOUNTS = {
    "file": "file",
    "sheet": "sheet",
    "lines_amount": "all lines",
    "new_amount": "new",
    "corrected_amount": "corrected",
    "unchanged_amount": "unchanged",
    "repeated_amount": "repeated",
    "refused_amount": "refused",
}
TOTALS = {
    "file": "file",
    "sheet": "sheet",
    "row_number": "row",
    "stated_amount": "total it says",
    "taken_in_amount": "lines taken in",
    "difference_amount": "difference",
    "refused_amount": "refused hold",
    "unexplained_amount": "not explained",
}
CHECKS = {
    "title": "what does not fit",
    "severity": "severity",
    "table_name": "records",
    "advice": "what to do",
    "rows_count": "found",
}
RATE_FORMAT = "0.00"
NOT_OF_HOUSEHOLDS = (
    *("areas", "events", "waves", "audits", "costs"),
    *("suppliers", "offers", "orders", "deliveries", "stock_counts", "invoices"),
)
"""Record tables whose rows are no households."""

OF_A_SHEET = ("new_count", "corrected_count", "refused_count")
RATES = ("food_kg_per_household_week", "residual_kg_per_household_week")
NOT_SHOWN = "not shown"


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
    _add_control_totals(page, quality)
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


def _add_control_totals(page: Page, quality: Quality) -> None:
    """Write what the ledger's lines add up to; they are no households, so none is hidden."""
    if quality.amounts.is_empty():
        return

    def shows(_: Mapping[str, object]) -> dict[str, str]:
        return {}

    _add(page, "What the ledger's lines add up to", AMOUNTS, quality.amounts, shows, "")
    words = "No sheet of the ledger has a total row."
    _add(page, "Total rows of the ledger against its lines", TOTALS, quality.totals, shows, words)


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


def hidden_words(row: Mapping[str, object], least: int) -> dict[str, str]:
    """Words for the cells of one row whose counts are not printed.

    Parameters
    ----------
    row
        A row of one of the page's tables, by column.
    least
        Counts of households below it but above none are not printed, nor what would give
        them away in the same row.

    Examples
    --------
    >>> hidden_words({"wave_id": "F", "asked_count": 100, "answers_count": 95}, 10)
    {'answers_count': 'not shown'}
    """
    if row.get("table_name") in NOT_OF_HOUSEHOLDS:
        return {}
    few = f"fewer than {least}"
    counts = {name: count for name, count in row.items() if isinstance(count, int)}
    hidden = {name: few for name, count in counts.items() if is_small(count, least)}
    if "audits_count" in counts:
        hidden.pop("audits_count", None)
        return hidden | (dict.fromkeys(RATES, NOT_SHOWN) if hidden else {})
    if "asked_count" in counts and hides_part(
        counts["answers_count"], counts["asked_count"], least
    ):
        hidden.setdefault("answers_count", NOT_SHOWN)
    if "rows_read" in counts:
        hidden = _of_a_sheet(counts, least) | hidden
    return hidden


def _of_a_sheet(counts: Mapping[str, int], least: int) -> dict[str, str]:
    """Hide parts of the rows of a sheet; the rest of them stands in no column."""
    parts = [counts[name] for name in OF_A_SHEET]
    rest = max(counts["rows_read"] - sum(parts), 0)
    hidden = hidden_parts([*parts, rest], least)
    return {name: NOT_SHOWN for place, name in enumerate(OF_A_SHEET) if place in hidden}
