"""Cells that a person reads at once: units, currencies, per cent, month names, ticks, brackets.

What can mean one thing alone is read and noted. What could be misread is proposed once for
the column and read when the officer has confirmed it; until then its rows are refused.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING

import dataframely as dy
import polars as pl
from babel.numbers import get_currency_name, get_currency_symbol

from planner.intake.cells import (
    has_no_third_decimal,
    plain_words,
    thousands_by_decimal_sign,
)
from planner.intake.meaning import SHARE_UNITS, UNITS, folded, folded_text
from planner.messages import say
from planner.tables import TABLES, codes
from planner.tables.fields import declared_unit
from planner.tables.purchases import BINS_OR_KG
from planner.units import DAYS_PER_WEEK

if TYPE_CHECKING:
    from collections.abc import Collection

    from planner.intake.cells import Country
    from planner.intake.meaning import Unit
    from planner.intake.rows import Context

SCHEMA = {
    "row_number": pl.Int64,
    "column_name": pl.String,
    "kind": pl.String,
    "found": pl.String,
    "read_as": pl.String,
}
"""One cell that was read in such a way."""

CROSSES = ("✗", "✘", "☒", "❌")
TICKS = {"✓": True, "✔": True, "☑": True, "√": True, "✅": True, "☐": False}
TICKS |= dict.fromkeys(CROSSES, False)
"""Marks in boxes; a cross may also be a yes."""

_FIRST_SERIAL, _LAST_SERIAL = 36_526, 73_050
"""Serial numbers of 1 January 2000 and 31 December 2099."""

_WHOLE = (
    r"^(?P<s1>[+-]?)\s*(?P<before>[^\d\s.,+()-]{1,12})?\s*(?P<s2>[+-]?)\s*"
    r"(?P<figures>\d[\d\s.,'’]*|[.,]\d+)\s*(?P<after>[^\d\s.,+()-][^\d()]{0,24})?$"
)
_BRACKETS = r"^([^\d()]*)\(([^()]*\d[^()]*)\)([^\d()]*)$"
_DAY_FIRST = (
    r"^(?:\p{L}+\.?,?\s+)?(?P<d>\d{1,2})(?:er|\.|st|nd|rd|th|º|ª|°)?[\s\-]+(?:de\s+|of\s+)?"
    r"(?P<m>\p{L}+)\.?,?[\s\-]+(?:de\s+|del\s+)?(?P<y>\d{4}|\d{2})$"
)
_MONTH_FIRST = r"^(?P<m>\p{L}+)\.?\s+(?P<d>\d{1,2})(?:st|nd|rd|th)?,?\s+(?P<y>\d{4})$"


@dataclass(frozen=True)
class Proposal:
    """A way of reading a column that could be wrong."""

    # column, and one of DOUBTFUL
    table: str
    column: str
    kind: str
    count: int
    examples: tuple[str, ...]
    found: str = ""  # the name that is near another one; each is confirmed by itself

    @property
    def name(self) -> str:
        """Name it as ``--accept`` does."""
        return f"{self.table}.{self.column}.{self.found or self.kind}"

    def in_words(self) -> str:
        """Say what would be read how."""
        return say(
            "reading.cells",
            self.count,
            place=self.table,
            column=self.column,
            way=say(f"reading.{self.kind}"),
            examples="; ".join(self.examples),
        )


def read_again(
    texts: pl.Series, table: str, column: str, context: Context, unit: Unit | None
) -> pl.DataFrame:
    """Read texts that are no plain number, date, or yes and no, as a person would.

    Parameters
    ----------
    unit
        Unit that the heading names, for cells that name none.

    Returns
    -------
    pl.DataFrame
        ``found``, ``value`` of the column's type and ``kind``; texts that nobody could
        read for certain are not in it.
    """
    declared = TABLES[table].columns()[column]
    frame = texts.alias("found").to_frame()
    if isinstance(declared, dy.Float64 | dy.Int64):
        read = _numbers(frame, declared, context, unit)
    elif isinstance(declared, dy.Date):
        read = _days(frame, context.country)
    elif isinstance(declared, dy.Bool):
        read = _marks(frame)
    elif isinstance(declared, dy.Enum):
        read = _first_choices(frame, table, column, context)
    else:
        read = frame.clear().with_columns(value=pl.lit(None), kind=pl.lit(None))
    return read.select("found", "value", "kind").filter(
        pl.col("value").is_not_null() & pl.col("kind").is_not_null()
    )


def _numbers(
    frame: pl.DataFrame,
    declared: dy.Float64 | dy.Int64,
    context: Context,
    unit: Unit | None,
) -> pl.DataFrame:
    """Read numbers with units, currency, brackets, or the other sign before the fraction."""
    country = context.country
    text = pl.col("found").str.normalize("NFKC").str.replace_all("\u2212", "-").str.strip_chars()
    is_bracketed = text.str.contains(_BRACKETS)
    bare = text.str.replace(_BRACKETS, "$1$2$3").str.strip_chars()
    is_trailing = bare.str.contains(r"\d\s*-\s*\D*$") & ~bare.str.contains(r"^\s*[+-]")
    bare = pl.when(is_trailing).then(bare.str.replace(r"(\d)\s*-", "$1")).otherwise(bare)
    factors = _factors(declared_unit(declared), context.currency)
    if declared_unit(declared) == BINS_OR_KG and declared.min:
        # a pack is one of what it is sold by
        is_word = bare.str.to_lowercase().is_in(list(factors))
        bare = pl.when(is_word).then(pl.format("1 {}", bare)).otherwise(bare)
    split = frame.with_columns(
        bare.str.strip_chars().str.extract_groups(_WHOLE).alias("parts"),
        is_bracketed.alias("is_bracketed"),
        is_trailing.alias("is_trailing"),
    ).unnest("parts")
    figures = pl.col("figures").str.strip_chars()
    other = _other_sign(figures, country)
    is_thousands = pl.lit(value=False)
    if has_no_third_decimal(declared):
        is_thousands = figures.str.contains(thousands_by_decimal_sign(country))
    whole = figures.str.replace_all(re.escape(country.decimal), "").cast(pl.Float64, strict=False)
    local = pl.when(is_thousands).then(whole).otherwise(_local(figures, country))
    said = pl.concat_str("before", "after", ignore_nulls=True).str.to_lowercase()
    said = said.str.strip_chars(" .")
    default = 1.0 if unit is None else unit.times / unit.divisor
    factor = said.replace_strict({**factors, "": default}, default=None, return_dtype=pl.Float64)
    is_one = pl.col("before").is_null() | pl.col("after").is_null()
    signs = pl.concat_str("s1", "s2", ignore_nulls=True)
    is_negative = pl.col("is_bracketed") | pl.col("is_trailing") | (signs == "-")
    number = pl.coalesce(local, other) * factor * pl.when(is_negative).then(-1.0).otherwise(1.0)
    has_one_sign = signs.str.len_chars() + pl.col("is_bracketed").cast(pl.UInt32) <= 1
    value: pl.Expr = pl.when(is_one & has_one_sign & number.is_finite()).then(number)
    is_free = pl.lit(value=declared_unit(declared) == "currency") & (
        folded_text(pl.col("found")).is_in(plain_words("no_charge"))
    )
    value = pl.when(is_free).then(0.0).otherwise(value)
    if isinstance(declared, dy.Int64):
        value = pl.when(value == value.round(0)).then(value).cast(pl.Int64, strict=False)
    kind = (
        pl.when(is_thousands)
        .then(pl.lit("thousands"))
        .when("is_bracketed")
        .then(pl.lit("brackets"))
        .when("is_trailing")
        .then(pl.lit("trailing_minus"))
        .when(is_free)
        .then(pl.lit("no_charge"))
        .when(local.is_null())
        .then(pl.lit("decimal_sign"))
        .when(said.is_in(list(_PER_CENT)))
        .then(pl.lit("per_cent"))
        .otherwise(pl.lit("unit"))
    )
    return split.with_columns(value.alias("value"), kind.alias("kind"))


def _local(figures: pl.Expr, country: Country) -> pl.Expr:
    groups, decimal = f"[{re.escape(country.groups)}]", re.escape(country.decimal)
    is_local = figures.str.contains(rf"^(\d+|\d{{1,3}}({groups}\d{{3}})+)?({decimal}\d*)?$")
    plain = figures.str.replace_all(groups, "").str.replace(decimal, ".")
    return pl.when(is_local).then(plain).cast(pl.Float64, strict=False)


def _other_sign(figures: pl.Expr, country: Country) -> pl.Expr:
    """Read a point for a comma, or a comma for a point, where it cannot part thousands."""
    sign, group = (r"\.", ",") if country.decimal == "," else (",", r"\.")
    is_other = figures.str.contains(
        rf"^(\d+{sign}(\d{{1,2}}|\d{{4,}})|\d{{1,3}}({group}\d{{3}})+{sign}\d+)$"
    )
    plain = figures.str.replace_all(group, "").str.replace(sign, ".")
    return pl.when(is_other).then(plain).cast(pl.Float64, strict=False)


_PER_CENT = frozenset(["%", "pct", "percent", "per cent", "p. cent", "pour cent", "prozent"])


def _factors(column_unit: str, currency: str) -> dict[str, float]:
    """By what a number with a unit in its cell is multiplied, for each word of the unit."""
    if column_unit in SHARE_UNITS:
        return dict.fromkeys(_PER_CENT, 0.01)
    if column_unit == "currency":
        return dict.fromkeys(currency_words(currency), 1.0)
    counted = plain_words("count") if column_unit in ("count", "days", BINS_OR_KG) else ()
    weeks = plain_words("week") if column_unit == "days" else ()
    wanted = "kg" if column_unit == BINS_OR_KG else column_unit
    units = {word: unit for word, unit in UNITS.items() if unit.column_unit == wanted}
    return {
        **dict.fromkeys(counted, 1.0),
        **dict.fromkeys(weeks, float(DAYS_PER_WEEK)),
        **{word: unit.times / unit.divisor for word, unit in units.items()},
    }


@lru_cache(maxsize=8)
def currency_words(currency: str) -> tuple[str, ...]:
    """List how a currency is written in cells, in lower case.

    Examples
    --------
    >>> {"€", "eur", "euros"} <= set(currency_words("EUR"))
    True
    """
    words = {currency.lower(), get_currency_symbol(currency, "en").lower().lstrip("acnuz")}
    for language in ("en", "fr", "es", "de", "it", "nl", "pt"):
        words.add(get_currency_symbol(currency, language).lower())
        words |= {get_currency_name(currency, n, language).lower() for n in (1, 2)}
        # of "Australian dollars" people write the noun
        words |= {get_currency_name(currency, n, language).lower().split()[-1] for n in (1, 2)}
    return tuple(sorted(word for word in words if word))


def _days(frame: pl.DataFrame, country: Country) -> pl.DataFrame:
    """Read dates with the name of a month, and days that are counted."""
    text = pl.col("found").str.normalize("NFKD").str.replace_all(r"\p{M}", "")
    text = text.str.to_lowercase().str.replace_all(r"\s+", " ").str.strip_chars()
    named = pl.coalesce(_named_day(text, form, country) for form in (_DAY_FIRST, _MONTH_FIRST))
    number = text.str.extract(r"^(\d{5})(?:[.,]0*)?$").cast(pl.Int64, strict=False)
    is_serial = number.is_between(_FIRST_SERIAL, _LAST_SERIAL)
    counted = pl.lit("1899-12-30").str.to_date() + pl.duration(days=number)
    return frame.with_columns(
        pl.coalesce(named, pl.when(is_serial).then(counted)).alias("value"),
        pl.when(named.is_not_null())
        .then(pl.lit("month_name"))
        .otherwise(pl.lit("date_serial"))
        .alias("kind"),
    )


def _named_day(text: pl.Expr, form: str, country: Country) -> pl.Expr:
    parts = text.str.extract_groups(form)
    year, name, day = (parts.struct.field(part) for part in ("y", "m", "d"))
    month = name.replace_strict(country.months, default=None, return_dtype=pl.String)
    century = pl.when(year.str.len_chars() == 2).then("20" + year).otherwise(year)
    written = pl.concat_str(century, month, day.str.zfill(2), separator="-")
    return written.str.to_date("%Y-%m-%d", strict=False)


def words_of_codes(table: str, column: str, context: Context) -> dict[str, str]:
    """For a column of codes, what each known word stands for, in folded form."""
    known = {folded(code): code for code in codes(table, column)}
    return {**known, **context.vocabulary.synonyms.get(column, {})}


def choices_in(text: str, known: Collection[str]) -> list[str]:
    """Part a cell in which a form joins the choices that were ticked.

    Parameters
    ----------
    known
        Folded words that a comma parts from others; a choice may hold one itself.

    Examples
    --------
    >>> choices_in("flies; bad smell", ()), choices_in("Flies, smell", ("flies", "smell"))
    (['flies', 'bad smell'], ['Flies', 'smell'])
    """
    parts, by_comma = re.split(r"\s*[;|\n]\s*", text), re.split(r"\s*,\s*", text)
    if len(parts) == 1 and any(folded(part) in known for part in by_comma):
        parts = by_comma
    return [part for part in parts if part]


def _first_choices(frame: pl.DataFrame, table: str, column: str, context: Context) -> pl.DataFrame:
    """Read the first of several choices in a cell, where all of them are known."""
    known = words_of_codes(table, column, context)
    several = {text: choices_in(text, known) for text in frame["found"]}
    chosen = {text: [known.get(folded(one)) for one in parts] for text, parts in several.items()}
    first = {text: one[0] for text, one in chosen.items() if len(one) > 1 and all(one)}
    allowed = pl.Enum(codes(table, column))
    return frame.with_columns(
        pl.col("found").replace_strict(first, default=None, return_dtype=allowed).alias("value"),
        pl.lit("first_choice").alias("kind"),
    )


def _marks(frame: pl.DataFrame) -> pl.DataFrame:
    mark = pl.col("found").str.replace_all("\ufe0f", "")
    return frame.with_columns(
        mark.replace_strict(TICKS, default=None, return_dtype=pl.Boolean).alias("value"),
        pl.when(mark.is_in(CROSSES)).then(pl.lit("cross")).otherwise(pl.lit("tick")).alias("kind"),
    )
