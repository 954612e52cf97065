"""What a column expects, and what to write instead of what was found."""

from __future__ import annotations

import calendar
import difflib
import re
import unicodedata
from typing import TYPE_CHECKING

import dataframely as dy
import polars as pl
from babel.numbers import list_currencies

from planner.intake.cells import MARK_ADVICE
from planner.intake.vocabulary import SHARE_UNITS, UNITS
from planner.tables import TABLES, codes
from planner.units import PER_CENT
from planner.vetting.workbook import NO_RESULT

if TYPE_CHECKING:
    from planner.intake.country import Country

NOT_KEPT = "the value is not kept, being a personal detail"


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
        return _number_words(declared, unit, country, currency)
    if isinstance(declared, dy.Int64):
        return f"a whole number {_limits(declared, country)}"
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


def _number_words(declared: dy.Float64, unit: str, country: Country, currency: str) -> str:
    if unit in ("share", "probability"):
        low = "above 0 and at most" if declared.min_exclusive is not None else "from 0 to"
        return f"a {unit} {low} 1 (35 per cent is {country.written(0.35)})"
    thing = f"an amount in {currency}" if unit == "currency" else f"a number of {unit}"
    return f"{thing} {_limits(declared, country)}"


def _limits(declared: dy.Float64 | dy.Int64, country: Country) -> str:
    low, high = declared.min or 0, declared.max or 0
    return f"from {country.grouped(low)} to {country.grouped(high)}"


def not_read_reason(table: str, column: str) -> str:
    """Name in few words why a cell could not be read."""
    reasons = {
        dy.Float64: "not a number",
        dy.Int64: "not a whole number",
        dy.Date: "not a date",
        dy.Bool: "neither yes nor no",
        dy.Enum: "no such code",
        dy.String: "a formula's error or a mark",
    }
    return reasons[type(TABLES[table].columns()[column])]


def or_empty(table: str, column: str) -> str:
    """Add that the cell may stay empty, where it may."""
    return " or leave it empty" if TABLES[table].columns()[column].nullable else ""


NEAR_CODE = 0.75
"""Likeness of a code that is proposed; at 0.6 "odeur" would be "other"."""

ADVISED_TEXTS = 500
"""Distinct texts of a column that get advice of their own; more are one fault repeated."""

_MONTHS = 12
_RANGE = re.compile(
    r"(\d+(?:[.,]\d+)?)\s*(?P<first>[^\W\d_]{0,6})\s*(?:-|–|—|to|bis|à|a|/)\s*"
    r"(\d+(?:[.,]\d+)?)\s*(?P<unit>[^\W\d_]{0,12}|%)"
)
_PERCENT = re.compile(r"(\d+(?:[.,]\d+)?)\s*%")
_MARKED = re.compile(
    r"(?P<before>[^\d\s.,+-]*)\s*(?P<sign>[+-]?)\s*(?P<figure>[\d.,][\d.,\s'’]*?)\s*"
    r"(?P<after>(?:[^\d\s.,]+\d?)?)\.?"
)
_SERIAL = re.compile(r"\d{5}(\.\d+)?")
_DAY = re.compile(r"(\d{1,4})[-/. ]\s?(\d{1,2})[-/. ]\s?(\d{2,4})\.?")


def advice(table: str, column: str, country: Country, found: pl.Series) -> pl.Expr:
    """Say what to write instead of each text of a column that could not be read.

    Parameters
    ----------
    table, column
        Column of planner.tables; the expression reads the text column ``value``.
    country
        How numbers and dates are written.
    found
        Texts that could not be read.
    """
    texts = found.unique(maintain_order=True).drop_nulls().head(ADVISED_TEXTS).to_list()
    plain = pl.lit(_plain(table, column))
    by_text = {text: _advice_of(table, column, country, text) for text in texts}
    by_text = {text: instead for text, instead in by_text.items() if instead}
    if not by_text:
        return plain
    return pl.col("value").replace_strict(by_text, default=plain, return_dtype=pl.String)


def _plain(table: str, column: str) -> str:
    rest = or_empty(table, column)
    words = {
        dy.Float64: "Write one number",
        dy.Int64: "Write one whole number",
        dy.Date: "Write it so",
        dy.Bool: "Write one of the two",
        dy.Enum: f"Say in program.toml, under [synonyms.{column}], what it means; or write one",
        dy.String: "Write the text itself",
    }
    return f"{words[type(TABLES[table].columns()[column])]}{rest}."


def _advice_of(table: str, column: str, country: Country, text: str) -> str:
    """Say what to write instead of one text; empty where there is nothing to add."""
    declared = TABLES[table].columns()[column]
    rest = or_empty(table, column)
    for mark, instead in MARK_ADVICE.items():
        if text.startswith(mark):
            return instead
    if text == NO_RESULT:
        return f"Open the file in your spreadsheet program and save it, or write the value{rest}."
    if isinstance(declared, dy.Enum):
        return near_code(text, codes(table, column))
    if isinstance(declared, dy.Float64 | dy.Int64):
        return _number_advice(declared, country, text, rest)
    if isinstance(declared, dy.Date):
        return _date_advice(country, text, rest)
    return ""


def near_code(text: str, allowed: tuple[str, ...]) -> str:
    """Ask whether the nearest code is meant; empty where none is near.

    Examples
    --------
    >>> near_code("binns", ("bins", "worms"))
    'Did you mean bins?'
    """
    word = re.sub(r"[\s\-]+", "_", text.lower())
    near = difflib.get_close_matches(word, allowed, n=1, cutoff=NEAR_CODE)
    return f"Did you mean {near[0]}?" if near else ""


