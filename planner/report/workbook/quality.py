"""Sheet of data quality: files, rows that were not taken in, survey rounds, audits."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Mapping
from functools import partial

import polars as pl

from planner.cells import Cell, Day, Number
from planner.factors import Factor, FactorTable
from planner.figures import FigureRegister, Input
from planner.intake.wording import shown_reasons
from planner.messages import paper, said
from planner.program import Program
from planner.report.disclosure.parts import hidden_parts, hides_part, is_small
from planner.report.document.contents import Quality
from planner.report.wording import labelled, listing
from planner.report.workbook.formats import figure_cells
from planner.report.workbook.page import Book, Page

LOADS = {
    "file": "book.file",
    "loaded_at": "book.load.taken_in",
    "sheet": "book.sheet",
    "table_name": "book.records",
    "rows_read": "book.load.rows_read",
    "new_count": "book.new",
    "corrected_count": "book.corrected",
    "refused_count": "book.refused",
}
REFUSALS = {
    "file": "book.file",
    "sheet": "book.sheet",
    "table_name": "book.records",
    "column_name": "book.column",
    "reason": "book.reason",
    "rows_count": "book.rows",
    "cells_count": "book.cells",
}
WAVES = {
    "wave_id": "book.round",
    "opens_date": "book.opened",
    "wave_kind": "book.kind",
    "asked_count": "book.wave.asked",
    "answers_count": "book.answers",
}
AUDITS = {
    "arm": "book.arm",
    "period": "book.period",
    "audits_count": "book.audits",
    "households_count": "book.households",
    "food_kg_per_household_week": "book.audit.food",
    "residual_kg_per_household_week": "book.audit.residual",
}
AMOUNTS = {
    "file": "book.file",
    "sheet": "book.sheet",
    "lines_amount": "book.ledger.all_lines",
    "new_amount": "book.new",
    "corrected_amount": "book.corrected",
    "unchanged_amount": "book.unchanged",
    "repeated_amount": "book.repeated",
    "refused_amount": "book.refused",
}
TOTALS = {
    "file": "book.file",
    "sheet": "book.sheet",
    "row_number": "book.row",
    "stated_amount": "book.ledger.says",
    "taken_in_amount": "book.ledger.taken_in",
    "difference_amount": "book.difference",
    "refused_amount": "book.ledger.refused_hold",
    "unexplained_amount": "book.ledger.not_explained",
}
CHECKS = {
    "title": "book.check.what",
    "severity": "book.severity",
    "table_name": "book.records",
    "advice": "book.check.to_do",
    "rows_count": "book.found",
}
NOT_OF_HOUSEHOLDS = (
    *("areas", "events", "waves", "audits", "costs"),
    *("suppliers", "offers", "orders", "deliveries", "stock_counts", "invoices"),
)
"""Record tables whose rows are no households."""

OF_A_SHEET = ("new_count", "corrected_count", "refused_count")
RATES = ("food_kg_per_household_week", "residual_kg_per_household_week")
NOT_SHOWN = "number.not_shown"


def add_quality(book: Book, register: FigureRegister, program: Program, quality: Quality) -> None:
    """Write the sheet of data quality."""
    page = book.page("sheet.quality", (30, 14, 22, 26, 13, 13, 12, 12), landscape=True)
    page.title(said("book.quality.title", year=register.reporting_year))
    page.note(said("book.quality.version", version=register.version))
    hides = partial(hidden_words, least=program.privacy.small_cell_threshold)
    _add(page, "book.quality.files", LOADS, quality.loads, hides, "book.quality.no_file")
    reasons = shown_reasons(quality.refusals["reason"], paper())
    _add(
        page,
        "book.quality.refused",
        REFUSALS,
        quality.refusals.with_columns(pl.col("reason").replace(reasons)),
        hides,
        "book.quality.none_refused",
    )
    _add_control_totals(page, quality)
    page.new_page()
    _add(page, "book.quality.checks", CHECKS, quality.checks, hides, "book.quality.all_passed")
    page.note("book.quality.check_lists")
    _add(page, "book.quality.rounds", WAVES, quality.waves, hides, "book.quality.no_round")
    page.note("book.quality.round_note")
    _add(page, "book.quality.audits", AUDITS, quality.audits, hides, "book.quality.no_audit")


def _add(
    page: Page,
    title: str,
    headings: Mapping[str, str],
    frame: pl.DataFrame,
    hides: Callable[[Mapping[str, object]], Mapping[str, str]] = lambda _: {},
    words: str = "",
) -> None:
    page.section(title)
    if frame.is_empty():
        page.note(words)
        return
    rows = frame.select(*headings).iter_rows(named=True)
    cells = [
        [
            Number(None, words=hidden[name]) if name in hidden else _cell(name, content)
            for name, content in row.items()
        ]
        for row in rows
        for hidden in (hides(row),)
    ]
    page.table(tuple(headings.values()), cells)


def _add_control_totals(page: Page, quality: Quality) -> None:
    """Write what the ledger's lines add up to; they are no households, so none is hidden."""
    if quality.amounts.is_empty():
        return
    _add(page, "book.ledger.caption", AMOUNTS, quality.amounts)
    _add(page, "book.ledger.totals", TOTALS, quality.totals, words="book.ledger.no_total")


