"""Cells of text as a country writes them: numbers, dates, yes or no, codes; by whole columns."""

from __future__ import annotations

import contextlib
import csv
import datetime as dt
import re
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import babel
import dataframely as dy
import polars as pl
from babel.dates import get_date_format, get_day_names, get_month_names
from babel.numbers import get_decimal_symbol, get_group_symbol

from planner.intake.meaning import unaccented
from planner.intake.sheets import ERROR_TEXT
from planner.tables import TABLES, codes, references
from planner.tables.fields import declared_unit


@cache
def _plain_words() -> dict[tuple[str, str], tuple[str, ...]]:
    found: dict[tuple[str, str], tuple[str, ...]] = {}
    with Path(__file__).with_name("plain_words.csv").open(encoding="utf-8", newline="") as file:
        for row in csv.DictReader(file):
            place = (row["kind"], row["language"])
            found[place] = (*found.get(place, ()), row["word"])
    return found


def plain_words(kind: str, language: str = "") -> tuple[str, ...]:
    """List the words of a kind: yes and no by language; those of totals, counts and the like.

    Examples
    --------
    >>> plain_words("yes", "fr")
    ('oui', 'o', 'vrai')
    """
    return _plain_words().get((kind, language), ())


LONG_NAME = 5
"""Letters of a month's name beyond which its first four and five are read too."""

MONTH_LANGUAGES = ("en", "fr", "es", "de")
"""Languages whose names of months are read everywhere: none stands for two months."""

_SPACES = " \u00a0\u202f'’"


@dataclass(frozen=True)
class Country:
    """Signs and words of one country."""

    decimal: str  # sign before the fraction
    group: str  # sign between thousands
    date_order: str  # order of day, month and year in short dates: "dmy", "mdy" or "ymd"
    date_sign: str  # sign between them
    # words read as true and as false, in lower case
    yes: tuple[str, ...]
    no: tuple[str, ...]
    # names of months and their short forms in MONTH_LANGUAGES, in lower case without accents and
    # points; each with its number in two digits
    months: dict[str, str]

    @property
    def groups(self) -> str:
        """Signs that may stand between thousands."""
        others = "".join(sign for sign in self.group if sign not in _SPACES)
        return others + _SPACES

    @property
    def date_example(self) -> str:
        """Write 4 March 2025 as the country does."""
        return self.date_text(dt.date(2025, 3, 4))

    def date_text(self, day: dt.date) -> str:
        """Write a day as the country does."""
        parts = {"d": f"{day.day:02d}", "m": f"{day.month:02d}", "y": f"{day.year:04d}"}
        return self.date_sign.join(parts[part] for part in self.date_order)

    def written(self, number: float) -> str:
        """Write a number with the country's decimal sign and none between thousands."""
        text = f"{number:.6f}".rstrip("0").rstrip(".")
        return text.replace(".", self.decimal)

    def grouped(self, number: float) -> str:
        """Write a limit with the country's sign between thousands."""
        text = f"{number:,.10g}"
        return text.replace(",", "\0").replace(".", self.decimal).replace("\0", self.group)


@cache
def country(locale: str) -> Country:
    """Read a country's signs and words.

    References
    ----------
    Unicode Common Locale Data Repository, through the babel package.

    Examples
    --------
    >>> country("de_DE").decimal, country("en_US").date_order
    (',', 'mdy')
    """
    locale_read = babel.Locale.parse(locale)
    pattern = get_date_format("short", locale=locale_read).pattern
    order = "".join(dict.fromkeys(re.sub(r"[^dMy]", "", pattern))).lower()
    signs = re.findall(r"[-/.]", pattern)
    return Country(
        decimal=get_decimal_symbol(locale_read),
        group=get_group_symbol(locale_read),
        date_order=order if order in ("dmy", "mdy") else "ymd",
        date_sign=signs[0] if signs and order in ("dmy", "mdy") else "-",
        yes=_yes_or_no("yes", locale_read.language),
        no=_yes_or_no("no", locale_read.language),
        months={name: month for one in MONTH_LANGUAGES for name, month in _months(one).items()},
    )


def _yes_or_no(kind: str, language: str) -> tuple[str, ...]:
    """List the words of every language; letters alone count in the country's own and in English."""
    words = {
        word: None
        for (one, of), listed in _plain_words().items()
        for word in listed
        if one == kind and (of in ("en", language) or len(word) > 1)
    }
    return tuple(words)


def _months(language: str) -> dict[str, str]:
    names = {}
    for context in ("format", "stand-alone"):
        for width in ("wide", "abbreviated"):
            for number, name in get_month_names(width, context, language).items():
                names[unaccented(name.lower()).strip(". ")] = f"{number:02d}"
    # "sept" beside "sep", and Quebec's "juill" beside "juil", as people cut the longer names
    long = {name: number for name, number in names.items() if len(name) > LONG_NAME}
    more = {name[:cut]: number for name, number in long.items() for cut in (4, LONG_NAME)}
    return {**more, **names}


