"""A weather forecast from a text file: one row a day."""

from __future__ import annotations

import csv
import datetime as dt
from typing import TYPE_CHECKING

from planner.errors import OrderError
from planner.ordering.shipping_window import DayForecast

if TYPE_CHECKING:
    from pathlib import Path

COLUMNS = ("date", "coldest_c", "warmest_c")
MOST_C = 60.0
HEADING_ROW = 1


def read_forecast(path: Path) -> dict[dt.date, DayForecast]:
    """Read a forecast: the columns date (2026-03-09), coldest_c and warmest_c.

    Commas or semicolons part the columns; numbers may have a decimal comma with semicolons.

    Raises
    ------
    OrderError
        The file cannot be read, lacks a column, or a cell is not a day or a temperature.
    """
    try:
        text = path.read_text(encoding="utf-8-sig")
    except (OSError, UnicodeDecodeError) as error:
        message = f"{path}: cannot be read ({error}). Save it as a text file (CSV) in UTF-8."
        raise OrderError(message, path=str(path)) from error
    sign = ";" if ";" in text.partition("\n")[0] else ","
    rows = [row for row in csv.reader(text.splitlines(), delimiter=sign) if any(row)]
    heading = [cell.strip().lower() for cell in rows[0]] if rows else []
    lacking = [name for name in COLUMNS if name not in heading]
    if lacking:
        message = (
            f"{path}, row {HEADING_ROW}: found no column {', '.join(lacking)}. The first row "
            f"must name {', '.join(COLUMNS)}; each further row is one day."
        )
        raise OrderError(message, path=str(path), row=HEADING_ROW)
    places = [heading.index(name) for name in COLUMNS]
    found = {}
    for number, row in enumerate(rows[1:], start=HEADING_ROW + 1):
        cells = [row[place].strip() if place < len(row) else "" for place in places]
        day = _day(path, number, cells[0])
        coldest = _degrees(path, number, "coldest_c", cells[1])
        warmest = _degrees(path, number, "warmest_c", cells[2])
        if warmest < coldest:
            message = (
                f"{path}, row {number}: found a warmest hour below the coldest, "
                f"{cells[2]} below {cells[1]}. Correct the row."
            )
            raise OrderError(message, path=str(path), row=number)
        found[day] = DayForecast(coldest, warmest)
    return found


def _day(path: Path, row: int, cell: str) -> dt.date:
    try:
        return dt.date.fromisoformat(cell)
    except ValueError:
        message = f'{path}, row {row}, date: found "{cell}", expected a day written as 2026-03-09.'
        raise OrderError(message, path=str(path), row=row, column="date") from None


def _degrees(path: Path, row: int, column: str, cell: str) -> float:
    try:
        degrees = float(cell.replace(",", "."))
    except ValueError:
        degrees = float("nan")
    if not -MOST_C <= degrees <= MOST_C:
        message = f'{path}, row {row}, {column}: found "{cell}", expected degrees Celsius.'
        raise OrderError(message, path=str(path), row=row, column=column)
    return degrees
