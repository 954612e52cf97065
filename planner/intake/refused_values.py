"""What the cells of refused rows say in a copy: as found, and never to be read otherwise."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import dataframely as dy
import polars as pl

from planner.intake.cells import parsed
from planner.intake.marks import MOVED, TWICE, UNCLEAR
from planner.intake.repeats import CONTRADICTION
from planner.intake.rows import SHIFTED, Rows
from planner.tables import TABLES

if TYPE_CHECKING:
    from collections.abc import Iterator

    from planner.intake.country import Country

COPIED_ROWS = 10_000
"""Rows of a sheet that are copied; nobody mends more by hand, and writing takes a minute."""


@dataclass(frozen=True)
class Refused:
    """Rows of one sheet that are not taken in, and the cells because of which."""

    rows: Rows
    problems: pl.DataFrame


def copied_values(
    refused: Refused, cells: tuple[str, ...], country: Country
) -> Iterator[tuple[int, list[object]]]:
    """Take the refused rows as they were found, numbers and dates as what they are.

    Parameters
    ----------
    refused
        Rows of a sheet and the problems that are open; the first 10 000 rows are taken.
    cells
        The sheet's columns that are copied.
    country
        How numbers and dates are written.

    Yields
    ------
    tuple of int and list
        Row number, and a value for each of the columns.
    """
    rows = refused.rows
    numbers = refused.problems["row_number"].unique().sort().head(COPIED_ROWS)
    found = rows.source.cells.filter(pl.col("row_number").is_in(numbers.implode()))
    shown = found.select("row_number", pl.exclude("row_number").str.replace(r"[ T]00:00:00$", ""))
    shown = _with_unclear(_with_marks(shown, refused), rows, country)
    read = _read(shown, rows, country)
    kept = [cell for cell in cells if cell not in read.columns]
    values = [read[cell].to_list() if cell in read.columns else None for cell in cells]
    texts = shown.select("row_number", *cells).iter_rows()
    for place, (number, *row) in enumerate(texts):
        typed = [None if column is None else column[place] for column in values]
        yield (
            number,
            [
                text if cell in kept or value is None else value
                for cell, text, value in zip(cells, row, typed, strict=True)
            ],
        )


def _measured(rows: Rows) -> dict[str, str]:
    """For each column of numbers or dates that the sheet has, the sheet's own column."""
    declared = TABLES[rows.table].columns()
    return {
        name: rows.headings.cells[name]
        for name in rows.columns
        if isinstance(declared[name], dy.Float64 | dy.Int64 | dy.Date)
    }


def _read(
    text: pl.DataFrame, rows: Rows, country: Country, *, has_number_cells: bool | None = None
) -> pl.DataFrame:
    """Read numbers and dates in the units of the headings; null where that cannot be."""
    way = rows.source.has_number_cells if has_number_cells is None else has_number_cells
    measured = _measured(rows)
    return text.rename({cell: name for name, cell in measured.items()}).select(
        parsed(rows.table, name, country, has_number_cells=way).alias(cell)
        for name, cell in measured.items()
    )


def _with_marks(text: pl.DataFrame, refused: Refused) -> pl.DataFrame:
    """Mark rows that would be read as good ones when the copy is loaded as it is."""
    headings = refused.rows.headings
    for reason, mark in ((SHIFTED, MOVED), (CONTRADICTION, TWICE)):
        hit = refused.problems.filter(pl.col("reason") == reason)
        for (name,), several in hit.group_by("column_name"):
            cell = headings.cells[str(name)]
            parts = [cell, *headings.beyond] if reason == SHIFTED else [cell]
            said = pl.concat_str(pl.lit(mark), *parts, separator=" ", ignore_nulls=True)
            is_hit = pl.col("row_number").is_in(several["row_number"].implode())
            text = text.with_columns(pl.when(is_hit).then(said).otherwise(cell).alias(cell))
    return text


def _with_unclear(text: pl.DataFrame, rows: Rows, country: Country) -> pl.DataFrame:
    """Mark numbers that a text file refuses and a workbook would read."""
    if rows.source.has_number_cells:
        return text
    as_text = _read(text, rows, country, has_number_cells=False)
    as_cells = _read(text, rows, country, has_number_cells=True)
    unclear = as_text.select(pl.all().is_null())
    changed = [
        pl.when(unclear[cell] & as_cells[cell].is_not_null())
        .then(pl.col(cell) + UNCLEAR)
        .otherwise(cell)
        .alias(cell)
        for cell in as_text.columns
    ]
    return text.with_columns(changed)