def _number_advice(declared: dy.Float64 | dy.Int64, country: Country, text: str, rest: str) -> str:
    ends = _RANGE.fullmatch(text)
    if ends and isinstance(declared, dy.Float64):
        return _middle_advice(declared, country, ends, rest)
    percent = _PERCENT.fullmatch(text)
    if percent and (declared.metadata or {})["unit"] not in SHARE_UNITS:
        return f"A per cent does not say how much. Correct it{rest}."
    if percent:
        share = _figure(percent[1], country) / 100
        return f"Write it as a share, {country.written(share)}."
    marked = _MARKED.fullmatch(text)
    if marked is None or not re.search(r"\d", marked["figure"]):
        return ""
    return _alone_advice(declared, country, marked)


def _alone_advice(declared: dy.Float64 | dy.Int64, country: Country, marked: re.Match[str]) -> str:
    """Advise a number without what stands around it, in the unit of the column."""
    signs = f"{marked['before']} {marked['after']}"
    if (declared.metadata or {})["unit"] == "currency" and _is_money(signs):
        # an amount of our own currency would have been read: taken as it stands it would be wrong
        return OTHER_CURRENCY
    number = _figure(marked["figure"], country) * (-1 if marked["sign"] == "-" else 1)
    unit = UNITS.get(marked["after"].lower())
    if unit and unit.column_unit == (declared.metadata or {})["unit"]:
        number = number * unit.times / unit.divisor
    elif unit and isinstance(declared, dy.Float64):
        return ""
    if isinstance(declared, dy.Int64) and number != round(number):
        return ""
    is_bare = re.fullmatch(r"\d+[.,]\d+", marked["figure"]) is not None
    is_alone = is_bare and not marked["before"] and not marked["after"]
    alone = "" if is_alone else " the number alone,"
    return f"Write{alone} {country.written(number)}." if _is_within(declared, number) else ""


OTHER_CURRENCY = (
    "It is in another currency: ask for the amount in the council's, or convert it at the rate "
    "that your finance office names."
)


def _is_money(text: str) -> bool:
    """Tell whether a text next to a number names a currency, by its sign or its three letters."""
    has_sign = any(unicodedata.category(sign) == "Sc" for sign in text)
    return has_sign or bool({word.upper() for word in re.findall(r"\w+", text)} & list_currencies())


def _middle_advice(declared: dy.Float64, country: Country, ends: re.Match[str], rest: str) -> str:
    """Advise the middle of a range, in the unit of the column."""
    middle = (_figure(ends[1], country) + _figure(ends[3], country)) / 2
    middle *= _factor(declared, ends["unit"])
    if not _is_within(declared, middle):
        return ""
    otherwise = f", or{rest.removeprefix(' or')}" if rest else ""
    return f"Write the middle, {country.written(middle)}{otherwise}."


def _factor(declared: dy.Float64 | dy.Int64, word: str) -> float:
    """By what a number with that unit is multiplied; 1 where the unit tells nothing."""
    unit = UNITS.get(word.lower())
    if word == "%" and (declared.metadata or {})["unit"] in SHARE_UNITS:
        return 1.0 / PER_CENT
    is_fitting = unit is not None and unit.column_unit == (declared.metadata or {})["unit"]
    return unit.times / unit.divisor if unit is not None and is_fitting else 1.0


def _is_within(declared: dy.Float64 | dy.Int64, number: float) -> bool:
    """Tell whether the column may hold a number that is to be advised."""
    is_low = declared.min is not None and number < declared.min
    is_high = declared.max is not None and number > declared.max
    return not is_low and not is_high


def _figure(text: str, country: Country) -> float:
    """Read a number whose signs are not the country's, where they tell what they are."""
    bare = re.sub(r"[\s'’]", "", text).strip(".,")
    signs = [sign for sign in bare if sign in ".,"]
    is_group = bool(signs) and signs[0] != country.decimal and re.search(r"[.,]\d{3}$", bare)
    if len(set(signs)) == 1 and (len(signs) > 1 or is_group):
        signs = []
    decimal = signs[-1] if signs else ""
    whole, _, fraction = bare.rpartition(decimal) if decimal else (bare, "", "")
    return float(f"{re.sub('[.,]', '', whole) or 0}.{fraction or 0}")


def _date_advice(country: Country, text: str, rest: str) -> str:
    if _SERIAL.fullmatch(text):
        return f"Format the cell as a date{rest}."
    parts = _DAY.fullmatch(text)
    if parts is None:
        return ""
    order = "ymd" if len(parts[1]) == len("2025") else country.date_order
    if order == "ymd" and len(parts[1]) != len("2025"):
        return ""
    of = dict(zip(order, (int(part) for part in parts.groups()), strict=True))
    if not 1 <= of["m"] <= _MONTHS:
        first = {"dmy": "the day comes first here", "mdy": "the month comes first here"}
        place = first.get(order, "the year comes first here")
        return f"There is no month {of['m']}; {place}. Correct it{rest}."
    year = of["y"] if of["y"] > 99 else 2000 + of["y"]
    if not 1 <= of["d"] <= calendar.monthrange(max(year, 1), of["m"])[1]:
        return f"There is no such day; {calendar.month_name[of['m']]} {year} has " + (
            f"{calendar.monthrange(max(year, 1), of['m'])[1]} days. Correct it{rest}."
        )
    return ""
