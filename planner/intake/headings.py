"""Which table a sheet holds, and in which row its headings stand."""

from __future__ import annotations

import re
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

import dataframely as dy
import polars as pl

from planner.errors import IntakeError
from planner.intake.layout import completing
from planner.intake.meaning import Unit, folded, from_packs, meaning, near_heading
from planner.intake.sheets import HEAD_ROWS
from planner.messages import in_each_language, say
from planner.tables import (
    MADE_KEYS,
    NAMES,
    TABLES,
    is_called_by_key,
    lacking_columns,
    made_key,
    needed_columns,
)

if TYPE_CHECKING:
    from collections.abc import Mapping

    from planner.intake.sheets import Sheet
    from planner.intake.vocabulary import Vocabulary

LEAST_MATCHED_SHARE = 0.6
"""Share of a table's needed columns that must be there for headings to tell the table."""

REFUSAL_HEADING = "refused_copy.heading"
"""Heading in a copy of refused rows: the load, sheet and row at which each was refused."""


HeadRow = dict[str, str | None]
"""What stands in each column of the sheet in one row."""


@dataclass(frozen=True)
class Headings:
    """Where the columns of a table stand on a sheet."""

    table: str
    row_number: int  # row of the headings, the lower one of two
    cells: dict[str, str]  # for each column of the table that is there, the sheet's column
    units: dict[str, Unit]  # for each column whose heading names a unit, that unit
    texts: dict[str, str]  # for each of the sheet's columns with a heading, what it says
    unknown: tuple[str, ...]  # headings that are no column of the table
    repeated: tuple[str, ...]  # columns of the table whose heading stands more than once
    beyond: tuple[str, ...]  # the sheet's columns to the right of the last heading
    is_double: bool  # the headings stand in two rows, one over the other
    # columns without a heading, and what the program file says that every row holds
    held: Mapping[str, str] = field(default_factory=dict)
    # the sheet's columns of which a row fills one where it is a record of this table; any row
    # is one where there are none
    own: tuple[str, ...] = ()
    # the sheet's columns that complete a number: its column, and ``unit`` or ``credit``
    completing: Mapping[str, tuple[str, str]] = field(default_factory=dict)

    def called(self, column: str) -> str:
        """Name a column as the officer's heading does, where there is one."""
        heading = self.texts.get(self.cells.get(column, ""), "")
        return say("faults.quoted", text=heading) if heading not in ("", column) else column

    @property
    def refusal_cell(self) -> str | None:
        """The sheet's column that tells where a row was refused before."""
        known = in_each_language(REFUSAL_HEADING)
        return next((cell for cell, text in self.texts.items() if text in known), None)

    def notes(self, place: str) -> list[str]:
        """Say which headings are not read, which columns they may be, what is converted."""
        key = made_key(self.table, {*self.cells, *self.held})
        there = {*self.cells, key}
        absent = [name for name in TABLES[self.table].column_names() if name not in there]
        unknown = list(self.unknown)
        notes = []
        if key is not None:
            columns = ", ".join(map(self.called, MADE_KEYS[self.table]))
            notes.append(say("rows.made_key", place=place, key=key, columns=columns))
        for name in absent:
            near = near_heading(self.table, name, tuple(unknown))
            if near is not None:
                unknown.remove(near)
                which = {"place": place, "column": name, "near": near, "table": self.table}
                notes.append(say("headings.near", **which))
        if unknown:
            left = {"table": self.table, "headings": ", ".join(unknown)}
            notes.append(say("headings.unknown", place=place, **left))
        breaks = [text for text in self.unknown if self.table == "offers" and from_packs(text)]
        if breaks:
            notes.append(say("headings.price_breaks", place=place, headings=", ".join(breaks)))
        notes += [
            say(
                "headings.converted",
                place=place,
                heading=self.texts[self.cells[name]],
                unit=say(f"headings.unit.{unit.name.replace(' ', '_')}"),
                column_unit=say(f"headings.unit.{unit.column_unit}"),
                column=name,
            )
            for name, unit in self.units.items()
            if not unit.is_of_column
        ]
        return notes


LONGEST_HEADING = 200
"""Letters of a heading that are looked at: matching takes time by the square of them."""


