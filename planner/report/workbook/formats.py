"""Figures as cells: value, low and high with the number format of their unit."""

from __future__ import annotations

import re
import statistics
from collections.abc import Iterable, Sequence

from babel.numbers import get_currency_symbol

from planner.cells import Cell, Formula, Number
from planner.figures import Figure
from planner.messages import said
from planner.report.wording import Wording, decimals
from planner.rounding import CENTS

DIFFERENCE = "0.0E+00"


def number_format(unit: str, places: int, wording: Wording) -> str:
    r"""Format code for a figure's unit; the reader's program puts its own separators in.

    Examples
    --------
    >>> from planner.report.wording import Wording
    >>> number_format("GBP per t", 0, Wording("en_GB", "GBP"))
    '"£"#,##0'
    >>> number_format("share", 0, Wording("fr_FR", "EUR"))
    '0"\xa0"%'
    """
    digits = f".{'0' * places}" if places > 0 else ""
    if unit == "share":
        between = wording.locale.percent_formats[None].pattern.rpartition("0")[2].rstrip("%")
        return f'0{digits}"{between}"%' if between else f"0{digits}%"
    if wording.currency and unit.split(" ")[0] == wording.currency:
        symbol = get_currency_symbol(wording.currency, wording.locale)
        pattern = re.sub(r"[#,.0]+", f"#,##0{digits}", wording.words.money_form())
        return pattern.replace("¤", f'"{symbol}"')
    return f"#,##0{digits}"


def headed(begin: str, names: str) -> tuple[str, ...]:
    """Head columns with keys that begin alike; a dash stands for a column without a heading."""
    return tuple("" if one == "-" else said(f"{begin}{one}") for one in names.split())


def compared(
    formula: str, value: float, reported: float, code: str, column: str, row: int
) -> list[Cell]:
    """Set a formula, the planner's own figure and the difference side by side, from a column on.

    Where there is no formula, its value stands in its place.
    """
    own = Formula(formula, value, code) if formula else Number(value, code)
    gap = f"{column}{row}-{chr(ord(column) + 1)}{row}"
    return [own, Number(reported, code), Formula(gap, value - reported, DIFFERENCE)]


def figure_cells(figure: Figure, wording: Wording, places: int | None = None) -> list[Cell]:
    """Value, low and high of a figure to the last digit; the latter empty where it has no interval.

    Money is to the cent. Shown are as many decimals as its interval has unless `places` says.
    """
    code = number_format(figure.unit, decimals(figure) if places is None else places, wording)
    if figure.value is None:
        return [Number(None, code, wording.absent(figure)), None, None]
    if figure.low is None or figure.high is None:
        return [Number(to_cents(figure.value, figure.unit, wording), code), None, None]
    numbers = (figure.value, figure.low, figure.high)
    return [Number(to_cents(number, figure.unit, wording), code) for number in numbers]


def as_printed(value: float | None, figure: Figure, wording: Wording) -> float | None:
    """Round to tens, hundreds and so on as the words do: no number format can.

    Counts and sums of the ledger keep every digit, as a finance officer adds them up; so does
    all that is rounded to decimals, where the format does it.
    """
    places = decimals(figure)
    if value is None:
        return None
    return to_cents(value, figure.unit, wording) if places >= 0 else round(value, places)


def printed_cells(figure: Figure, wording: Wording) -> list[Cell]:
    """Value, low and high as a paper prints them; the sheet of figures has them in full."""
    code = number_format(figure.unit, decimals(figure), wording)
    if figure.value is None:
        return [Number(None, code, wording.absent(figure)), None, None]
    return [
        None if one is None else Number(as_printed(one, figure, wording), code)
        for one in (figure.value, figure.low, figure.high)
    ]


def money_cell(value: float | None, wording: Wording, places: int = 0, words: str = "") -> Number:
    """Put an amount in a cell, to the cent; words where there is none."""
    rounded = None if value is None else round(value, CENTS)
    return Number(rounded, number_format(wording.currency, places, wording), words)


def to_cents(value: float, unit: str, wording: Wording) -> float:
    """Round money to cents, so that a cell holds what an invoice would; leave the rest alone."""
    is_money = bool(wording.currency) and unit.split(" ")[0] == wording.currency
    return round(value, CENTS) if is_money else value


def column_places(figures: Iterable[Figure]) -> int:
    """Decimals for a column of like figures: the middle of what their intervals allow."""
    places = [decimals(figure) for figure in figures if figure.value is not None]
    return min(3, max(0, statistics.median_low(places))) if places else 0


def columns_of_figures(
    columns: Sequence[Sequence[Figure | None]], wording: Wording
) -> list[list[Cell]]:
    """Rows of cells from columns of figures that end with the figure of the whole, if any.

    Each column has decimals of its own, and the whole has those that it has elsewhere. A
    column in which no figure has an interval takes one cell a row, others take three.
    """
    blocks = []
    for column in columns:
        whole = column[-1]
        figures = [figure for figure in column[:-1] if figure is not None]
        places = column_places(figures)
        width = 3 if any(f.low is not None for f in (*figures, whole) if f is not None) else 1
        cells = [figure_cells(figure, wording, places)[:width] for figure in figures]
        nothing: list[Cell] = [None] * width
        blocks.append([*cells, nothing if whole is None else figure_cells(whole, wording)[:width]])
    return [[cell for block in row for cell in block] for row in zip(*blocks, strict=True)]
