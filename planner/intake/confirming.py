"""What is read as a person would: plain readings put in place, doubtful ones proposed."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import dataframely as dy
import polars as pl

from planner.intake.readings import SCHEMA, TICKS, Proposal, read_again
from planner.intake.wording import said
from planner.messages import in_english, say
from planner.tables import (
    DOUBTFUL,
    FIRST_DATE,
    LAST_DATE,
    PLAIN,
    PRIOR_ROUTES,
    PRIOR_SHARES,
    TABLES,
    references,
)
from planner.tables.fields import declared_unit
from planner.units import G_PER_KG, PER_CENT

if TYPE_CHECKING:
    from collections.abc import Mapping

    from planner.intake.cells import Country
    from planner.intake.rows import Rows

SHOWN_EXAMPLES = 3

BOXES = ("x", "1", "1.0")
"""What stands in a box that is ticked, beside signs; who writes yes writes no as well."""

NEAR_NAME = "near_name"
MAIN_ROUTE = "prior_main_route"
LEAST_GRAMS = 50.0
"""A number of kg this large that would fit as grams; smaller ones are as likely a slip."""

FAR_YEARS = 5
"""Years before and after those of the program beyond which a day is asked for."""

SUM_TOLERANCE_PER_CENT = 1.1
"""Five whole per cents may miss 100 by one."""
WHOLE_SUM_TOLERANCE = 0.0005
"""Shares with empty ones beside them must be the whole to the digits written."""


def with_readings(rows: Rows) -> Rows:
    """Read again, as a person would, the cells that hold something that was not read."""
    for column in rows.columns:
        is_unread = rows.text[column].is_not_null() & rows.typed[column].is_null()
        found = rows.text.select("row_number", pl.col(column).alias("found")).filter(is_unread)
        texts, unit = found["found"].unique(maintain_order=True), rows.headings.units.get(column)
        read = read_again(texts, rows.table, column, rows.context, unit)
        if read.height:
            cells = found.join(read, on="found", how="inner", maintain_order="left")
            rows = with_values(rows, column, cells)
    return _with_doubtful_values(rows)


def with_values(rows: Rows, column: str, cells: pl.DataFrame, instead: str = "") -> Rows:
    """Put values in place that are plain or confirmed, and propose the others.

    Parameters
    ----------
    cells
        ``row_number``, ``found``, ``value`` of the column's type and ``kind``.
    instead
        What to do about cells that wait for a yes; how to confirm them unless given.
    """
    name = pl.when(pl.col("kind") == NEAR_NAME).then("found").otherwise("kind")
    cells = cells.with_columns(pl.format(f"{rows.table}.{column}.{{}}", name).alias("confirm"))
    is_accepted = pl.col("confirm").is_in(list(rows.context.accepted))
    is_taken = pl.col("kind").is_in(list(PLAIN)) | is_accepted
    shown = written_as_read(pl.col("value"), cells.schema["value"], rows.context.country)
    cells = cells.with_columns(is_taken.alias("is_taken"), shown.alias("read_as"))
    taken, doubtful = cells.filter("is_taken"), cells.filter(~pl.col("is_taken"))
    typed = rows.typed.join(taken.select("row_number", "value"), on="row_number", how="left")
    typed = typed.with_columns(pl.coalesce("value", column).alias(column)).drop("value")
    noted = taken.with_columns(pl.lit(column).alias("column_name")).select(*SCHEMA)
    return replace(
        rows.with_problems(_unconfirmed(rows, column, doubtful, instead)),
        typed=typed,
        readings=pl.concat([rows.readings, noted.cast(pl.Schema(SCHEMA))]),
        proposals=(*rows.proposals, *_proposals(rows.table, column, doubtful)),
    )


def _proposals(table: str, column: str, doubtful: pl.DataFrame) -> list[Proposal]:
    by_name = pl.when(pl.col("kind") == NEAR_NAME).then("found").otherwise(pl.lit(""))
    proposals = []
    for (kind, found), cells in doubtful.group_by(
        "kind", by_name.alias("named"), maintain_order=True
    ):
        shown = cells.select("found", "read_as").unique(maintain_order=True).head(SHOWN_EXAMPLES)
        examples = tuple(say("reading.as", found=one, read=as_) for one, as_ in shown.iter_rows())
        proposals.append(Proposal(table, column, str(kind), cells.height, examples, str(found)))
    return proposals


def _unconfirmed(rows: Rows, column: str, doubtful: pl.DataFrame, advice: str) -> pl.DataFrame:
    """Refuse cells that could be misread until the officer has confirmed how to read them."""
    if doubtful.is_empty():
        return rows.problems.clear()
    chosen = doubtful.select("row_number", "kind", "read_as", "confirm")
    cells = rows.cells(column).join(chosen, on="row_number", how="inner")
    ways = {kind: say(f"reading.{kind}") for kind in DOUBTFUL}
    way = pl.col("kind").replace_strict(ways, return_dtype=pl.String)
    read = pl.col("read_as")
    perhaps = (
        pl.when(pl.col("kind") == NEAR_NAME)
        .then(said("advice.near", near=read))
        .otherwise(said("reading.perhaps", read=read, way=way))
    )
    name = pl.col("confirm")
    confirm = said("reading.confirm", expected=rows.expected(column), perhaps=perhaps, name=name)
    instead = pl.lit(advice) if advice else confirm
    return rows.refused(cells, column, in_english("reason.unconfirmed"), instead)


def written_as_read(value: pl.Expr, kind: pl.DataType, country: Country) -> pl.Expr:
    """Write a value as the country does, to be shown beside what was found."""
    if kind == pl.Date:
        parts = {"d": "%d", "m": "%m", "y": "%Y"}
        return value.dt.to_string(country.date_sign.join(parts[one] for one in country.date_order))
    if kind == pl.Boolean:
        yes, no = say("reading.yes"), say("reading.no")
        return pl.when(value).then(pl.lit(yes)).otherwise(pl.lit(no))
    if kind == pl.Float64:
        text = value.round(6).cast(pl.String).str.replace(r"\.0$", "")
        return text.str.replace(".", country.decimal, literal=True)
    return value.cast(pl.String)


def _with_doubtful_values(rows: Rows) -> Rows:
    """Propose another meaning for values that are read but cannot be meant so."""
    for column in rows.columns:
        declared = TABLES[rows.table].columns()[column]
        unit = declared_unit(declared)
        has_unit = column in rows.headings.units
        if isinstance(declared, dy.Float64) and unit == "kg" and not has_unit:
            rows = _with_grams(rows, column, float(declared.max or 0.0))
        elif unit == "probability":
            whole = rows.typed.filter(pl.col(column).is_between(1.0, PER_CENT, closed="right"))
            rows = _with_scaled(rows, column, whole, PER_CENT, "hundredths")
        elif isinstance(declared, dy.Date):
            rows = _with_far_days(rows, column)
        elif isinstance(declared, dy.Bool) and not declared.nullable:
            rows = _with_empty_ticks(rows, column)
    rows = _with_groups(rows)
    rows = _with_rest_of_shares(_with_shares_of_hundred(rows))
    return _with_main_route(rows)


def _with_groups(rows: Rows) -> Rows:
    """Ask whether a word that stands at the first row of its group alone holds for all of them.

    Tables that a spreadsheet summed up by groups are written so (common practice).
    """
    table = TABLES[rows.table]
    for column in rows.columns:
        declared, written = table.columns()[column], rows.text[column]
        is_word = isinstance(declared, dy.Enum) or column in references(rows.table)
        if declared.nullable or not is_word or written.null_count() * 2 < written.len():
            continue
        above = rows.typed.select("row_number", pl.col(column).forward_fill().alias("value"))
        filled = above.filter(written.is_null()).drop_nulls("value")
        rows = with_doubtful(rows, column, filled, "from_above")
    return rows


def _with_empty_ticks(rows: Rows, column: str) -> Rows:
    """Read an empty cell as no in a column of boxes, in which yes alone is ticked."""
    marks = rows.text[column].drop_nulls().str.to_lowercase()
    ticks = [*BOXES, *(mark for mark, is_yes in TICKS.items() if is_yes)]
    is_ticked = marks.len() > 0 and bool(marks.is_in(ticks).all())
    empty = rows.typed.filter(rows.text[column].is_null()).select(
        "row_number", pl.lit(value=False).alias("value")
    )
    return with_doubtful(rows, column, empty, "tick") if is_ticked else rows


def _with_grams(rows: Rows, column: str, most_kg: float) -> Rows:
    """Ask whether masses too large in kg are grams, as of the worms for one bin."""
    value = pl.col(column)
    fits = (value > most_kg) & (value >= LEAST_GRAMS) & (value / G_PER_KG <= most_kg)
    return _with_scaled(rows, column, rows.typed.filter(fits), G_PER_KG, "grams")


def _with_shares_of_hundred(rows: Rows) -> Rows:
    """Ask whether five shares that add up to 100 are per cent."""
    if not set(PRIOR_SHARES) <= set(rows.columns):
        return rows
    total = pl.sum_horizontal(PRIOR_SHARES)
    whole = rows.typed.filter((total - PER_CENT).abs() <= SUM_TOLERANCE_PER_CENT)
    for column in PRIOR_SHARES:
        filled = whole.filter(pl.col(column).is_not_null())
        rows = _with_scaled(rows, column, filled, PER_CENT, "hundredths")
    return rows


def _with_rest_of_shares(rows: Rows) -> Rows:
    """Take shares left empty as 0 where the others add up to 1: nothing is left for them."""
    given = [name for name in PRIOR_SHARES if name in rows.columns]
    if not given:
        return rows
    # a cell that could not be read is not empty: its row is refused
    all_read = pl.all_horizontal(
        (rows.text[name].is_null() | rows.typed[name].is_not_null()).alias(name) for name in given
    )
    is_whole = ((pl.sum_horizontal(given) - 1.0).abs() <= WHOLE_SUM_TOLERANCE) & all_read
    is_short = pl.any_horizontal(pl.col(PRIOR_SHARES).is_null())
    short_count = rows.typed.filter(is_whole & is_short).height
    if not short_count:
        return rows
    shares = {name: pl.col(name).fill_null(0.0) for name in PRIOR_SHARES}
    note = say("rows.shares_filled", short_count, place=rows.source.place)
    return _with_shares(rows, is_whole, shares, note)


def _with_main_route(rows: Rows) -> Rows:
    """Take where most scraps went for where all went, in answers that give no shares."""
    if MAIN_ROUTE not in rows.columns:
        return rows
    given = [rows.text[name].is_null() for name in PRIOR_SHARES if name in rows.columns]
    is_alone = pl.all_horizontal(rows.typed[MAIN_ROUTE].is_not_null(), *given)
    count = rows.typed.filter(is_alone).height
    if not count:
        return rows
    route = rows.typed[MAIN_ROUTE].cast(pl.String)
    shares = {
        name: pl.lit((route == one).cast(pl.Float64))
        for one, name in zip(PRIOR_ROUTES, PRIOR_SHARES, strict=True)
    }
    note = say("rows.main_route", count, place=rows.source.place)
    return _with_shares(rows, is_alone, shares, note)


def _with_shares(rows: Rows, chosen: pl.Expr, shares: Mapping[str, pl.Expr], note: str) -> Rows:
    filled = [
        pl.when(chosen).then(share).otherwise(pl.col(name)).alias(name)
        for name, share in shares.items()
    ]
    # columns that the file lacks are written as well, or the record would keep the old share
    lacking = tuple(name for name in shares if name not in rows.columns)
    typed = rows.typed.with_columns(filled)
    return replace(rows, filled=(*rows.filled, *lacking), typed=typed, notes=(*rows.notes, note))


def _with_scaled(rows: Rows, column: str, cells: pl.DataFrame, divisor: float, kind: str) -> Rows:
    scaled = cells.select("row_number", (pl.col(column) / divisor).alias("value"))
    return with_doubtful(rows, column, scaled, kind)


def _with_far_days(rows: Rows, column: str) -> Rows:
    """Ask for days far outside the years of the program: a digit may be wrong."""
    first, last = rows.context.years
    earliest = first.replace(year=first.year - FAR_YEARS)
    latest = last.replace(year=last.year + FAR_YEARS, day=min(last.day, 28))
    is_possible = pl.col(column).is_between(FIRST_DATE, LAST_DATE)
    far = rows.typed.filter(is_possible & ~pl.col(column).is_between(earliest, latest))
    as_is = far.select("row_number", pl.col(column).alias("value"))
    return with_doubtful(rows, column, as_is, "far_date")


def with_doubtful(
    rows: Rows, column: str, values: pl.DataFrame, kind: str, instead: str = ""
) -> Rows:
    """Propose values in the place of those that were read."""
    if values.is_empty():
        return rows
    cells = (
        rows.cells(column)
        .select("row_number", pl.col("value").fill_null("").alias("found"))
        .join(values, on="row_number", how="inner")
        .with_columns(pl.lit(kind).alias("kind"))
    )
    return with_values(rows, column, cells, instead)