def find_all_headings(sheet: Sheet, vocabulary: Vocabulary) -> list[Headings]:
    """Find every table of a sheet, which is one unless the program file says more.

    A row is a record of a further table where a day of its own is there, or else any cell of
    its own: a household that waits has no hand-over yet.

    Raises
    ------
    IntakeError
        As `find_headings`, of any of its tables.
    """
    tables: tuple[str | None, ...] = vocabulary.same_sheet.get(folded(sheet.label), (None,))
    told = _best_headings(sheet, vocabulary, [tables[0]] if tables[0] else [])
    if told is None or not _is_told_by_headings(told):
        # a sheet of another file may bear the same name, as Sheet1 does
        tables = (None,)
    listed = [find_headings(sheet, vocabulary, table) for table in tables]
    found = [one for one in listed if one is not None]
    unknown = set.intersection(*(set(one.unknown) for one in found)) if found else set()
    parted: list[Headings] = []
    for one in found:
        first = found[0].cells.values() if parted else ()
        own = {name: cell for name, cell in one.cells.items() if parted and cell not in first}
        declared = TABLES[one.table].columns()
        days = [
            cell
            for name, cell in own.items()
            if isinstance(declared[name], dy.Date) and not declared[name].nullable
        ]
        left = tuple(text for text in one.unknown if text in unknown and not parted)
        parted.append(replace(one, unknown=left, own=tuple(days or own.values())))
    return parted


def find_headings(
    sheet: Sheet, vocabulary: Vocabulary, table: str | None = None
) -> Headings | None:
    """Find the table of a sheet; None where neither its name nor its headings tell one.

    Headings may stand in two rows, as merged cells make them: a word in the upper row
    then belongs to every column below it.

    Raises
    ------
    IntakeError
        The table is known but its headings, or needed ones among them, are not there.
    """
    named = table or table_of_label(sheet.label)
    best = _best_headings(sheet, vocabulary, [named] if named else list(TABLES))
    if best is None:
        _refuse_headless(sheet, named)
        return None
    if named is None and not _is_told_by_headings(best):
        return None
    there = {*best.cells, *best.held}
    lacking = lacking_columns(best.table, there)
    if lacking or best.repeated:
        raise IntakeError(_in_words(sheet, best, lacking), path=sheet.file, row=best.row_number)
    if is_called_by_key(best.table, there):
        key = best.cells[TABLES[best.table].primary_key()[0]]
        return replace(best, cells={**best.cells, NAMES[best.table]: key})
    return best


def _best_headings(sheet: Sheet, vocabulary: Vocabulary, tables: list[str]) -> Headings | None:
    """Take the row of headings that tells most columns of one of the tables; None without any."""
    rows = candidates(sheet)
    found = (
        _match(table, number, row, above, vocabulary.columns_of(table))
        for table in tables
        for number, row, above in rows
    )
    best = max((headings for headings in found if headings.cells), key=_rank, default=None)
    if best is None:
        return None
    told = vocabulary.every_row_of(best.table, sheet.address)
    return replace(best, held={name: told[name] for name in told if name not in best.cells})


def table_of_label(label: str) -> str | None:
    """Tell the table from the name of a sheet or file, without regard to case and plural.

    Examples
    --------
    >>> table_of_label(" Household "), table_of_label("answers 2025"), table_of_label("notes")
    ('households', 'answers', None)
    >>> table_of_label("Site bins")
    'site_bins'
    """
    words = [_singular(word) for word in re.findall(r"[a-z]+", label.lower())]
    # words of a label are told apart at every sign, so a table's own are run together too
    singulars = {_singular(table).replace("_", ""): table for table in TABLES}
    whole = singulars.get("".join(words))
    found = {singulars[word] for word in words if word in singulars}
    return whole or (found.pop() if len(found) == 1 else None)


def _singular(word: str) -> str:
    return word.removesuffix("s")


def candidates(sheet: Sheet) -> list[tuple[int, HeadRow, HeadRow | None]]:
    """List the rows that may hold headings, each alone and with the row above it."""
    listed: list[tuple[int, HeadRow, HeadRow | None]] = []
    above: HeadRow | None = None
    head = sheet.cells.head(HEAD_ROWS).select(pl.exclude("row_number").str.head(LONGEST_HEADING))
    for number, texts in enumerate(head.iter_rows(named=True), start=1):
        listed.append((number, texts, None))
        if above is not None and _is_over(above, texts):
            listed.append((number, texts, above))
        above = texts
    return listed


