"""Cells because of which rows are not taken in, and how the officer reads of them."""

from __future__ import annotations

from dataclasses import dataclass

import polars as pl

from planner.cells import csv_text
from planner.intake.wording import KINDS, NOT_KEPT, said, shown_reasons
from planner.messages import in_english, say
from planner.tables import TABLES

SCHEMA = {
    "table_name": pl.String,
    "record_key": pl.String,
    "file": pl.String,
    "sheet": pl.String,
    "row_number": pl.Int64,
    "column_name": pl.String,
    "heading": pl.String,
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
    heading: str = "",
) -> pl.DataFrame:
    """Make problems of one column; a value of contacts is blanked.

    Parameters
    ----------
    place, rows
        ``table_name``, ``file`` and ``sheet``; ``row_number``, ``record_key`` and ``value``.
    reason, expected
        Few words for the reason, in English as it is stored; what to write instead, in the
        officer's language.
    """
    why = pl.lit(reason) if isinstance(reason, str) else reason
    wanted = pl.lit(expected) if isinstance(expected, str) else expected
    made = rows.select(
        *(pl.lit(text).alias(name) for name, text in place.items()),
        pl.col("record_key"),
        pl.col("row_number"),
        pl.lit(column).alias("column_name"),
        pl.lit(heading).alias("heading"),
        pl.col("value").fill_null(""),
        why.alias("reason"),
        wanted.alias("expected"),
    )
    if place["table_name"] == "contacts":
        hidden = in_english(NOT_KEPT, reason="\0").split("\0")
        made = made.with_columns(
            pl.when(pl.col("value") != "")
            .then(pl.lit(hidden[0]) + pl.col("reason") + pl.lit(hidden[1]))
            .otherwise("reason")
            .alias("reason"),
            pl.lit("").alias("value"),
        )
    return made.select(*SCHEMA).cast(pl.Schema(SCHEMA))


PLAIN_REASONS = tuple(
    f"reason.{name}"
    for name in (*(f"not_a_{kind}" for kind in KINDS.values() if kind != "text"), "nullability")
)
"""Reasons that what was found and expected already tell."""

LISTED_ROWS = 5
"""Row numbers that are named where one fault stands in many rows."""

LISTED_VALUES = 3
"""Values that are named where many have one fault."""

_SHOWN_LENGTH = 60


@dataclass(frozen=True)
class Faults:
    """What the officer is told of refused rows."""

    rows_count: int
    cells_count: int
    waiting_count: int
    # ``sheet``, ``sentence`` and ``count`` of cells: one for each cause in a column, the commonest
    # first
    lines: pl.DataFrame

    @property
    def heading(self) -> str:
        """Count the causes first."""
        waiting = say("faults.waiting", self.waiting_count) if self.waiting_count else ""
        rows, cells = say("faults.rows", self.rows_count), say("faults.cells", self.cells_count)
        return say("faults.heading", rows=rows, cells=cells, waiting=waiting)


def causes_and_waiting(problems: pl.DataFrame) -> tuple[pl.DataFrame, pl.DataFrame]:
    """Part problems that are causes, each once, from rows that only wait for others.

    A row of a sheet that holds several tables is one row, and a cell of it one cell.
    """
    row = ["sheet", "row_number"]
    waits = pl.col("reason").str.starts_with(
        in_english("reason.waiting", table="\0").split("\0")[0]
    )
    causes, waiting = problems.filter(~waits), problems.filter(waits)
    causes = causes.unique([*row, "column_name", "reason"], keep="first", maintain_order=True)
    return causes, waiting.join(causes.select(row), on=row, how="anti")


