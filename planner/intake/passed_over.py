"""Rows that hold no record: blank rows, totals, the example, notes under the table."""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import count
from typing import TYPE_CHECKING

import polars as pl

from planner.errors import IntakeError
from planner.intake.cells import plain_words
from planner.intake.headings import find_headings
from planner.intake.sheets import GUIDING_SHEETS, Sheet, read_sheets
from planner.intake.vocabulary import Vocabulary
from planner.messages import say
from planner.tables import TABLES

if TYPE_CHECKING:
    import datetime as dt
    from collections.abc import Mapping
    from pathlib import Path

    from planner.intake.headings import Headings

EXAMPLE_WORD = "example"
"""First cell of the row that only shows how to fill a sheet."""

FILLED_IN_LATER = {"calls": "call_outcome"}
"""Lists that the planner writes with rows to be filled in: while this column is empty, a row
is work to do and no record."""

_LISTED_ROWS = 5
_LEAST_HEADINGS = 3
_TOTAL_WORDS = rf"(?:{'|'.join(plain_words('total'))})"
_TOTAL = rf"^{_TOTAL_WORDS}(?:\s+(?:\p{{L}}|\d|[./-])+){{0,3}}\s*:?$"
_TOTAL_LAST = rf"^(?:[\p{{L}}\d./-]+\s+){{1,4}}{_TOTAL_WORDS}\s*:?$"
_NOTE_SIGNS = r"\s|^\*|:$"
_NOTE_BEGINS = r"^(?:\*|\(|(?:n\.?\s?b\.?|note|nota|remarque|hinweis)\s*:)"


def straightened(sheet: Sheet, head_row: int) -> tuple[Sheet, list[str]]:
    """Blank headings that a sheet repeats, and put columns that moved with them in their place."""
    row = sheet.cells.filter(pl.col("row_number") == head_row).drop("row_number")
    texts = {cell: text for cell, text in row.row(0, named=True).items() if text is not None}
    place_of = {text: cell for cell, text in texts.items()}
    if len(place_of) < max(len(texts), _LEAST_HEADINGS):
        return sheet, []
    again = sheet.cells.filter(pl.col("row_number") > head_row)
    for text in place_of:
        again = again.filter(pl.any_horizontal(pl.exclude("row_number") == text))
    if again.is_empty():
        return sheet, []
    parts = [sheet.cells.filter(pl.col("row_number") < again["row_number"][0])]
    ends = [*again["row_number"][1:], sheet.cells.height + 1]
    notes = []
    for repeated, end in zip(again.iter_rows(named=True), ends, strict=True):
        number = repeated.pop("row_number")
        now = {place_of[text]: cell for cell, text in repeated.items() if text in place_of}
        part = sheet.cells.filter(pl.col("row_number").is_between(number, end, closed="left"))
        is_row = pl.col("row_number") > number
        parts.append(
            part.with_columns(
                pl.when(is_row).then(pl.col(now.get(cell, cell))).alias(cell) for cell in repeated
            )
        )
        is_moved = any(now[cell] != cell for cell in now)
        notes.append(say(f"passed.{'moved' if is_moved else 'headings'}", place=sheet.row(number)))
    if len(notes) > _LISTED_ROWS:
        more = say("passed.headings_in_all", place=sheet.place, count=len(notes))
        notes = [*notes[:_LISTED_ROWS], more]
    return replace(sheet, cells=pl.concat(parts)), notes


@dataclass(frozen=True)
class Passed:
    """Rows to be read, and what was passed over."""

    kept: pl.DataFrame  # rows of the sheet that hold a record
    example_count: int  # rows that only show how to fill the sheet; they count as nothing
    # rows of notes, and of totals in a table whose rows do not add up, by their place
    notes: list[str]
    totals: pl.DataFrame


def _is_total(first: pl.Expr, key: str | None) -> pl.Expr:
    """Tell from the first filled cell of a row whether it only adds up the others.

    "Total for May" is no record whatever follows; "Bins Total" is none if its key is empty, as
    in tables that a spreadsheet summed up by groups (common practice).
    """
    said = first.str.to_lowercase().str.strip_chars(" :*")
    by_group = (
        said.str.contains(_TOTAL_LAST) & pl.col(key).is_null() if key else pl.lit(value=False)
    )
    return said.str.contains(_TOTAL) | by_group


def marked_rows(
    below: pl.DataFrame, table: str, cells: Mapping[str, str], head_row: int
) -> pl.DataFrame:
    """Mark the rows that hold no record: ``is_total``, ``is_example`` and ``is_note``."""
    everything = pl.exclude("row_number")
    columns = [pl.col(cell) for cell in cells.values()]
    first = pl.coalesce(everything)
    said = first.str.to_lowercase().str.strip_chars(" :*")
    key = cells.get(TABLES[table].primary_key()[0])
    marked = below.filter(pl.any_horizontal(*(one.is_not_null() for one in columns))).select(
        "row_number",
        _is_total(first, key).alias("is_total"),
        (said == EXAMPLE_WORD).alias("is_example"),
        said.is_in(plain_words("average")).alias("is_average"),
        pl.sum_horizontal(everything.is_not_null()).alias("count"),
        first.str.contains(_NOTE_SIGNS).alias("is_wordy"),
        first.str.to_lowercase().str.contains(_NOTE_BEGINS).alias("is_begun"),
    )
    last = marked.filter((pl.col("count") > 1) & ~pl.col("is_total"))["row_number"].max()
    after = pl.col("row_number") > (last if isinstance(last, int) else head_row)
    is_alone = (pl.col("count") == 1) & pl.col("is_wordy") & ~pl.col("is_total")
    is_note = (is_alone & (after | pl.col("is_begun"))) | pl.col("is_average")
    return marked.with_columns(is_note.alias("is_note"))


def pass_over(sheet: Sheet, headings: Headings, below: pl.DataFrame) -> Passed:
    """Leave out blank rows, totals, the example and notes under the table."""
    marked = marked_rows(below, headings.table, headings.cells, headings.row_number)
    filled = below.join(marked.select("row_number"), on="row_number", maintain_order="left")
    passed = marked.with_columns(
        filled.with_columns(is_to_do=_is_to_do(headings))["is_to_do"],
    )
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
        key = "passed.not_there_yet" if headings.own else "passed.to_do"
        notes.append(say(key, to_do, place=sheet.place, table=headings.table))
    return Passed(kept, int(passed["is_example"].sum()), notes, totals)


def _is_to_do(headings: Headings) -> pl.Expr:
    cell = headings.cells.get(FILLED_IN_LATER.get(headings.table, ""))
    cells = headings.own or ([cell] if cell else [])
    return pl.all_horizontal(pl.lit(bool(cells)), *(pl.col(one).is_null() for one in cells))


def _listed(sheet: Sheet, passed: pl.DataFrame, kind: str) -> list[str]:
    rows = passed.filter(f"is_{kind}")["row_number"].to_list()
    notes = [say(f"passed.{kind}", place=sheet.row(row)) for row in rows[:_LISTED_ROWS]]
    if len(rows) > _LISTED_ROWS:
        notes.append(say(f"passed.{kind}s", place=sheet.place, count=len(rows)))
    return notes


def keep_filled_workbook(path: Path, day: dt.date | None) -> Path | None:
    """Rename a workbook that holds any row beyond the examples.

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
