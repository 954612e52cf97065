"""Ways in which a cell is read as a person would read it, and what the officer is told of them."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import polars as pl

DOUBTFUL = {
    "brackets": "brackets are read as a minus sign",
    "trailing_minus": "a minus sign after the number makes it negative",
    "decimal_sign": "the sign before the fraction is not the one usual in your country",
    "date_serial": "a day counted from the end of 1899, as spreadsheets do",
    "cross": "a cross is read as no",
    "grams": "too much in kg, so read as grams",
    "hundredths": "too much for a share, so read as per cent",
    "near_name": "the nearest name there is",
    "far_date": "a day far outside the years of the program, taken as it stands",
}
"""Ways of reading that could be wrong, which the officer confirms once for each column."""

PLAIN = {
    "unit": "the unit in the cell is converted",
    "per_cent": "per cent are read as a share",
    "month_name": "the name of the month is read",
    "tick": "ticks and empty boxes are read as yes and no",
    "name": "the name of a record is read as its code",
}
"""Ways of reading that can mean one thing alone; they are noted."""


def reading_notes(readings: pl.DataFrame) -> list[str]:
    """Say for each column how its cells were read.

    Parameters
    ----------
    readings
        ``sheet``, ``table_name``, ``column_name``, ``kind``, ``cells_count``, ``examples``.
    """
    ways = {**PLAIN, **DOUBTFUL}
    notes = []
    for one in readings.iter_rows(named=True):
        sheet = f", sheet {one['sheet']}" if one["sheet"] else ""
        cells = "1 cell" if one["cells_count"] == 1 else f"{one['cells_count']:,} cells"
        notes.append(
            f"{sheet}, {one['column_name']}: {cells}, {ways[one['kind']]}: {one['examples']}."
        )
    return notes
