"""What a column expects, and what to write instead of what was found."""

from __future__ import annotations

import calendar
import datetime as dt
import re
import string
import unicodedata
from functools import lru_cache
from typing import TYPE_CHECKING

import dataframely as dy
import polars as pl
from babel.numbers import list_currencies

from planner.errors import LONGEST_NEAR
from planner.intake.cells import MARK_ADVICE
from planner.intake.meaning import SHARE_UNITS, UNITS
from planner.messages import FIRST_LANGUAGE, did_you_mean, in_english, keys, officer_messages, say
from planner.tables import TABLES, codes
from planner.tables.fields import declared_unit
from planner.units import PER_CENT
from planner.vetting.workbook import NO_RESULT

if TYPE_CHECKING:
    from planner.intake.cells import Country
    from planner.intake.meaning import Unit
    from planner.messages import Messages

KINDS = {
    dy.Float64: "number",
    dy.Int64: "count",
    dy.Date: "date",
    dy.Bool: "flag",
    dy.Enum: "code",
    dy.String: "text",
}
"""Names of the types of columns in the message files."""

_UNIT_KEYS = {"°C": "celsius", "bins or kg": "bins_or_kg"}
"""Names of units in the message files, where a unit is not its own."""


def said(key: str, words: Messages | None = None, /, **parts: str | pl.Expr) -> pl.Expr:
    """Say a message for each row, to the officer unless said; braces are filled from columns."""
    texts = [
        (literal, parts[name] if name else "")
        for literal, name, _, _ in string.Formatter().parse((words or officer_messages()).text(key))
    ]
    pieces = [
        piece if isinstance(piece, pl.Expr) else pl.lit(piece)
        for pair in texts
        for piece in pair
        if not isinstance(piece, str) or piece
    ]
    return pl.concat_str(pieces)


def shown_reasons(reasons: pl.Series, words: Messages | None = None) -> dict[str, str]:
    """Say each reason in the officer's language unless said; they are stored in English.

    Examples
    --------
    >>> shown_reasons(pl.Series(["not among households"]))
    {'not among households': 'not among households'}
    """
    texts, words = reasons.unique().drop_nulls().to_list(), words or officer_messages()
    if words.language == FIRST_LANGUAGE:
        return {text: text for text in texts}
    return {text: _shown(text, words) for text in texts}


def _shown(reason: str, words: Messages) -> str:
    for key, form in _english_reasons():
        found = form.fullmatch(reason)
        if found:
            inner = found.groupdict()
            if "reason" in inner:
                inner["reason"] = _shown(inner["reason"], words)
            return words.say(key, **inner)
    return reason


@lru_cache(maxsize=1)
def _english_reasons() -> list[tuple[str, re.Pattern[str]]]:
    """List the reasons as patterns, the one that is put round others first."""
    forms = [
        (key, re.sub(r"\\{(\w+)\\}", r"(?P<\1>.+)", re.escape(in_english(key, **AS_THEY_ARE))))
        for key in keys("reason.")
    ]
    forms.sort(key=lambda pair: pair[0] != NOT_KEPT)
    return [(key, re.compile(form)) for key, form in forms]


NOT_KEPT = "reason.not_kept"
"""What is put round the reason of a cell with personal details."""

AS_THEY_ARE = {"reason": "{reason}", "table": "{table}", "signs": "{signs}"}
"""Braces of reasons, filled with themselves."""


