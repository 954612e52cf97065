"""Records that rows refer to and no sheet lists: survey rounds, areas, suppliers."""

from __future__ import annotations

from typing import TYPE_CHECKING

import dataframely as dy
import polars as pl

from planner.intake.cells import parsed
from planner.intake.meaning import folded_text
from planner.intake.vocabulary import FILLED_BY_HAND
from planner.tables import CALLED_BY_KEY, NAMES, TABLES, codes, references

if TYPE_CHECKING:
    from collections.abc import Collection, Iterable, Mapping

    from planner.intake.guessing import SheetGuess
    from planner.intake.rows import Context

MOST_RECORDS = 60
"""Above so many names a column is taken for another one, wrongly guessed."""


def missing_records(
    guesses: Iterable[SheetGuess],
    known: Mapping[str, pl.DataFrame],
    context: Context,
    settled: Mapping[str, Collection[str]],
) -> dict[str, pl.DataFrame]:
    """Collect the records of short tables that rows name and that are nowhere to be found.

    Parameters
    ----------
    guesses
        Sheets with their table and columns settled.
    known
        For each table, its keys as `words.keys_by_fold` gives them, those of the sheets with them.
    settled
        For each column, folded words that the officer was asked for: other names of known records.

    Returns
    -------
    dict[str, pl.DataFrame]
        For each table that lacks some, a row a record in the table's types: its key, and what
        the rows tell of it. What they do not tell is null, for the officer to fill in.
    """
    found: dict[str, list[pl.DataFrame]] = {}
    for guess in guesses:
        cells = {one.column: one.cell for one in guess.columns if one.column}
        for column, target in references(guess.table).items() if guess.table else ():
            if target not in FILLED_BY_HAND or column not in {*cells, *guess.held}:
                continue
            rows = _named_rows(guess, cells, column, context)
            there = known[target]["fold"] if target in known else pl.Series("fold", [], pl.String)
            others = [*there, *settled.get(column, ())]
            lacking = rows.filter(~folded_text(pl.col("key")).is_in(others))
            if lacking.height:
                found.setdefault(target, []).append(lacking)
    joined = {table: _one_each(table, pl.concat(rows)) for table, rows in found.items()}
    return {table: rows for table, rows in joined.items() if rows.height <= MOST_RECORDS}


def _named_rows(
    guess: SheetGuess, cells: Mapping[str, str], column: str, context: Context
) -> pl.DataFrame:
    """Give the key each row names, its day, and whether it tells of the time before a bin."""
    table = guess.table or ""
    below = guess.records()
    text = below.select(
        *(pl.col(cells[name]).alias(name) for name in cells),
        *(pl.lit(value).alias(name) for name, value in guess.held.items() if name not in cells),
    )
    contract = TABLES[table].columns()
    # a day that every row has: that of stopping is not that of the answer
    days = [
        name
        for name, declared in contract.items()
        if name in cells and isinstance(declared, dy.Date) and not declared.nullable
    ]
    day = (
        parsed(table, days[0], context.country, has_number_cells=guess.sheet.has_number_cells)
        if days
        else pl.lit(None, dtype=pl.Date)
    )
    before = [pl.col(name).is_not_null() for name in cells if name.startswith("prior_")]
    # later rounds may ask for both
    after = [pl.col(name).is_not_null() for name in cells if name == "is_in_use"]
    return text.select(
        pl.col(column).str.strip_chars().alias("key"),
        day.alias("day"),
        (
            pl.any_horizontal(*before, pl.lit(value=False))
            & ~pl.any_horizontal(*after, pl.lit(value=False))
        ).alias("is_of_before"),
    ).drop_nulls("key")


def _one_each(table: str, rows: pl.DataFrame) -> pl.DataFrame:
    """Make one record of all rows that name it."""
    contract = TABLES[table]
    grouped = rows.group_by(folded_text(pl.col("key")).alias("fold"), maintain_order=True).agg(
        pl.col("key").first(),
        pl.col("day").min().alias("first_day"),
        pl.col("day").max().alias("last_day"),
        pl.col("is_of_before").mean().alias("share_of_before"),
    )
    told = {contract.primary_key()[0]: pl.col("key")}
    if table in CALLED_BY_KEY:
        told[NAMES[table]] = pl.col("key")
    if table == "waves":
        told["opens_date"], told["closes_date"] = pl.col("first_day"), pl.col("last_day")
        baseline, follow_up = codes("waves", "wave_kind")
        is_before = pl.col("share_of_before").fill_null(0.0) > 0.5
        told["wave_kind"] = pl.when(is_before).then(pl.lit(baseline)).otherwise(pl.lit(follow_up))
        grouped = grouped.sort("first_day", maintain_order=True, nulls_last=True)
    return grouped.select(
        told.get(name, pl.lit(None)).cast(declared.dtype, strict=False).alias(name)
        for name, declared in contract.columns().items()
    )
