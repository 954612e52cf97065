"""Which table a sheet holds, and in which row its headings stand."""

from __future__ import annotations

import difflib
import re
from dataclasses import dataclass
from typing import TYPE_CHECKING

import polars as pl

from planner.errors import IntakeError
from planner.intake.sheets import HEAD_ROWS
from planner.tables import TABLES

if TYPE_CHECKING:
    from planner.intake.sheets import Sheet

LEAST_MATCHED_SHARE = 0.6
"""Share of a table's needed columns that must be there for headings to tell the table."""


@dataclass(frozen=True)
class Headings:
    """Where the columns of a table stand on a sheet.

    Attributes
    ----------
    table
        Name of the record table.
    row_number
        Row of the headings.
    cells
        For each column of the table that is there, the sheet's column.
    unknown
        Headings that are no column of the table.
    repeated
        Columns of the table whose heading stands more than once.
    beyond
        The sheet's columns to the right of the last heading.
    """

    table: str
    row_number: int
    cells: dict[str, str]
    unknown: tuple[str, ...]
    repeated: tuple[str, ...]
    beyond: tuple[str, ...]

    def hint(self, heading: str) -> str:
        """Ask whether an unknown heading is meant for a column that is not there."""
        absent = {_folded(name): name for name in TABLES[self.table].column_names()}
        absent = {folded: name for folded, name in absent.items() if name not in self.cells}
        near = difflib.get_close_matches(_folded(heading), list(absent), n=1, cutoff=0.75)
        return f"{heading} (did you mean {absent[near[0]]}?)" if near else heading


def needed_columns(table: str) -> list[str]:
    """List the columns that a sheet of the table must have."""
    return [name for name, column in TABLES[table].columns().items() if not column.nullable]


def find_headings(sheet: Sheet) -> Headings | None:
    """Find the table of a sheet; None where neither its name nor its headings tell one.

    Raises
    ------
    IntakeError
        The table is known but needed columns are not there.
    """
    named = table_of_label(sheet.label)
    tables = [named] if named else list(TABLES)
    candidates = [
        _match(table, row) for row in _head(sheet) for table in tables if _match(table, row).cells
    ]
    if not candidates:
        return None
    best = max(candidates, key=_rank)
    lacking = [name for name in needed_columns(best.table) if name not in best.cells]
    if named is None and not _is_told_by_headings(best, len(lacking)):
        return None
    if lacking or best.repeated:
        raise IntakeError(_in_words(sheet, best, lacking), path=sheet.file, row=best.row_number)
    return best


def table_of_label(label: str) -> str | None:
    """Tell the table from the name of a sheet or file, without regard to case and plural.

    Examples
    --------
    >>> table_of_label(" Household "), table_of_label("answers 2025"), table_of_label("notes")
    ('households', 'answers', None)
    """
    words = [_singular(word) for word in re.findall(r"[a-z]+", label.lower())]
    singulars = {_singular(table): table for table in TABLES}
    whole = singulars.get("".join(words))
    found = {singulars[word] for word in words if word in singulars}
    return whole or (found.pop() if len(found) == 1 else None)


def _singular(word: str) -> str:
    return word.removesuffix("s")


def _folded(heading: str) -> str:
    return re.sub(r"[\W_]+", "", heading.lower())


def _head(sheet: Sheet) -> list[dict[str, str | int]]:
    return sheet.cells.filter(pl.col("row_number") <= HEAD_ROWS).to_dicts()


def _match(table: str, row: dict[str, str | int]) -> Headings:
    columns = {_folded(name): name for name in TABLES[table].column_names()}
    cells: dict[str, str] = {}
    unknown, repeated = [], []
    for cell, heading in row.items():
        if cell == "row_number" or not heading:
            continue
        column = columns.get(_folded(str(heading)))
        if column is None:
            unknown.append(str(heading))
        elif column in cells:
            repeated.append(column)
        else:
            cells[column] = cell
    names = [name for name in row if name != "row_number"]
    last = max((place for place, name in enumerate(names, start=1) if row[name]), default=0)
    number = int(row["row_number"])
    return Headings(
        table, number, cells, tuple(unknown), tuple(repeated), beyond=tuple(names[last:])
    )


def _rank(headings: Headings) -> tuple[int, int, int]:
    """Prefer most columns found, then fewest unknown, then the upper row."""
    return len(headings.cells), -len(headings.unknown), -headings.row_number


def _is_told_by_headings(headings: Headings, lacking_count: int) -> bool:
    needed = needed_columns(headings.table)
    found = len(needed) - lacking_count
    return found >= LEAST_MATCHED_SHARE * len(needed)


def _in_words(sheet: Sheet, headings: Headings, lacking: list[str]) -> str:
    place = f"{sheet.place}, row {headings.row_number}"
    if not lacking:
        return (
            f"{place}: found the heading {headings.repeated[0]} twice, expected it once. "
            "Take one of the two columns out."
        )
    hints = [f"{name}{_near(name, headings.unknown)}" for name in lacking]
    return (
        f"{place}: found no column {', '.join(hints)}; the table {headings.table} needs "
        f"{'it' if len(lacking) == 1 else 'them'}. Add the heading, spelled so."
    )


def _near(name: str, unknown: tuple[str, ...]) -> str:
    folded = {_folded(heading): heading for heading in unknown}
    near = difflib.get_close_matches(_folded(name), list(folded), n=1, cutoff=0.6)
    return f' (did you mean it by "{folded[near[0]]}"?)' if near else ""
