"""Rows that hold no record: blank rows, totals, the example, notes under the table."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import polars as pl

from planner.intake.country import TOTAL_WORDS

if TYPE_CHECKING:
    from planner.intake.headings import Headings
    from planner.intake.sheets import Sheet

EXAMPLE_WORD = "example"
"""First cell of the row that only shows how to fill a sheet."""

_LISTED_ROWS = 5
_TOTAL = rf"^(?:{'|'.join(TOTAL_WORDS)})[\s\d:/-]*$"
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
        Rows of totals and notes, by their place.
    """

    kept: pl.DataFrame
    example_count: int
    notes: list[str]


def pass_over(sheet: Sheet, headings: Headings, below: pl.DataFrame) -> Passed:
    """Leave out blank rows, totals, the example and notes under the table."""
    cells = pl.exclude("row_number")
    columns = [pl.col(cell) for cell in headings.cells.values()]
    filled = below.filter(pl.any_horizontal(column.is_not_null() for column in columns))
    first = pl.coalesce(cells).str.to_lowercase().str.strip_chars(" :*")
    marked = filled.select(
        "row_number",
        first.str.contains(_TOTAL).alias("is_total"),
        (first == EXAMPLE_WORD).alias("is_example"),
        pl.sum_horizontal(cells.is_not_null()).alias("count"),
        pl.coalesce(cells).str.contains(_NOTE_SIGNS).alias("is_wordy"),
    )
    last = marked.filter((pl.col("count") > 1) & ~pl.col("is_total"))["row_number"].max()
    after = pl.col("row_number") > (last if isinstance(last, int) else headings.row_number)
    is_note = after & (pl.col("count") == 1) & pl.col("is_wordy") & ~pl.col("is_total")
    told = marked.with_columns(is_note.alias("is_note"))
    kept = filled.join(
        told.filter(pl.any_horizontal("is_total", "is_example", "is_note")).select("row_number"),
        on="row_number",
        how="anti",
        maintain_order="left",
    )
    notes = [
        *_listed(sheet, told, "is_total", "a total", "rows of totals"),
        *_listed(sheet, told, "is_note", "a note under the table", "notes under the table"),
    ]
    return Passed(kept, int(told["is_example"].sum()), notes)


def _listed(sheet: Sheet, told: pl.DataFrame, mark: str, one: str, several: str) -> list[str]:
    rows = told.filter(mark)["row_number"].to_list()
    notes = [f"{sheet.place}, row {row}: {one}, not read." for row in rows[:_LISTED_ROWS]]
    if len(rows) > _LISTED_ROWS:
        notes.append(f"{sheet.place}: {len(rows)} {several} in all, not read.")
    return notes
