"""Cells because of which rows are not taken in: one frame, one shape, everywhere."""

from __future__ import annotations

import polars as pl

from planner.intake.wording import NOT_KEPT
from planner.tables import TABLES

SCHEMA = {
    "table_name": pl.String,
    "record_key": pl.String,
    "file": pl.String,
    "sheet": pl.String,
    "row_number": pl.Int64,
    "column_name": pl.String,
    "value": pl.String,
    "reason": pl.String,
    "expected": pl.String,
}
KEY_SEPARATOR = " | "


def no_problems() -> pl.DataFrame:
    """Make a frame of no problems."""
    return pl.DataFrame(schema=SCHEMA)


def record_key(table: str) -> pl.Expr:
    """Write a record's key as one text, as the store's history does; null if part is."""
    key = [pl.col(name).cast(pl.String) for name in TABLES[table].primary_key()]
    return pl.concat_str(key, separator=KEY_SEPARATOR).alias("record_key")


def problems(
    place: dict[str, str],
    rows: pl.DataFrame,
    column: str,
    reason: str | pl.Expr,
    expected: str | pl.Expr,
) -> pl.DataFrame:
    """Make problems of one column.

    Parameters
    ----------
    place
        ``table_name``, ``file`` and ``sheet``.
    rows
        ``row_number``, ``record_key`` and ``value``; a value of contacts is blanked.
    column
        Column of the table.
    reason, expected
        Few words for the reason; what to write instead.
    """
    said = pl.lit(reason) if isinstance(reason, str) else reason
    wanted = pl.lit(expected) if isinstance(expected, str) else expected
    made = rows.select(
        *(pl.lit(text).alias(name) for name, text in place.items()),
        pl.col("record_key"),
        pl.col("row_number"),
        pl.lit(column).alias("column_name"),
        pl.col("value").fill_null(""),
        said.alias("reason"),
        wanted.alias("expected"),
    )
    if place["table_name"] == "contacts":
        made = made.with_columns(
            pl.when(pl.col("value") != "")
            .then(pl.col("reason") + f" ({NOT_KEPT})")
            .otherwise("reason")
            .alias("reason"),
            pl.lit("").alias("value"),
        )
    return made.select(*SCHEMA).cast(pl.Schema(SCHEMA))
