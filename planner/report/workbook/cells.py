"""What goes into a cell: numbers with their formats, and text that is never run."""

from __future__ import annotations

import datetime as dt
import re
import statistics
from dataclasses import dataclass
from typing import TYPE_CHECKING

from babel.numbers import get_currency_symbol
from openpyxl.cell.cell import ILLEGAL_CHARACTERS_RE

from planner.report.wording import absent, decimals

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from planner.figures import Figure
    from planner.report.wording import Wording

RUN_BY_A_SPREADSHEET = ("=", "+", "-", "@", "\t", "\r", "\n", "＝", "＋", "－", "＠")
"""First characters after which some program or other runs what follows."""

LONGEST_TEXT = 32_000
"""A cell of the file format holds 32,767 characters."""

MONTH_FORMAT = "mmm yyyy"
DATE_FORMAT = "mm-dd-yy"
"""Number format 14 of the file format: the short date of the reader's own country."""

MOST_PLACES = 3
"""A column of tonnes goes to the kilogram, no further."""

COUNT_FORMAT = "#,##0"


@dataclass(frozen=True)
class Number:
    """A number in a cell; without a value, the words that stand for it."""

    value: float | None
    number_format: str = COUNT_FORMAT
    words: str = ""


@dataclass(frozen=True)
class Day:
    """A date in a cell; without one, the words that stand for it."""

    value: dt.date | None
    number_format: str = DATE_FORMAT
    words: str = ""


@dataclass(frozen=True)
class Formula:
    """A live formula, with what it comes to when nothing is changed.

    Parameters
    ----------
    text
        The formula without its equals sign, in the file format's own English words.
    value
        What the planner computes for it; kept in the cell for programs that only show.
    number_format
        How it is displayed.
    """

    text: str
    value: float
    number_format: str = COUNT_FORMAT


Cell = str | Number | Day | Formula | None


def safe_text(text: str) -> str:
    """Text that no spreadsheet program runs or fails to open.

    Examples
    --------
    >>> safe_text("=1+1"), safe_text("Mill Lane")
    ("'=1+1", 'Mill Lane')
    """
    clean = str(ILLEGAL_CHARACTERS_RE.sub("", text))
    if clean.lstrip(" \u00a0").startswith(RUN_BY_A_SPREADSHEET):
        clean = f"'{clean}"
    return clean if len(clean) <= LONGEST_TEXT else f"{clean[:LONGEST_TEXT]}…"


def number_format(unit: str, places: int, wording: Wording) -> str:
    """Format code for a figure's unit; the reader's program puts its own separators in.

    Examples
    --------
    >>> from planner.report.wording import Wording
    >>> number_format("GBP per t", 0, Wording("en_GB", "GBP"))
    '"£"#,##0'
    """
    digits = f".{'0' * places}" if places > 0 else ""
    if unit == "share":
        return f"0{digits}%"
    if wording.currency and unit.split(" ")[0] == wording.currency:
        symbol = get_currency_symbol(wording.currency, wording.locale)
        pattern = re.sub(r"[#,.0]+", f"#,##0{digits}", wording.money_pattern())
        return pattern.replace("¤", f'"{symbol}"')
    return f"#,##0{digits}"


def figure_cells(figure: Figure, wording: Wording, places: int | None = None) -> list[Cell]:
    """Value, low and high of a figure; low and high are empty where it has no interval.

    Parameters
    ----------
    figure
        What is written, to the last digit.
    wording
        Money and locale.
    places
        Decimals that are displayed; those of the figure's own interval unless said.
    """
    code = number_format(figure.unit, decimals(figure) if places is None else places, wording)
    if figure.value is None:
        return [Number(None, code, absent(figure)), None, None]
    if figure.low is None or figure.high is None:
        return [Number(figure.value, code), None, None]
    return [Number(n, code) for n in (figure.value, figure.low, figure.high)]


def column_places(figures: Iterable[Figure]) -> int:
    """Decimals for a column of like figures: the middle of what their intervals allow."""
    places = [decimals(figure) for figure in figures if figure.value is not None]
    return min(MOST_PLACES, max(0, statistics.median_low(places))) if places else 0


def columns_of_figures(columns: Sequence[Sequence[Figure]], wording: Wording) -> list[list[Cell]]:
    """Rows of cells from columns of figures that end with the figure of the whole.

    Each column has decimals of its own, and the whole has those that it has elsewhere. A
    column in which no figure has an interval takes one cell a row, others take three.
    """
    blocks = []
    for figures in columns:
        places = column_places(figures[:-1])
        width = 3 if any(figure.low is not None for figure in figures) else 1
        cells = [figure_cells(figure, wording, places)[:width] for figure in figures[:-1]]
        blocks.append([*cells, figure_cells(figures[-1], wording)[:width]])
    return [[cell for block in row for cell in block] for row in zip(*blocks, strict=True)]
