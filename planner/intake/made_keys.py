"""Keys of rows that nobody numbers: made of the columns that tell such rows apart."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import polars as pl

from planner.tables import ALIKE_AND_TWO, MADE_KEYS, made_key

if TYPE_CHECKING:
    from planner.intake.rows import Rows


def with_made_key(rows: Rows) -> Rows:
    """Give each row of a sheet without a key one of its own, the same whenever it is loaded.

    Rows that say the same have the same key, but for the lines of a ledger, which are counted.
    """
    key = made_key(rows.table, rows.written)
    if key is None:
        return rows
    parts = MADE_KEYS[rows.table]
    texts = [pl.col(name).cast(pl.String).str.strip_suffix(".0") for name in parts]
    made = pl.concat_str(texts, separator="-")
    if rows.table in ALIKE_AND_TWO:
        place = pl.int_range(1, pl.len() + 1).over(parts)
        made = pl.when(place > 1).then(pl.format("{}-{}", made, place)).otherwise(made)
    # a row that lacks one of them is refused for that, and is no other row's repeat
    nameless = pl.format("row-{}", "row_number")
    typed = rows.typed.with_columns(pl.coalesce(made, nameless).alias(key))
    return replace(rows, typed=typed, filled=(*rows.filled, key))
