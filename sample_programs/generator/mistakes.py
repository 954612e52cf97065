"""Wrong rows of the kinds that officers make, put among the good ones on purpose.

A wrong row is an extra row with a key of its own and one thing wrong; a spoilt row is a
real one that can no longer be read.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import polars as pl

from planner.tables import TABLES
from sample_programs.generator.streams import stream

if TYPE_CHECKING:
    from collections.abc import Iterator

PASSED_OVER = ("blank_row", "repeated_row", "total_row")
"""Kinds of rows that hold nothing new, though nothing in them needs mending."""

_ROUNDED_SHARE = 0.05
"""Shares nearer than this to the wrong one may still sum to 1 when rounded."""

Row = dict[str, object]
Tables = dict[str, pl.DataFrame]


@dataclass(frozen=True)
class Mistake:
    """Some wrong rows of one kind: one for each of `values`, written into `column`."""

    table: str
    kind: str
    column: str
    values: tuple[object, ...]

    @property
    def is_refused(self) -> bool:
        """Say whether each row must be refused; the others are passed over."""
        return self.kind not in PASSED_OVER

    @property
    def is_real_row_lost(self) -> bool:
        """A real row was spoilt, so its truth is missing from the records."""
        return self.kind == "spoilt_row"


def key_columns(table: str) -> list[str]:
    """Name a table's key columns."""
    return [name for name, column in TABLES[table].columns().items() if column.primary_key]


def marked_column(mistake: Mistake) -> str:
    """Name the column at fault: of a duplicate key the last of the key."""
    if mistake.kind == "duplicate_key":
        return key_columns(mistake.table)[-1]
    return mistake.column


def rows_with_mistakes(
    table: str, tables: Tables, mistakes: tuple[Mistake, ...], tag: str, seed: int
) -> list[Row]:
    """Mix a table's wrong rows among its good rows.

    Parameters
    ----------
    table
        Name of the table.
    tables
        All good tables of the town.
    mistakes
        The town's mistakes; those of other tables are passed over.
    tag
        The town's mark, with which fresh keys begin.
    seed
        Fixes where wrong rows stand.
    """
    rng = stream(seed, f"mistakes {table}")
    frame = tables[table]
    keys = fresh_keys(table, tables, tag, rng)
    good = list(frame.iter_rows(named=True))
    placed = [(float(place), row) for place, row in enumerate(good)]
    extra: list[tuple[float, Row]] = []
    for mistake in (one for one in mistakes if one.table == table):
        extra += _place(mistake, frame, placed, keys, tables, rng)
    return [row for _, row in sorted(placed + extra, key=lambda pair: pair[0])]


def _place(
    mistake: Mistake,
    frame: pl.DataFrame,
    placed: list[tuple[float, Row]],
    keys: Iterator[Row],
    tables: Tables,
    rng: np.random.Generator,
) -> list[tuple[float, Row]]:
    count = len(mistake.values)
    if mistake.kind == "spoilt_row":
        for value, place in zip(mistake.values, _safe_places(mistake, tables, rng), strict=False):
            placed[place] = (float(place), {**placed[place][1], mistake.column: value})
        return []
    if mistake.kind == "blank_row":
        empty: Row = dict.fromkeys(frame.columns)
        return [(rng.uniform(1, frame.height - 1), dict(empty)) for _ in range(count)]
    if mistake.kind == "total_row":
        return [(float(frame.height + 1), _total_row(frame, mistake))]
    if mistake.kind == "repeated_row":
        return [_later_copy(frame, rng) for _ in range(count)]
    if mistake.kind == "duplicate_key":
        return [_later_twin(mistake, value, frame, rng) for value in mistake.values]
    return _wrong_copies(mistake, frame, keys, rng)


def _later_twin(
    mistake: Mistake, value: object, frame: pl.DataFrame, rng: np.random.Generator
) -> tuple[float, Row]:
    """Write a row again further down, with another value in the column.

    Twins repeat rows in even places; spoilt rows lie in odd ones.
    """
    differs = frame.select(pl.col(mistake.column).ne_missing(value)).to_series().to_numpy()
    even = np.arange(frame.height) % 2 == 0
    place = int(rng.choice(np.flatnonzero(differs & even)))
    return rng.uniform(place + 0.1, frame.height), {
        **frame.row(place, named=True),
        mistake.column: value,
    }


def _later_copy(frame: pl.DataFrame, rng: np.random.Generator) -> tuple[float, Row]:
    """Write a row of an even place again further down, as it is."""
    place = 2 * int(rng.integers(frame.height // 2))
    return rng.uniform(place + 0.1, frame.height), frame.row(place, named=True)


def _wrong_copies(
    mistake: Mistake, frame: pl.DataFrame, keys: Iterator[Row], rng: np.random.Generator
) -> list[tuple[float, Row]]:
    """Copy good rows that fill the column, under fresh keys, with the wrong value in it."""
    filled = frame.filter(pl.col(mistake.column).is_not_null())
    wrong = []
    for value in mistake.values:
        key = next(keys)
        if mistake.kind == "shares_not_one":
            filled = filled.filter((pl.col(mistake.column) - value).abs() > _ROUNDED_SHARE)
        alike = filled
        if "wave_id" in key and len(key) > 1:
            alike = filled.filter(pl.col("wave_id") == key["wave_id"])
            while alike.is_empty():
                key = next(keys)
                alike = filled.filter(pl.col("wave_id") == key["wave_id"])
        row = alike.row(int(rng.integers(alike.height)), named=True)
        wrong.append((rng.uniform(0, frame.height), {**row, **key, mistake.column: value}))
    return wrong


def _total_row(frame: pl.DataFrame, mistake: Mistake) -> Row:
    row: Row = dict.fromkeys(frame.columns)
    row[frame.columns[0]] = mistake.values[0]
    row[mistake.column] = frame[mistake.column].sum()
    return row


def _safe_places(mistake: Mistake, tables: Tables, rng: np.random.Generator) -> list[int]:
    """Choose real rows that fill the column and to which no other table refers."""
    frame = tables[mistake.table].with_row_index("place")
    fit = frame.filter(pl.col(mistake.column).is_not_null() & (pl.col("place") % 2 == 1))
    if mistake.table == "handovers":
        fit = fit.join(tables["givebacks"], on="handover_id", how="anti", maintain_order="left")
    return rng.permutation(fit["place"].to_numpy())[: len(mistake.values)].tolist()


def fresh_keys(table: str, tables: Tables, tag: str, rng: np.random.Generator) -> Iterator[Row]:
    """Yield keys that no good row of the table has, fit to stand beside them otherwise."""
    frame, columns = tables[table], key_columns(table)
    if table == "givebacks":
        unused = (
            tables["handovers"]
            .join(frame, on="handover_id", how="anti", maintain_order="left")
            .select(columns)
        )
    elif table == "answers":
        unused = (
            tables["samples"]
            .join(frame, on=columns, how="anti", maintain_order="left")
            .select(columns)
        )
    elif table == "samples":
        pairs = (
            tables["waves"]
            .select("wave_id")
            .join(tables["households"].select("household_id"), how="cross")
        )
        unused = pairs.join(frame, on=columns, how="anti", maintain_order="left")
    elif table == "weighings":
        unused = frame.select("household_id", pl.col("week_start_date").dt.offset_by("-1d"))
    else:
        numbers = pl.int_range(9_001, 9_500, eager=True).cast(pl.String)
        unused = pl.DataFrame({columns[0]: f"{tag}-X" + numbers})
    order = rng.permutation(unused.height)
    yield from unused[order].iter_rows(named=True)