def faults(problems: pl.DataFrame) -> Faults:
    """Group problems into faults: causes apart from rows that wait, equal ones once."""
    problems = worded(problems)
    row = ["sheet", "row_number"]
    causes, waiting = causes_and_waiting(problems)
    cause = ["table_name", "file", "sheet", "named", "reason", "told"]
    counted = causes.group_by([*cause, "value", "expected"], maintain_order=True).agg(
        pl.len().alias("count"),
        pl.col("row_number").head(LISTED_ROWS),
    )
    values = counted.sort("count", descending=True, maintain_order=True)
    grouped = values.group_by(cause, maintain_order=True).agg(
        pl.col("count").sum(),
        pl.len().alias("values_count"),
        pl.col("value", "expected").first(),
        pl.col("row_number").list.explode().head(LISTED_ROWS),
        said("faults.quoted", text=_short("value")).head(LISTED_VALUES).alias("values"),
    )
    lines = grouped.sort("count", descending=True, maintain_order=True).select(
        "sheet", _group_sentence().alias("sentence"), pl.col("count").cast(pl.Int64)
    )
    return Faults(
        problems.select(row).n_unique(), causes.height, waiting.select(row).n_unique(), lines
    )


def _short(column: str) -> pl.Expr:
    return pl.col(column).str.replace_all(r"\s+", " ").str.head(_SHOWN_LENGTH)


def _group_sentence() -> pl.Expr:
    """Tell one cause once: in how many rows, which values, and one way to fix it."""
    rows = pl.col("row_number").list.sort().cast(pl.List(pl.String)).list.join(", ")
    more = pl.when(pl.col("count") > LISTED_ROWS).then(pl.lit(" ...")).otherwise(pl.lit(""))
    several = said("faults.several_rows", count=pl.col("count"), rows=rows + more)
    one = said("faults.row", row=pl.col("row_number").list.first())
    where = pl.when(pl.col("count") > 1).then(several).otherwise(one)
    # counts come unsigned, and less than none of them would be four thousand million
    others = pl.col("values_count").cast(pl.Int64) - LISTED_VALUES
    listed = pl.col("values").list.join(", ")
    and_others = said("faults.others", listed=listed, count=others)
    listed = pl.when(others > 0).then(and_others).otherwise(listed)
    found = pl.when(pl.col("values_count") > 1).then(listed)
    return _sentence(where, found)


def _sentence(where: pl.Expr, several: pl.Expr | None = None) -> pl.Expr:
    short = _short("value")
    found = (
        pl.when(short == "")
        .then(pl.lit(say("faults.nothing")))
        .otherwise(said("faults.quoted", text=short))
    )
    shown = found if several is None else pl.coalesce(several, found)
    tail = in_english(NOT_KEPT, reason="\0").split("\0")[1]
    is_hidden = (short == "") & pl.col("reason").str.contains(tail, literal=True)
    place = (
        pl.when(pl.col("sheet") != "")
        .then(said("place.sheet", file=pl.col("file"), sheet=pl.col("sheet")))
        .otherwise("file")
    )
    is_told = pl.col("reason").is_in([in_english(key) for key in PLAIN_REASONS])
    what = pl.when(is_hidden).then(pl.lit(say("faults.something"))).otherwise(shown)
    why = pl.when(is_told).then(pl.lit("")).otherwise(", " + pl.col("told"))
    return said(
        "faults.sentence",
        place=place,
        where=where,
        column=pl.col("named"),
        found=what + why,
        expected=pl.col("expected"),
    )


def worded(problems: pl.DataFrame) -> pl.DataFrame:
    """Add each reason and column as the officer reads them: ``told`` and ``named``."""
    shown = shown_reasons(problems["reason"])
    said_so = pl.col("reason").replace(list(shown), list(shown.values()))
    name, heading = pl.col("column_name"), pl.col("heading")
    both = said("faults.column", heading=heading, column=name)
    named = pl.when((heading == "") | (heading == name)).then(name).otherwise(both)
    return problems.with_columns(said_so.alias("told"), named.alias("named"))


def refused_list(problems: pl.DataFrame) -> bytes:
    """Write every problem as a CSV file that a spreadsheet opens right and cannot run."""
    names = ("file", "sheet", "row_number", "column_name", "value", "reason", "expected")
    shown = worded(problems).with_columns(reason="told", column_name="named").select(names)
    shown = shown.rename({name: say(f"list.{name}") for name in names})
    return csv_text(shown).encode("utf-8-sig")
