"""Sheets that hold more than one table: a row a household, with all that a council knows of it."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import polars as pl

from planner.intake.guessing import guess_sheet
from planner.intake.likeness import label_likeness
from planner.intake.meaning import folded
from planner.intake.vocabulary import columns_of_every_row
from planner.tables import MADE_KEYS, ON_ONE_SHEET, TABLES, lacking_columns, needed_columns

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from planner.intake.guessing import ColumnGuess, SheetGuess
    from planner.intake.rows import Context
    from planner.intake.sheets import Sheet

REGISTERED, BIN_DAY = "registered_date", "handover_date"

SHARED = ("household_id", REGISTERED)
"""Columns that all of these tables take from the same cells."""


def parted(
    guess: SheetGuess,
    context: Context,
    known: Mapping[str, pl.DataFrame],
    said: Sequence[str] = (),
) -> list[SheetGuess]:
    """Part a sheet into the tables that it holds, each with the columns that are its own.

    Parameters
    ----------
    said
        Further tables that the officer says it holds, beside those that program.toml names.

    Returns
    -------
    list of SheetGuess
        The table itself first; then others that its headings give whole, but for what may be
        said of every row. A waiting list that gives nothing of its own shows by its name.
    """
    if guess.table not in ON_ONE_SHEET:
        return [guess]
    guess = replace(guess, sheet=_with_whole_headings(guess))
    shared = {str(one.column): one.cell for one in guess.columns if one.column in SHARED}
    free = [one.cell for one in guess.columns if one.column is None or not one.is_sure]
    rated = _by_cell(guess, {*free}, shared, context, known)
    told = {*said, *context.vocabulary.same_sheet.get(folded(guess.sheet.label), ())}
    others: list[SheetGuess] = []
    for table in ON_ONE_SHEET:
        if table == guess.table:
            continue
        cells = {cell for cell, best in rated.items() if best == table}
        other = _of_cells(guess.sheet, table, cells, shared, context, known)
        own = [one for one in other.columns if one.cell in cells and one.column]
        if _is_there(other, own, [guess, *others], is_told=table in told):
            is_sure = table in told or _is_plain(other, own)
            likeness = min((one.likeness for one in own), default=other.likeness)
            others.append(replace(other, is_sure=is_sure, likeness=likeness, is_further=True))
    if not others:
        return [guess]
    further = {one.cell for other in others for one in other.columns} - {*shared.values()}
    part = _with_cells(guess.sheet, {one.cell for one in guess.columns} - further)
    first = guess_sheet(part, context, known, guess.table)
    return [_registered_by_then(one, guess.sheet, [guess, *others]) for one in (first, *others)]


def _with_whole_headings(guess: SheetGuess) -> Sheet:
    """Repeat the group over each heading of two rows: a part may lack the group's first column."""
    cells, above = guess.sheet.cells, pl.col("row_number") == guess.row_number - 1
    own = cells.row(guess.row_number - 1, named=True)
    groups = {one.cell: one.heading.removesuffix(own[one.cell] or "") for one in guess.columns}
    whole = [
        pl.when(above)
        .then(pl.lit(groups.get(cell, "").strip() or None))
        .otherwise(cell)
        .alias(cell)
        for cell in cells.columns[1:]
    ]
    return replace(guess.sheet, cells=cells.with_columns(whole))


def _by_cell(
    guess: SheetGuess,
    free: set[str],
    shared: Mapping[str, str],
    context: Context,
    known: Mapping[str, pl.DataFrame],
) -> dict[str, str]:
    """For each free column of the sheet, the table that it fits best."""
    best: dict[str, tuple[float, str]] = {}
    for table in ON_ONE_SHEET:
        for one in _of_cells(guess.sheet, table, free, shared, context, known).columns:
            if one.cell in free and one.column and one.likeness > best.get(one.cell, (0.0, ""))[0]:
                best[one.cell] = one.likeness, table
    return {cell: table for cell, (_, table) in best.items()}


def _of_cells(
    sheet: Sheet,
    table: str,
    cells: set[str],
    shared: Mapping[str, str],
    context: Context,
    known: Mapping[str, pl.DataFrame],
) -> SheetGuess:
    """Guess a table from some columns of a sheet and the shared ones that it has.

    What it may do without is taken where it is sure: a heading that is like two tables is
    asked for once.
    """
    names = TABLES[table].column_names()
    there = cells | {cell for name, cell in shared.items() if name in names}
    guess = guess_sheet(_with_cells(sheet, there), context, known, table)
    keys = TABLES[table].primary_key() if table in MADE_KEYS else ()
    needed = {*needed_columns(table)} - {*keys, *columns_of_every_row(table)}
    kept = tuple(
        one for one in guess.columns if one.column in needed or (one.column and one.is_sure)
    )
    return replace(guess, sheet=_with_cells(guess.sheet, {one.cell for one in kept}), columns=kept)


def _registered_by_then(guess: SheetGuess, sheet: Sheet, others: list[SheetGuess]) -> SheetGuess:
    """Take the day of its bin where a sheet does not say when a household registered."""
    days = [one for other in others for one in other.columns if one.column == BIN_DAY]
    if guess.table != "households" or REGISTERED not in guess.lacking() or not days:
        return guess
    kept = tuple(one for one in guess.columns if one.cell != days[0].cell)
    columns = (*kept, replace(days[0], column=REGISTERED))
    cells = {*guess.sheet.cells.columns, days[0].cell}
    return replace(guess, columns=columns, sheet=_with_cells(sheet, cells))


def _is_there(
    guess: SheetGuess, own: list[ColumnGuess], others: list[SheetGuess], *, is_told: bool
) -> bool:
    """Tell whether headings give a further table: half of what it needs, the rest may be said.

    Those who wait have nothing of their own that is needed: the sheet is called so, gives a wish
    of theirs, or has rows of households without the hand-over that others have.
    """
    table = guess.table or ""
    given = {*guess.cells}
    if any(one.column == BIN_DAY for other in others for one in other.columns):
        given.add(REGISTERED)
    if {*lacking_columns(table, given)} - {*columns_of_every_row(table)}:
        return False
    if is_told:
        return True
    wanted = {*needed_columns(table)} - {*SHARED, guess.made_key()}
    if wanted:
        return 2 * len({one.column for one in own} & wanted) >= len(wanted)
    is_named = label_likeness(guess.sheet.label, table) > 0.0
    return is_named or any(one.is_sure for one in own) or any(map(_lacks_hand_overs, others))


def _is_plain(guess: SheetGuess, own: list[ColumnGuess]) -> bool:
    """Tell whether a further table need not be asked for."""
    if own:
        return all(one.is_sure for one in own)
    return label_likeness(guess.sheet.label, guess.table or "") > 0.0


def _lacks_hand_overs(guess: SheetGuess) -> bool:
    below = guess.records()
    cells = [one.cell for one in guess.columns if one.column == BIN_DAY]
    return any(below[cell].null_count() for cell in cells)


def _with_cells(sheet: Sheet, cells: set[str]) -> Sheet:
    kept = [name for name in sheet.cells.columns if name in {"row_number", *cells}]
    return replace(sheet, cells=sheet.cells.select(kept))