def expected(table: str, column: str, country: Country, currency: str) -> str:
    """Say in words what a column may hold.

    Examples
    --------
    >>> from planner.intake.cells import country
    >>> expected("weighings", "fed_kg", country("en_AU"), "AUD")
    'a number of kg from 0 to 60'
    """
    declared = TABLES[table].columns()[column]
    kind = KINDS[type(declared)]
    if isinstance(declared, dy.Float64 | dy.Int64):
        low, high = country.grouped(declared.min or 0), country.grouped(declared.max or 0)
        limits = {"low": low, "high": high}
        if kind == "count":
            return say("expected.count", **limits)
        unit = declared_unit(declared)
        if unit == "currency":
            return say("expected.amount", currency=currency, **limits)
        if unit in SHARE_UNITS:
            above = "_above" if getattr(declared, "min_exclusive", None) is not None else ""
            return say(f"expected.{unit}{above}", example=country.written(0.35))
        return say(f"expected.number.{_UNIT_KEYS.get(unit, unit)}", **limits)
    if isinstance(declared, dy.String):
        return say("expected.text", letters=declared.max_length or 0)
    if kind == "date" and country.date_example == "2025-03-04":
        kind = "iso_date"
    filled = {"example": country.date_example, "codes": ", ".join(codes(table, column))}
    return say(f"expected.{kind}", **filled)


def not_read_reason(table: str, column: str) -> str:
    """Name in few words why a cell could not be read."""
    return in_english(f"reason.not_a_{KINDS[type(TABLES[table].columns()[column])]}")


def or_empty(table: str, column: str) -> str:
    """Add that the cell may stay empty, where it may."""
    return say("advice.or_empty") if TABLES[table].columns()[column].nullable else ""


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
    r"(?P<after>(?:[^\d\s.,+/–—-]+\d?)?)\.?"
)
_SERIAL = re.compile(r"\d{5}(\.\d+)?")
_DAY = re.compile(r"(\d{1,4})[-/. ]\s?(\d{1,2})[-/. ]\s?(\d{2,4})\.?")


def advice(
    table: str, column: str, country: Country, found: pl.Series, unit: Unit | None = None
) -> pl.Expr:
    """Say what to write instead of each text that could not be read, in the unit of its heading."""
    texts = found.unique(maintain_order=True).drop_nulls().head(ADVISED_TEXTS).to_list()
    kind, rest = KINDS[type(TABLES[table].columns()[column])], or_empty(table, column)
    plain = pl.lit(say(f"advice.write_{kind}", column=column, rest=rest) + ".")
    by_text = {text: _advice_of(table, column, country, text, unit) for text in texts}
    by_text = {text: instead for text, instead in by_text.items() if instead}
    if not by_text:
        return plain
    return pl.col("value").replace_strict(by_text, default=plain, return_dtype=pl.String)


def _advice_of(table: str, column: str, country: Country, text: str, heading: Unit | None) -> str:
    """Say what to write instead of one text; empty where there is nothing to add."""
    declared = TABLES[table].columns()[column]
    rest = or_empty(table, column)
    for mark, key in MARK_ADVICE.items():
        if text.startswith(mark):
            return say(key)
    if text == NO_RESULT:
        return say("advice.no_result", rest=rest)
    if isinstance(declared, dy.Enum):
        return near_code(text, codes(table, column))
    if isinstance(declared, dy.Float64 | dy.Int64):
        return _number_advice(declared, country, text, rest, heading)
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
    word = re.sub(r"[\s\-]+", "_", text[:LONGEST_NEAR].lower())
    return did_you_mean(word, allowed, least=NEAR_CODE)


def _number_advice(
    declared: dy.Float64 | dy.Int64,
    country: Country,
    text: str,
    rest: str,
    heading: Unit | None,
) -> str:
    ends = _RANGE.fullmatch(text)
    if ends and isinstance(declared, dy.Float64):
        return _middle_advice(declared, country, ends, heading, may_be_empty=bool(rest))
    percent = _PERCENT.fullmatch(text)
    if percent and declared_unit(declared) not in SHARE_UNITS:
        return say("advice.per_cent_of_what", rest=rest)
    if percent:
        share = _figure(percent[1], country) / 100
        return say("advice.as_share", number=country.written(share))
    marked = _MARKED.fullmatch(text)
    if marked is None or not re.search(r"\d", marked["figure"]):
        return ""
    return _alone_advice(declared, country, marked, heading)


