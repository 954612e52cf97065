"""Control totals: what a sheet says its lines add up to, against what was taken in.

A row of totals holds no record, and it is the only sum that the officer has checked: it is
compared with the lines above it, and what was refused or repeated of them explains the rest.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import polars as pl

from planner.intake.confirming import with_readings
from planner.intake.layout import AMOUNTS
from planner.intake.readings import SCHEMA as READINGS_SCHEMA
from planner.intake.rows import typed_cells
from planner.messages import officer_messages, say, some_of

if TYPE_CHECKING:
    from collections.abc import Iterable

    from planner.intake.rows import Rows

CENT = 0.005
"""Sums that differ by less are the same."""

MOST_ROWS_NAMED = 6
FATES = ("taken_in", "repeated", "refused")
TOTALS_SCHEMA = {
    "sheet": pl.String,
    "table_name": pl.String,
    "row_number": pl.Int64,
    "stated_amount": pl.Float64,
    "taken_in_amount": pl.Float64,
    "repeated_amount": pl.Float64,
    "refused_amount": pl.Float64,
    "unexplained_amount": pl.Float64,
    "unread_count": pl.Int64,
}


@dataclass(frozen=True)
class ControlTotal:
    """A row of totals, and the lines that it adds up."""

    rows: Rows
    row_number: int
    stated: float
    # ``row_number``, ``amount`` (null where it could not be read) and ``fate``, one of FATES
    lines: pl.DataFrame

    def amount(self, fate: str) -> float:
        """Sum of the lines of one fate."""
        return float(self.lines.filter(pl.col("fate") == fate)["amount"].sum())

    @property
    def difference(self) -> float:
        """What it says less the lines taken in; nothing where they agree to the cent."""
        gap = self.stated - self.amount("taken_in")
        return gap if abs(gap) >= CENT else 0.0

    @property
    def unexplained(self) -> float:
        """The difference less what refused and repeated lines hold of it."""
        gap = self.difference - sum(self.amount(fate) for fate in self._explaining)
        return gap if abs(gap) >= CENT else 0.0

    @property
    def _explaining(self) -> tuple[str, ...]:
        """Fates whose lines hold the difference: the fewest that leave the least of it."""
        amounts = {fate: self.amount(fate) for fate in ("refused", "repeated")}
        ways = ((), ("refused",), ("repeated",), ("refused", "repeated"))

        def left(way: tuple[str, ...]) -> float:
            return round(abs(self.difference - sum(amounts[fate] for fate in way)), 2)

        return min(ways, key=left)

    @property
    def unread_count(self) -> int:
        """Refused lines whose amount could not be read."""
        return int(self.lines["amount"].is_null().sum())

    def in_words(self) -> str:
        """Say whether the lines taken in come to it, and what explains the difference."""
        place = self.rows.source.row(self.row_number)
        decimal = officer_messages().decimal
        stated, taken = decimal(self.stated), decimal(self.amount("taken_in"))
        if not self.difference:
            return say("control.same", place=place, stated=stated)
        gap = decimal(self.difference)
        parts = [say("control.differs", place=place, stated=stated, taken=taken, difference=gap)]
        parts += [self._held_by(fate) for fate in self._explaining]
        key = "unexplained" if not self.unread_count else "in_unread"
        rest, count = decimal(self.unexplained), self.unread_count
        parts.append(
            say(f"control.{key if self.unexplained else 'explained'}", rest=rest, count=count)
        )
        return " ".join(parts)

    def _held_by(self, fate: str) -> str:
        rows = self.lines.filter(pl.col("fate") == fate)["row_number"].to_list()
        named, amount = (
            some_of(rows, MOST_ROWS_NAMED),
            officer_messages().decimal(self.amount(fate)),
        )
        return say(f"control.{fate}", len(rows), rows=named, amount=amount)


def control_totals(rows: Rows) -> tuple[ControlTotal, ...]:
    """Set each row of totals of a checked sheet against the lines above it.

    Returns
    -------
    tuple of ControlTotal
        None for tables whose lines do not add up to anything. A row of totals adds up all
        lines above it, or those since the one before: whichever is nearer to what it says.
    """
    stated, lines = _stated(rows), amounts_of(rows)
    found, before = [], 0
    for row_number, amount in stated.iter_rows():
        above = lines.filter(pl.col("row_number") < row_number)
        since = above.filter(pl.col("row_number") > before)
        scope = min((above, since), key=lambda part: abs(amount - float(part["amount"].sum())))
        found.append(ControlTotal(rows, row_number, amount, scope))
        before = row_number
    return tuple(found)


def amounts_of(rows: Rows) -> pl.DataFrame:
    """List the lines of a checked sheet: row_number, amount and fate, one of FATES."""
    column = AMOUNTS.get(rows.table)
    if column is None:
        schema = {"row_number": pl.Int64, "amount": pl.Float64, "fate": pl.String}
        return pl.DataFrame(schema=schema)
    refused = rows.typed.join(rows.problems.select("row_number"), on="row_number", how="semi")
    parts = zip(FATES, (rows.good(), rows.repeats, refused), strict=True)
    return pl.concat(
        part.select("row_number", pl.col(column).alias("amount"), pl.lit(fate).alias("fate"))
        for fate, part in parts
    )


def totals_frame(found: Iterable[ControlTotal]) -> pl.DataFrame:
    """Set out control totals as a load keeps them."""
    rows = [
        {
            "sheet": one.rows.sheet,
            "table_name": one.rows.table,
            "row_number": one.row_number,
            "stated_amount": one.stated,
            **{f"{fate}_amount": one.amount(fate) for fate in FATES},
            "unexplained_amount": one.unexplained,
            "unread_count": one.unread_count,
        }
        for one in found
    ]
    return pl.DataFrame(rows, schema=TOTALS_SCHEMA)


def _stated(rows: Rows) -> pl.DataFrame:
    """Read what the rows of totals say, as cells of the column are read."""
    column = AMOUNTS.get(rows.table)
    if column is None or column not in rows.columns or rows.totals.is_empty():
        return pl.DataFrame(schema={"row_number": pl.Int64, "amount": pl.Float64})
    has_numbers = rows.source.has_number_cells
    typed = typed_cells(rows.totals, rows.headings, rows.context, has_number_cells=has_numbers)
    readings = pl.DataFrame(schema=READINGS_SCHEMA)
    alone = replace(rows, text=rows.totals, typed=typed, readings=readings, proposals=())
    read = with_readings(replace(alone, columns=(column,))).typed
    return read.select("row_number", pl.col(column).alias("amount")).drop_nulls()
