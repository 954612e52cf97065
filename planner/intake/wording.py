"""What a column expects, and what to write instead of what was found."""

from __future__ import annotations

import difflib
import re
from typing import TYPE_CHECKING

import dataframely as dy
import polars as pl

from planner.tables import TABLES, codes

if TYPE_CHECKING:
    from planner.intake.country import Country

NOT_KEPT = "the value is not kept, being a personal detail"
_RANGE = r"^(\d+(?:[.,]\d+)?)\s*(?:-|–|—|to|bis|à|a)\s*(\d+(?:[.,]\d+)?)$"
_PERCENT = r"^(\d+(?:[.,]\d+)?)\s*%$"
_WITH_UNIT = r"^([+-]?\d+(?:[.,]\d+)*)\s*[a-zA-Zµ°/£€$]+\.?\d?$"
_OTHER_MARK = r"^[+-]?\d+[.,]\d+$"
_NEAR_LIMIT = 200


def expected(table: str, column: str, country: Country, currency: str) -> str:
    """Say in words what a column may hold.

    Examples
    --------
    >>> from planner.intake.country import country
    >>> expected("weighings", "fed_kg", country("en_AU"), "AUD")
    'a number of kg from 0 to 60'
    """
    declared = TABLES[table].columns()[column]
    unit = (declared.metadata or {})["unit"]
    if isinstance(declared, dy.Float64):
        return _number_words(declared, unit.replace("currency", currency), country)
    if isinstance(declared, dy.Int64):
        return f"a whole number from {declared.min:,} to {declared.max:,}".replace(",", " ")
    if isinstance(declared, dy.Date):
        return f"a date written as {country.date_example} or 2025-03-04"
    if isinstance(declared, dy.Bool):
        return "yes or no"
    if isinstance(declared, dy.Enum):
        return f"one of {', '.join(codes(table, column))}"
    if isinstance(declared, dy.String):
        meaning = (declared.metadata or {})["meaning"]
        return f"{meaning}, at most {declared.max_length} characters"
    message = f"{table}.{column}: no words for {type(declared).__name__}"
    raise TypeError(message)


def _number_words(declared: dy.Float64, unit: str, country: Country) -> str:
    if unit in ("share", "probability"):
        low = "above 0 and at most" if declared.min_exclusive is not None else "from 0 to"
        percent = f"0{country.decimal}35"
        return f"a {unit} {low} 1 (35 per cent is {percent})"
    limits = f"from {declared.min:,.10g} to {declared.max:,.10g}".replace(",", " ")
    return f"a number of {unit} {limits}"


def not_read_reason(table: str, column: str) -> str:
    """Name in few words why a cell could not be read."""
    reasons = {
        dy.Float64: "not a number",
        dy.Int64: "not a whole number",
        dy.Date: "not a date",
        dy.Bool: "neither yes nor no",
        dy.Enum: "no such code",
        dy.String: "a formula's error",
    }
    return reasons[type(TABLES[table].columns()[column])]


def or_empty(table: str, column: str) -> str:
    """Add that the cell may stay empty, where it may."""
    return " or leave it empty" if TABLES[table].columns()[column].nullable else ""


def advice(table: str, column: str, country: Country, found: pl.Series) -> pl.Expr:
    """Say what to write instead of each text of a column that could not be read.

    Parameters
    ----------
    table, column
        Column of planner.tables; the expression reads the text column ``value``.
    country
        How numbers are written.
    found
        Texts that could not be read.
    """
    declared = TABLES[table].columns()[column]
    rest = or_empty(table, column)
    if isinstance(declared, dy.Enum):
        return _near_code(codes(table, column), found, rest)
    if isinstance(declared, dy.Float64 | dy.Int64):
        return _number_advice(
            pl.col("value"), country, rest, is_whole=isinstance(declared, dy.Int64)
        )
    if isinstance(declared, dy.Date):
        serial = pl.col("value").str.contains(r"^\d{5}(\.\d+)?$")
        as_date = pl.lit(f"Format the cell as a date{rest}.")
        return pl.when(serial).then(as_date).otherwise(pl.lit(f"Write it so{rest}."))
    if isinstance(declared, dy.String):
        return pl.lit(f"Write the text itself{rest}.")
    return pl.lit(f"Write one of the two{rest}.")


def _number_advice(value: pl.Expr, country: Country, rest: str, *, is_whole: bool) -> pl.Expr:
    ends = value.str.extract_groups(_RANGE)
    low, high = (_figure(ends.struct.field(part)) for part in ("1", "2"))
    middle = pl.lit(None, dtype=pl.String) if is_whole else _written((low + high) / 2, country)
    of_hundred = _written(_figure(value.str.extract(_PERCENT)) / 100, country)
    alone = value.str.extract(_WITH_UNIT)
    marked = pl.when(value.str.contains(_OTHER_MARK)).then(_written(_figure(value), country))
    return pl.coalesce(
        "Write the middle, " + middle + (f", or{rest.removeprefix(' or')}." if rest else "."),
        "Write it as a share, " + of_hundred + ".",
        "Write the number alone, " + alone + ".",
        ("Write " + marked + ".") if not is_whole else pl.lit(None, dtype=pl.String),
        pl.lit(f"Write one {'whole ' if is_whole else ''}number{rest}."),
    )


def _figure(text: pl.Expr) -> pl.Expr:
    return text.str.replace(",", ".").cast(pl.Float64, strict=False)


def _written(number: pl.Expr, country: Country) -> pl.Expr:
    text = number.round(6).cast(pl.String).str.replace(r"\.0$", "")
    return text.str.replace(".", country.decimal, literal=True)


def _near_code(allowed: tuple[str, ...], found: pl.Series, rest: str) -> pl.Expr:
    """Name the nearest code for each distinct text."""
    texts = found.unique().drop_nulls().head(_NEAR_LIMIT).to_list()
    folded = {text: re.sub(r"[\s\-]+", "_", text.lower()) for text in texts}
    near = {text: difflib.get_close_matches(name, allowed, n=1) for text, name in folded.items()}
    hints = {text: f"Did you mean {names[0]}?" for text, names in near.items() if names}
    plain = pl.lit(f"Write one of them{rest}.")
    if not hints:
        return plain
    return pl.col("value").replace_strict(hints, default=plain, return_dtype=pl.String)
