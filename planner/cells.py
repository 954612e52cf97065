"""What goes into a cell of a sheet or of a CSV file, and the one guard for its text.

Spreadsheet programs run text that begins like a formula, and they do so again when a
workbook is saved as CSV and opened again. Text from the public, from suppliers and from
the program file passes through here before it is written anywhere.
"""

from __future__ import annotations

import datetime as dt
import re
from dataclasses import dataclass
from typing import TYPE_CHECKING

import polars as pl

if TYPE_CHECKING:
    from collections.abc import Iterable

    from openpyxl.cell import WriteOnlyCell
    from openpyxl.cell.cell import Cell as SheetCell

RUN_BY_A_SPREADSHEET = r"^[\s\u200b\ufeff]*[=+\-@＝＋－＠]|^[\t\r\n]"
"""How text begins that one program or another runs; wide signs count in East Asian editions."""

UNHELD = r"[\x00-\x08\x0b\x0c\x0e-\x1f\x{fffe}\x{ffff}]"
"""Characters that the file format (XML 1.0, section 2.2) cannot hold, for polars."""

UNSEEN = r"[\p{Cf}\x{85}\x{2028}\x{2029}]"
"""Signs that nobody sees and that make two keys of one: marks of direction, joiners, soft hyphens
(Unicode 16, general category Cf) and line ends of other systems; for polars."""

NOT_IN_A_FILE = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\ud800-\udfff\ufffe\uffff]")
"""The same for Python, whose texts may hold lone surrogates besides."""

LONGEST_TEXT = 32_000
"""A cell of the file format holds 32,767 characters."""

MONTH_FORMAT = "mmm yyyy"
DATE_FORMAT = "mm-dd-yy"
"""Number format 14 of the file format: the short date of the reader's own country."""

RECORD_DATE_FORMAT = "yyyy-mm-dd"
"""Dates of sheets that are loaded again."""

COUNT_FORMAT = "#,##0"


@dataclass(frozen=True)
class Number:
    """A number in a cell; its words stand for it where it has no value, and in running text."""

    value: float | None
    number_format: str = COUNT_FORMAT
    words: str = ""


@dataclass(frozen=True)
class Day:
    """A date in a cell; its words stand for it where there is none, and in running text."""

    value: dt.date | None
    number_format: str = DATE_FORMAT
    words: str = ""


@dataclass(frozen=True)
class Formula:
    """A live formula, with what it comes to when nothing is changed."""

    text: str  # the formula without its equals sign, in the file format's own English words
    value: float  # what the planner computes for it; kept in the cell for programs that only show
    number_format: str = COUNT_FORMAT  # how it is displayed


Cell = str | Number | Day | Formula | None


def safe_text(text: str) -> str:
    """Text that no spreadsheet program runs or fails to open.

    Examples
    --------
    >>> safe_text("=1+1"), safe_text("Mill Lane")
    ("'=1+1", 'Mill Lane')
    """
    clean = writable_text(text)
    return f"'{clean}" if is_run_by_spreadsheet(clean) else clean


def writable_text(text: str) -> str:
    """Text as far as a cell can hold it."""
    clean = NOT_IN_A_FILE.sub("", text)
    return clean if len(clean) <= LONGEST_TEXT else f"{clean[:LONGEST_TEXT]}…"


def not_in_a_file(text: str) -> bool:
    """Tell whether a text holds a character that no workbook or document can hold."""
    return NOT_IN_A_FILE.search(text) is not None


def code_points(text: str) -> str:
    r"""Name the characters of a text that no file can hold.

    Examples
    --------
    >>> code_points("Mar\x1bia\ufffe")
    'U+001B, U+FFFE'
    """
    return named_signs(NOT_IN_A_FILE.findall(text))


def named_signs(signs: Iterable[str]) -> str:
    """Name each sign once by its code point."""
    return ", ".join(f"U+{ord(sign):04X}" for sign in dict.fromkeys(signs))


def is_run_by_spreadsheet(text: str) -> bool:
    """Tell whether a spreadsheet program would run a text."""
    return re.match(RUN_BY_A_SPREADSHEET, text) is not None


def put_content(cell: SheetCell, content: Cell) -> None:
    """Fill a cell of a sheet that is read and printed."""
    if isinstance(content, Formula):
        cell.value = f"={content.text}"
    elif isinstance(content, str) or (content is not None and content.value is None):
        put_text(cell, safe_text(content if isinstance(content, str) else content.words))
    elif content is not None:
        cell.value = content.value


def put_record(cell: SheetCell | WriteOnlyCell, content: object) -> None:
    """Fill a cell of a sheet whose values go back into the store as they came.

    An apostrophe before a text would come back with it; there the cell itself says that it
    is text and that a quote stands before it.
    """
    if isinstance(content, str):
        put_text(cell, writable_text(content))
        return
    cell.value = content
    if isinstance(content, dt.date):
        cell.number_format = RECORD_DATE_FORMAT


def put_text(cell: SheetCell | WriteOnlyCell, text: str) -> None:
    """Fill a cell with text that stays text, whatever it begins with."""
    cell.value = text
    cell.data_type = "s"
    cell.quotePrefix = is_run_by_spreadsheet(text)


def csv_text(rows: pl.DataFrame) -> str:
    r"""Write a frame as CSV that a spreadsheet program opens right and cannot run.

    Written to a file as UTF-8 with a byte order mark ("utf-8-sig"), or it takes accents apart.

    Examples
    --------
    >>> csv_text(pl.DataFrame({"found": ["@SUM(A1)", "2"], "count": [-1, 2]}))
    "found,count\r\n'@SUM(A1),-1\r\n2,2\r\n"
    """
    safe = rows.with_columns(pl.col(pl.String).str.replace(RUN_BY_A_SPREADSHEET, "'$0"))
    return safe.write_csv(line_terminator="\r\n")