LAST_DAY = 31


def days_named(
    text: str, country: Country, years: tuple[dt.date, dt.date]
) -> tuple[list[dt.date], bool]:
    """List the days that the name of a sheet may mean, as "Mon 3 Mar"; tell whether it is one.

    Without a year it is one of the program's `years`; a day of the week that is named tells which.
    """
    spaced = re.sub(r"\b(20\d\d)(\d\d)(\d\d)\b", r"\1 \2 \3", unaccented(text).lower())
    words = re.findall(r"[^\W\d_]{2,}|\d+", spaced)
    numbers = [int(word) for word in words if word.isdigit()]
    names = [word for word in words if word in country.months]
    # "mar" is a day of the week and a month: the month stands last
    others = [word for word in words if word not in names[-1:]] + names[:-1]
    if len(names) > 0 and len(numbers) in (1, 2):
        numbers.insert(1, int(country.months[names[-1]]))
        order = "ymd" if numbers[0] > LAST_DAY else "dmy"
    elif len(numbers) == 2:
        order = country.date_order.replace("y", "")
    else:
        order = "ymd" if numbers[:1] > [LAST_DAY] else country.date_order
    first, last = years
    of = dict(zip(order, numbers, strict=False)) if len(numbers) in (2, 3) else {}
    whole = [of["y"] % 100 + 2000] if "y" in of else range(first.year, last.year + 1)
    told = [{n for name, n in _days_of_week() if name.startswith(word)} for word in others]
    found = []
    for year in whole if {"m", "d"} <= {*of} and ("y" in of or names or any(told)) else ():
        with contextlib.suppress(ValueError):
            found.append(dt.date(year, of["m"], of["d"]))
    if "y" not in of:
        found = [day for day in found if first <= day <= last]
    fitting = [day for day in found if all(day.weekday() in one for one in told if one)]
    return fitting or found, len(fitting) == 1


@cache
def _days_of_week() -> list[tuple[str, int]]:
    named = (get_day_names("wide", "format", language) for language in MONTH_LANGUAGES)
    return [(unaccented(name.lower()), number) for one in named for number, name in one.items()]


_AFTER_A_WORD = " .!,;"
"""What people write after a word; a question mark is a doubt and stays."""

MOVED = "#MOVED"
"""Before the cells of a row whose cells have moved to the right."""

TWICE = "#TWICE"
"""Before a key that an earlier row of the same file has, with other values."""

UNCLEAR = " ?"
"""After a number that a text file and a workbook would read in two ways."""

MARKED_TEXT = rf"^(?:{MOVED}|{TWICE})\b"

MARK_ADVICE = {MOVED: "advice.moved", TWICE: "advice.twice"}
"""What to do about each mark, by its key in the message files."""

_PLAIN_NUMBER = r"^[+-]?(\d+(\.\d*)?|\.\d+)([eE][+-]?\d+)?$"
_TIME = r"([ T]\d{1,2}:\d{2}(:\d{2}(\.\d+)?)?Z?)?"
_YEAR_FIRST = rf"^(?P<y>\d{{4}})[-/.]\s?(?P<m>\d{{1,2}})[-/.]\s?(?P<d>\d{{1,2}})\.?{_TIME}$"
_SHORT = {
    "dmy": rf"^(?P<d>\d{{1,2}})[-/. ]\s?(?P<m>\d{{1,2}})[-/. ]\s?(?P<y>\d{{4}}|\d{{2}})\.?{_TIME}$",
    "mdy": rf"^(?P<m>\d{{1,2}})[-/. ]\s?(?P<d>\d{{1,2}})[-/. ]\s?(?P<y>\d{{4}}|\d{{2}})\.?{_TIME}$",
}
_LONGEST_EXACT_INTEGER = 2**53


_TIME = "slot"
_HOURS = r"^\s*(?P<hour>\d{1,2})\s*h\s*(?P<minute>\d{2})?\s*$"