def _is_over(above: HeadRow, row: HeadRow) -> bool:
    """Tell whether a row may group the headings below it: one text over the first is a title."""
    over, below = ([n for n, text in enumerate(one.values()) if text] for one in (above, row))
    # a row with numbers or days is no second line of headings
    is_data = any(text[:1].isdigit() and not from_packs(text) for text in row.values() if text)
    return (len(over) > 1 or over > below) and not is_data


def _match(
    table: str, number: int, row: HeadRow, above: HeadRow | None, council_words: dict[str, str]
) -> Headings:
    cells: dict[str, str] = {}
    units: dict[str, Unit] = {}
    texts: dict[str, str] = {}
    unknown, repeated = [], []
    for cell, ways in named_columns(row, above).items():
        said = {way: meaning(table, way, council_words) for way in ways}
        texts[cell], found = next((one for one in said.items() if one[1]), (ways[0], None))
        if found is None:
            unknown.append(ways[0])
        elif found.column in cells:
            repeated.append(found.column)
            texts[cell] = ways[0]
        else:
            cells[found.column] = cell
            if found.unit is not None:
                units[found.column] = found.unit
    also = completing(table, cells, texts)
    also = {cell: told for cell, told in also.items() if told[0] not in units}
    left_out = {*in_each_language(REFUSAL_HEADING), *(texts[cell] for cell in also)}
    names = list(row)
    last = max((names.index(cell) + 1 for cell in texts), default=0)
    return Headings(
        table=table,
        row_number=number,
        cells=cells,
        units=units,
        texts=texts,
        unknown=tuple(text for text in unknown if text not in left_out),
        repeated=tuple(repeated),
        beyond=tuple(names[last:]),
        is_double=above is not None,
        completing=also,
    )


def named_columns(row: HeadRow, above: HeadRow | None) -> dict[str, list[str]]:
    """For each column with a heading, what it may be called with the row above or without."""
    named, group = {}, None
    for cell, heading in row.items():
        upper = above.get(cell) if above else None
        group = upper or group
        if heading:
            named[cell] = [heading] if group is None else [heading, f"{group} {heading}"]
        elif upper:
            named[cell] = [upper]
    return named


def _rank(headings: Headings) -> tuple[int, int, bool, int]:
    """Prefer most columns found, then fewest unknown, then one row, then the upper."""
    found, unknown = len(headings.cells), len(headings.unknown)
    return found, -unknown, not headings.is_double, -headings.row_number


def _is_told_by_headings(headings: Headings) -> bool:
    needed = len(needed_columns(headings.table))
    lacking = lacking_columns(headings.table, {*headings.cells, *headings.held})
    return needed - len(lacking) >= LEAST_MATCHED_SHARE * needed


def _refuse_headless(sheet: Sheet, named: str | None) -> None:
    """Refuse a sheet that bears a table's name and holds rows without any heading."""
    words = re.findall(r"[a-z]+", sheet.label.lower())
    if named is None or _singular("".join(words)) != _singular(named):
        return
    filled = sheet.cells.filter(pl.any_horizontal(pl.exclude("row_number").is_not_null()))
    if filled.is_empty():
        return
    columns = ", ".join(needed_columns(named))
    message = say("headings.none", filled.height, place=sheet.place, columns=columns)
    raise IntakeError(message, path=sheet.file)


def _in_words(sheet: Sheet, headings: Headings, lacking: list[str]) -> str:
    place = sheet.row(headings.row_number)
    if not lacking:
        return say("headings.twice", place=place, heading=headings.repeated[0])
    near = ((name, near_heading(headings.table, name, headings.unknown)) for name in lacking)
    hints = [say("headings.maybe", column=name, near=one) if one else name for name, one in near]
    unknown = ", ".join(headings.unknown)
    return say(
        "headings.lacking",
        len(lacking),
        place=place,
        columns=", ".join(hints),
        table=headings.table,
        first=lacking[0],
        others=say("headings.others", headings=unknown) if unknown else "",
    )
