"""Rows that hold no record: blank rows, totals, the example, notes under the table."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import count
from typing import TYPE_CHECKING

import polars as pl

from planner.errors import IntakeError
from planner.intake.cells import plain_words
from planner.intake.headings import find_headings
from planner.intake.sheets import GUIDING_SHEETS, Sheet, read_sheets
from planner.intake.vocabulary import Vocabulary
from planner.messages import say

if TYPE_CHECKING:
    import datetime as dt
    from pathlib import Path

    from planner.intake.headings import Headings

EXAMPLE_WORD = "example"
"""First cell of the row that only shows how to fill a sheet."""

FILLED_IN_LATER = {"calls": "call_outcome"}
"""Lists that the planner writes with rows to be filled in: while this column is empty, a row
is work to do and no record."""

_LISTED_ROWS = 5
_TOTAL = rf"^(?:{'|'.join(plain_words('total'))})(?:\s+(?:\p{{L}}|\d|[/-])+){{0,3}}\s*:?$"
_NOTE_SIGNS = r"\s|^\*|:$"


@dataclass(frozen=True)
class Passed:
    """Rows to be read, and what was passed over.

    Attributes
    ----------
    kept
        Rows of the sheet that hold a record.
    example_count
        Rows that only show how to fill the sheet; they count as nothing.
    notes
        Rows of notes, and of totals in a table whose rows do not add up, by their place.
    """

    kept: pl.DataFrame
    example_count: int
    notes: list[str]
    totals: pl.DataFrame


def is_total(first: pl.Expr) -> pl.Expr:
    """Tell from the first filled cell of a row whether it only adds up the others."""
    return first.str.to_lowercase().str.strip_chars(" :*").str.contains(_TOTAL)


def pass_over(sheet: Sheet, headings: Headings, below: pl.DataFrame) -> Passed:
    """Leave out blank rows, totals, the example and notes under the table."""
    cells = pl.exclude("row_number")
    columns = [pl.col(cell) for cell in headings.cells.values()]
    filled = below.filter(pl.any_horizontal(column.is_not_null() for column in columns))
    first = pl.coalesce(cells).str.to_lowercase().str.strip_chars(" :*")
    marked = filled.select(
        "row_number",
        is_total(pl.coalesce(cells)).alias("is_total"),
        (first == EXAMPLE_WORD).alias("is_example"),
        _is_to_do(headings).alias("is_to_do"),
        pl.sum_horizontal(cells.is_not_null()).alias("count"),
        pl.coalesce(cells).str.contains(_NOTE_SIGNS).alias("is_wordy"),
    )
    last = marked.filter((pl.col("count") > 1) & ~pl.col("is_total"))["row_number"].max()
    after = pl.col("row_number") > (last if isinstance(last, int) else headings.row_number)
    is_note = after & (pl.col("count") == 1) & pl.col("is_wordy") & ~pl.col("is_total")
    passed = marked.with_columns(is_note.alias("is_note"))
    kept = filled.join(
        passed.filter(pl.any_horizontal("is_total", "is_example", "is_note", "is_to_do")).select(
            "row_number"
        ),
        on="row_number",
        how="anti",
        maintain_order="left",
    )
    totals = filled.join(
        passed.filter("is_total").select("row_number"), on="row_number", how="semi"
    )
    notes = [
        *_listed(sheet, passed, "total"),
        *_listed(sheet, passed, "note"),
    ]
    if to_do := int(passed.filter(pl.col("is_to_do") & ~pl.col("is_example")).height):
        notes.append(say("passed.to_do", to_do, place=sheet.place))
    return Passed(kept, int(passed["is_example"].sum()), notes, totals)


def _is_to_do(headings: Headings) -> pl.Expr:
    cell = headings.cells.get(FILLED_IN_LATER.get(headings.table, ""))
    return pl.col(cell).is_null() if cell else pl.lit(value=False)


def _listed(sheet: Sheet, passed: pl.DataFrame, kind: str) -> list[str]:
    rows = passed.filter(f"is_{kind}")["row_number"].to_list()
    notes = [say(f"passed.{kind}", place=sheet.row(row)) for row in rows[:_LISTED_ROWS]]
    if len(rows) > _LISTED_ROWS:
        notes.append(say(f"passed.{kind}s", place=sheet.place, count=len(rows)))
    return notes


def keep_filled_workbook(path: Path, day: dt.date | None) -> Path | None:
    """Rename a workbook that holds any row beyond the examples.

    Parameters
    ----------
    day
        Day that its new name carries, as ``intake-before-2026-07-01.xlsx``.

    Returns
    -------
    Path or None
        Where it is kept; None where there is none, or nothing in it.
    """
    if not path.exists() or not _is_filled(path):
        return None
    stem = f"{path.stem}-before-{day}" if day else f"{path.stem}-before"
    names = (path.with_name(f"{stem}{'' if n == 1 else f'-{n}'}{path.suffix}") for n in count(1))
    kept = next(name for name in names if not name.exists())
    path.rename(kept)
    return kept


def _is_filled(path: Path) -> bool:
    """Tell whether anything was typed in; what cannot be read may hold anything."""
    try:
        sheets, notes = read_sheets(path)
        return bool(notes) or any(_holds_rows(sheet) for sheet in sheets)
    except IntakeError:
        return True


def _holds_rows(sheet: Sheet) -> bool:
    if sheet.name in GUIDING_SHEETS:
        return False
    headings = find_headings(sheet, Vocabulary({}, {}))
    if headings is None:
        return sheet.cells.height > 0
    below = sheet.cells.filter(pl.col("row_number") > headings.row_number)
    blank = below.filter(pl.all_horizontal(pl.exclude("row_number").is_null())).height
    return below.height - blank > pass_over(sheet, headings, below).example_count