def _alone_advice(
    declared: dy.Float64 | dy.Int64,
    country: Country,
    marked: re.Match[str],
    heading: Unit | None,
) -> str:
    """Advise a number without what stands around it, in the unit of the column."""
    signs = f"{marked['before']} {marked['after']}"
    if declared_unit(declared) == "currency" and _is_money(signs):
        # an amount of our own currency would have been read: taken as it stands it would be wrong
        return say("advice.other_currency")
    if declared_unit(declared) == "currency" and re.search(r"[^\W\d_]", signs):
        return ""  # "CR" behind an amount may turn it round
    number = _figure(marked["figure"], country) * (-1 if marked["sign"] == "-" else 1)
    unit = UNITS.get(marked["after"].lower())
    if unit and unit.column_unit == declared_unit(declared):
        number = number * unit.times / unit.divisor / _times(heading)
    elif unit and isinstance(declared, dy.Float64):
        return ""
    if isinstance(declared, dy.Int64) and number != round(number):
        return ""
    is_bare = re.fullmatch(r"\d+[.,]\d+", marked["figure"]) and not signs.strip()
    key = "advice.number" if is_bare else "advice.number_alone"
    is_within = _is_within(declared, number * _times(heading))
    return say(key, number=country.written(number)) if is_within else ""


def _is_money(text: str) -> bool:
    """Tell whether a text next to a number names a currency, by its sign or its three letters."""
    has_sign = any(unicodedata.category(sign) == "Sc" for sign in text)
    return has_sign or bool({word.upper() for word in re.findall(r"\w+", text)} & list_currencies())


def _middle_advice(
    declared: dy.Float64,
    country: Country,
    ends: re.Match[str],
    heading: Unit | None,
    *,
    may_be_empty: bool,
) -> str:
    """Advise the middle of a range, in the unit of the heading."""
    middle = (_figure(ends[1], country) + _figure(ends[3], country)) / 2
    factor = _factor(declared, ends["unit"])
    middle *= factor / _times(heading) if factor else 1.0
    if not _is_within(declared, middle * _times(heading)):
        return ""
    key = "advice.middle_or_empty" if may_be_empty else "advice.middle"
    return say(key, number=country.written(middle))


def _times(unit: Unit | None) -> float:
    return unit.times / unit.divisor if unit else 1.0


def _factor(declared: dy.Float64 | dy.Int64, word: str) -> float | None:
    """By what a number with that unit is multiplied; None where the unit tells nothing."""
    unit = UNITS.get(word.lower())
    if word == "%" and declared_unit(declared) in SHARE_UNITS:
        return 1.0 / PER_CENT
    is_fitting = unit is not None and unit.column_unit == declared_unit(declared)
    return _times(unit) if is_fitting else None


def _is_within(declared: dy.Float64 | dy.Int64, number: float) -> bool:
    """Tell whether the column may hold a number that is to be advised."""
    is_above = declared.min is None or number >= declared.min
    return is_above and (declared.max is None or number <= declared.max)


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
        return say("advice.format_as_date", rest=rest)
    parts = _DAY.fullmatch(text)
    if parts is None:
        return ""
    order = "ymd" if len(parts[1]) == len("2025") else country.date_order
    if order == "ymd" and len(parts[1]) != len("2025"):
        return ""
    of = dict(zip(order, (int(part) for part in parts.groups()), strict=True))
    if not 1 <= of["m"] <= _MONTHS:
        first = {"d": "day", "m": "month", "y": "year"}[order[0]]
        return say(f"advice.no_month_{first}_first", month=str(of["m"]), rest=rest)
    year = max(of["y"] if of["y"] > 99 else 2000 + of["y"], 1)
    days = calendar.monthrange(year, of["m"])[1]
    if not 1 <= of["d"] <= days:
        month = officer_messages().month(dt.date(year, of["m"], 1))
        return say("advice.no_day", month=month, days=days, rest=rest)
    return ""
