"""Cells of text read as numbers, dates, yes or no, codes: whole columns at a time."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

import dataframely as dy
import polars as pl

from planner.intake.sheets import ERROR_TEXT
from planner.tables import TABLES, codes, references

if TYPE_CHECKING:
    from planner.intake.country import Country

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


def parsed(table: str, column: str, country: Country, *, has_number_cells: bool) -> pl.Expr:
    """Read a column of text as the type of its contract; null where it cannot be read.

    Parameters
    ----------
    table, column
        Column of planner.tables; the expression reads the text column of that name.
    has_number_cells
        The text comes from a spreadsheet, whose number cells always use a point.

    Returns
    -------
    pl.Expr
        Column of the contract's type.
    """
    text = pl.col(column)
    declared = TABLES[table].columns()[column]
    if isinstance(declared, dy.Float64):
        return _number(text, country, has_number_cells=has_number_cells)
    if isinstance(declared, dy.Int64):
        return _whole(_number(text, country, has_number_cells=has_number_cells))
    if isinstance(declared, dy.Date):
        return _date(text, country)
    if isinstance(declared, dy.Bool):
        return _flag(text, country)
    if isinstance(declared, dy.Enum):
        return _code(text, codes(table, column))
    written = pl.when(~text.str.contains(ERROR_TEXT) & ~text.str.contains(MARKED_TEXT)).then(text)
    is_name = declared.primary_key or column in references(table)
    return written.str.replace(r"^(\d+)\.0$", "$1") if is_name else written


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