def parsed(table: str, column: str, country: Country, *, has_number_cells: bool) -> pl.Expr:
    """Read a column of text as the type of its contract; null where it cannot be read.

    Parameters
    ----------
    has_number_cells
        The text comes from a spreadsheet, whose number cells always use a point.
    """
    text = pl.col(column)
    declared = TABLES[table].columns()[column]
    if isinstance(declared, dy.Float64 | dy.Int64):
        is_whole = isinstance(declared, dy.Int64)
        # with a decimal point an amount may be a number cell that was worked out to the mill
        may_be_worked_out = has_number_cells and country.decimal == "." and not is_whole
        if has_no_third_decimal(declared) and not may_be_worked_out:
            text = pl.when(~text.str.contains(thousands_by_decimal_sign(country))).then(text)
        number = _number(text, country, has_number_cells=has_number_cells)
        return _whole(number) if is_whole else number
    if isinstance(declared, dy.Date):
        return _date(text, country)
    if isinstance(declared, dy.Bool):
        return _flag(text.str.strip_chars_end(_AFTER_A_WORD), country)
    if isinstance(declared, dy.Enum):
        return _code(text.str.strip_chars_end(_AFTER_A_WORD), codes(table, column))
    written = pl.when(~text.str.contains(ERROR_TEXT) & ~text.str.contains(MARKED_TEXT)).then(text)
    if column == _TIME:
        return _time(written)
    is_name = declared.primary_key or column in references(table)
    return written.str.replace(r"^(\d+)\.0$", "$1") if is_name else written


def _time(text: pl.Expr) -> pl.Expr:
    """Write "9 h 30" and "10h" as 09:30 and 10:00; other text is left to the contract."""
    parts = text.str.to_lowercase().str.extract_groups(_HOURS)
    hour, minute = (parts.struct.field(name) for name in ("hour", "minute"))
    return pl.coalesce(hour.str.zfill(2) + ":" + minute.fill_null("00"), text)


def _number(text: pl.Expr, country: Country, *, has_number_cells: bool) -> pl.Expr:
    """Read numbers as the country writes them.

    A number cell of a spreadsheet comes with a point. Only where both readings exist,
    as for "1.234" under a decimal comma, does that decide; typed text cannot be told
    from it there, and a spreadsheet turns such typed text into a number cell itself.
    """
    signed = text.str.replace(r"^\u2212", "-")
    groups = f"[{re.escape(country.groups)}]"
    decimal = re.escape(country.decimal)
    local = rf"^[+-]?(\d+|\d{{1,3}}({groups}\d{{3}})+)({decimal}\d*)?$"
    ungrouped = signed.str.replace_all(groups, "").str.replace(decimal, ".")
    as_local = pl.when(signed.str.contains(local)).then(ungrouped)
    as_plain = pl.when(signed.str.contains(_PLAIN_NUMBER)).then(signed)
    plain_first = has_number_cells or country.decimal == "."
    chosen = pl.coalesce(as_plain, as_local) if plain_first else as_local
    number = chosen.cast(pl.Float64, strict=False)
    return pl.when(number.is_finite()).then(number)


def has_no_third_decimal(declared: dy.Column) -> bool:
    """Tell whether a column counts or holds money: three digits after a sign are thousands."""
    unit = declared_unit(declared)
    return isinstance(declared, dy.Int64) or unit == "currency"


def thousands_by_decimal_sign(country: Country) -> str:
    """Match numbers as "12.000", which are twelve in one country and twelve thousand in another.

    Examples
    --------
    >>> bool(re.match(thousands_by_decimal_sign(country("fr_FR")), "4,800"))
    True
    """
    return rf"^[+-]?[1-9]\d{{0,2}}(?:{re.escape(country.decimal)}\d{{3}})+$"


def _whole(number: pl.Expr) -> pl.Expr:
    is_whole = (number == number.round(0)) & (number.abs() <= _LONGEST_EXACT_INTEGER)
    return pl.when(is_whole).then(number).cast(pl.Int64, strict=False)


def _date(text: pl.Expr, country: Country) -> pl.Expr:
    patterns = [_YEAR_FIRST]
    if country.date_order in _SHORT:
        patterns.append(_SHORT[country.date_order])
    return pl.coalesce(_day(text, pattern) for pattern in patterns)


def _day(text: pl.Expr, pattern: str) -> pl.Expr:
    found = text.str.extract_groups(pattern)
    year, month, day = (found.struct.field(part) for part in ("y", "m", "d"))
    century = pl.when(year.str.len_chars() == 2).then("20" + year).otherwise(year)
    written = pl.concat_str(century, month.str.zfill(2), day.str.zfill(2), separator="-")
    return written.str.to_date("%Y-%m-%d", strict=False)


def _flag(text: pl.Expr, country: Country) -> pl.Expr:
    word = text.str.to_lowercase()
    return (
        pl.when(word.is_in(country.yes))
        .then(pl.lit(True))
        .when(word.is_in(country.no))
        .then(pl.lit(False))
    )


def _code(text: pl.Expr, allowed: tuple[str, ...]) -> pl.Expr:
    folded = text.str.to_lowercase().str.replace_all(r"[\s\-_]+", "_")
    return pl.when(folded.is_in(allowed)).then(folded).cast(pl.Enum(allowed), strict=False)
