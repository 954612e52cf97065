"""Rows of one file that have the same key: repeats are dropped, contradictions refused."""

from __future__ import annotations

from dataclasses import replace

import polars as pl

from planner.intake.problems import problems
from planner.intake.rows import Rows
from planner.tables import TABLES

CONTRADICTION = "same key as an earlier row, other values"


def settle_repeats(sheets: list[Rows]) -> list[Rows]:
    """Drop identical repeats and refuse rows that contradict an earlier row of their key.

    Parameters
    ----------
    sheets
        Sheets of one file that hold one table, in their order.

    Returns
    -------
    list of Rows
        The same sheets; repeated rows are counted and gone.
    """
    stacked = pl.concat(
        rows.typed.with_columns(
            pl.lit(number, dtype=pl.Int64).alias("sheet_number"),
            pl.lit(rows.sheet).alias("sheet"),
            pl.col("row_number").is_in(rows.problems["row_number"].implode()).alias("is_unread"),
        )
        for number, rows in enumerate(sheets)
    )
    marked = _marked(stacked, sheets[0].table)
    if marked.is_empty():
        return sheets
    return [
        _settle(rows, marked.filter(pl.col("sheet_number") == number))
        for number, rows in enumerate(sheets)
    ]


def _marked(stacked: pl.DataFrame, table: str) -> pl.DataFrame:
    """Keep rows after the first of their key; say where that is and whether they agree."""
    key = TABLES[table].primary_key()
    others = [name for name in TABLES[table].column_names() if name not in key]
    keyed = stacked.filter(pl.all_horizontal(pl.col(name).is_not_null() for name in key))
    several = keyed.filter(pl.struct(key).is_duplicated())
    agrees = [pl.col(name).eq_missing(pl.col(name).first().over(key)) for name in others]
    read = [~pl.col("is_unread"), ~pl.col("is_unread").first().over(key)]
    return several.with_columns(
        pl.int_range(pl.len()).over(key).alias("place"),
        pl.all_horizontal(*agrees, *read).alias("is_repeat"),
        pl.col("row_number").first().over(key).alias("first_row"),
        pl.col("sheet").first().over(key).alias("first_sheet"),
    ).filter(pl.col("place") > 0)


def _settle(rows: Rows, marked: pl.DataFrame) -> Rows:
    repeats = marked.filter("is_repeat").select("row_number")
    differing = marked.filter(~pl.col("is_repeat"))
    column = TABLES[rows.table].primary_key()[-1]
    found = rows.cells(column).join(
        differing.select("row_number", "first_row", "first_sheet"), on="row_number"
    )
    first = pl.format("row {}", "first_row")
    elsewhere = pl.when(pl.col("first_sheet") != rows.sheet).then(
        pl.format(" of sheet {}", "first_sheet")
    )
    wanted = pl.concat_str(
        pl.lit(f"one row for each {' and '.join(TABLES[rows.table].primary_key())}; "),
        first,
        elsewhere.fill_null(""),
        pl.lit(" came first. Keep the right one of the two."),
    )
    contradictions = problems(rows.place, found, column, CONTRADICTION, wanted)
    return replace(
        rows,
        text=rows.text.join(repeats, on="row_number", how="anti"),
        typed=rows.typed.join(repeats, on="row_number", how="anti"),
        problems=pl.concat([rows.problems, contradictions]),
        repeated_count=repeats.height,
    )