def _cell(name: str, content: object) -> Cell:
    if isinstance(content, dt.datetime):
        return Day(content.date())
    if isinstance(content, dt.date):
        return Day(content)
    if isinstance(content, float):
        return Number(content, "0.00")
    if isinstance(content, int):
        return Number(float(content))
    if content is None:
        return None
    if name in ("wave_kind", "arm", "period"):
        return said(f"book.is.{content}")
    return said(f"records.{content}") if name == "table_name" else str(content)


def hidden_words(row: Mapping[str, object], least: int) -> dict[str, str]:
    """Words for the cells of one row, by column, whose counts are not printed.

    These are counts of households below `least` but above none, and what would give them away in
    the same row.

    Examples
    --------
    >>> hidden_words({"wave_id": "F", "asked_count": 100, "answers_count": 95}, 10)
    {'answers_count': 'not shown'}
    """
    if row.get("table_name") in NOT_OF_HOUSEHOLDS:
        return {}
    few = said("book.fewer_than", number=least)
    counts = {name: count for name, count in row.items() if isinstance(count, int)}
    hidden = {name: few for name, count in counts.items() if is_small(count, least)}
    if "audits_count" in counts:
        hidden.pop("audits_count", None)
        return hidden | (dict.fromkeys(RATES, said(NOT_SHOWN)) if hidden else {})
    if "asked_count" in counts and hides_part(
        counts["answers_count"], counts["asked_count"], least
    ):
        hidden.setdefault("answers_count", said(NOT_SHOWN))
    if "rows_read" in counts:
        hidden = _of_a_sheet(counts, least) | hidden
    return hidden


def _of_a_sheet(counts: Mapping[str, int], least: int) -> dict[str, str]:
    """Hide parts of the rows of a sheet; the rest of them stands in no column."""
    parts = [counts[name] for name in OF_A_SHEET]
    rest = max(counts["rows_read"] - sum(parts), 0)
    hidden = hidden_parts([*parts, rest], least)
    return {name: said(NOT_SHOWN) for place, name in enumerate(OF_A_SHEET) if place in hidden}


SPREAD = ("book.value", "book.low", "book.high", "book.unit")
PLAIN = "General"


def add_factors(book: Book, register: FigureRegister, factor_table: FactorTable) -> None:
    """Write the published factors that the figures rest on, then the program's settings."""
    page = book.page("sheet.factors", (34, 9, 9, 9, 18, 12, 54, 22, 34), landscape=True)
    page.title(said("book.factors.title", year=register.reporting_year))
    page.note("book.factors.note")
    page.row += 1
    by_name = {factor.name: factor for factor in factor_table}
    of_source = ("book.evidence", "book.source", "book.factors.where", "book.factors.used_in")
    rows = [
        _factor_cells(name, detail, used_in, by_name.get(name), factor_table)
        for name, (detail, used_in) in register.uses("factor").items()
    ]
    page.table(("book.factor", *SPREAD, *of_source), rows, stays_in_sight=True)
    page.section("appendix.settings.caption")
    for name, (detail, _) in register.uses("program").items():
        page.note(labelled(name, detail))


def add_figures(book: Book, register: FigureRegister) -> None:
    """Write every figure with its method and what it rests on."""
    page = book.page("sheet.figures", (36, 40, 10, 10, 10, 11, 46, 44), landscape=True)
    page.title(said("book.figures.title", year=register.reporting_year))
    page.note("book.figures.note")
    page.print_no_further()
    page.row += 1
    headings = ("id", "book.figure", *SPREAD, "book.figures.how", "book.figures.rests_on")
    rows = [
        [
            *(figure.id, figure.label, *figure_cells(figure, book.wording)),
            *(paper().unit_words(figure.unit), figure.method),
            "; ".join(map(_input_words, figure.inputs)),
        ]
        for figure in register
    ]
    page.table(headings, rows, stays_in_sight=True)


def _input_words(item: Input) -> str:
    words = said(f"book.rests.{item.kind}", name=item.name)
    return f"{words} ({item.detail})" if item.detail and item.kind == "query" else words


def _factor_cells(
    name: str, detail: str, used_in: list[str], factor: Factor | None, table: FactorTable
) -> list[Cell]:
    used = listing(used_in, 3)
    if factor is None:
        return [name, None, None, None, None, None, detail, None, used]
    source = table.source(factor.source_id)
    memory = " " + said("appendix.factors.not_read") if factor.seen == "memory" else ""
    return [
        name,
        Number(factor.value, PLAIN),
        None if factor.low is None else Number(factor.low, PLAIN),
        None if factor.high is None else Number(factor.high, PLAIN),
        paper().unit_words(factor.unit),
        said(f"factor_list.evidence.{factor.evidence}"),
        f"{source.cited(paper())}. {paper().text(source.address)}{memory}",
        factor.place(paper()),
        used,
    ]
