"""Which table a sheet of unknown make holds, and which column each heading means."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

import dataframely as dy
import numpy as np
import polars as pl
import scipy

from planner.arrays import Numbers
from planner.intake.cells import days_named
from planner.intake.headings import candidates, named_columns, table_of_label
from planner.intake.layout import completing, marked_rows, straightened
from planner.intake.likeness import (
    Head,
    are_marks,
    label_likeness,
    named_outright,
    names_likeness,
    share_that_fits,
    values_identify_column,
)
from planner.intake.meaning import named_unit
from planner.intake.vocabulary import columns_of_sheet
from planner.tables import MADE_KEYS, TABLES, lacking_columns, made_key, references
from planner.tables.purchases import FROM_PACKS, PRICE_BREAK_KIND

if TYPE_CHECKING:
    from collections.abc import Mapping

    from planner.intake.rows import Context
    from planner.intake.sheets import Sheet

SURE, LIKELY = 0.75, 0.4
"""Likeness from which a column is taken without asking, and from which it is proposed."""

LEAST_TABLE_LIKENESS = 0.35
MARGIN = 0.1
"""By how much the best column must beat the next one to be taken without asking."""

ONLY_WHEN_SURE = ("may_contact",)
"""Columns that are proposed by a plain heading alone: whom one may write to is not guessed."""

_SHOWN_EXAMPLES, _REFINED = 3, 4
_WORTH_READING = 0.3
_NEEDED_FIRST = 0.02
_SAME_NAME = 0.95
_SAID_ONCE = 0.5
_LIKE_ENOUGH, _FAR_AHEAD = 0.55, 0.25
_FITS_WELL, _FITS_BADLY = 0.9, 0.3
_KEY_LAST = 0.99
"""Of two keys that a heading may be, one that can be made comes after one that cannot."""


@dataclass(frozen=True)
class ColumnGuess:
    """One heading, and the column that it is likely to mean."""

    # what it says; the sheet's column
    heading: str
    cell: str
    column: str | None  # column of the table; None where none is like it
    likeness: float  # from 0 to 1, by name and by what stands below it
    is_sure: bool
    examples: tuple[str, ...]  # the first values below it


@dataclass(frozen=True)
class SheetGuess:
    """One sheet, the table that it is likely to hold, and its columns."""

    sheet: Sheet
    # record table, None where none is like it; from 0 to 1; taken without asking
    table: str | None
    likeness: float
    is_sure: bool
    row_number: int  # row of the headings, the lower one of two
    columns: tuple[ColumnGuess, ...]
    # columns without a heading, and what is said that every row holds
    held: Mapping[str, str] = field(default_factory=dict)
    is_further: bool = False  # the sheet holds another table first

    @property
    def cells(self) -> dict[str, str]:
        """For each column of the table that a heading gives, the sheet's column."""
        return {one.column: one.cell for one in self.columns if one.column}

    def records(self) -> pl.DataFrame:
        """Rows below the headings, without totals, the example and notes."""
        below = self.sheet.cells.filter(pl.col("row_number") > self.row_number)
        if self.table is None or not self.cells:
            return below
        marked = marked_rows(below, self.table, self.cells, self.row_number)
        passed = marked.filter(pl.any_horizontal("is_total", "is_example", "is_note"))
        return below.join(passed, on="row_number", how="anti", maintain_order="left")

    def lacking(self) -> list[str]:
        """Columns that the table needs, which no heading gives and nobody has said."""
        if self.table is None:
            return []
        there = {*self.held, *self.cells}
        kind = [PRICE_BREAK_KIND] if {*FROM_PACKS} & there else []
        return [*lacking_columns(self.table, there), *(one for one in kind if one not in there)]

    def completing(self) -> dict[str, tuple[str, str]]:
        """Columns that hold the unit or the credit of another one."""
        headings = {one.cell: one.heading for one in self.columns}
        return completing(self.table or "", self.cells, headings)

    def made_key(self) -> str | None:
        """Name the key of the table that is made of other columns; None where none is."""
        return made_key(self.table, {*self.held, *self.cells}) if self.table else None


def guess_sheet(
    sheet: Sheet, context: Context, known: Mapping[str, pl.DataFrame], table: str | None = None
) -> SheetGuess:
    """Guess the table of a sheet, the row of its headings and what each means.

    Parameters
    ----------
    known
        For each table whose keys are known, those of `words.keys_by_fold`.
    """
    heads = [Head(number, named_columns(row, above)) for number, row, above in candidates(sheet)]
    tables = [table] if table else list(TABLES)
    ranked = sorted(
        (
            (
                _table_likeness(sheet, one, head, names_likeness(head, one, context), context),
                one,
                head,
            )
            for head in heads
            if len(head.texts) > 1
            for one in tables
        ),
        key=lambda found: found[0],
        reverse=True,
    )
    firsts: dict[str, int] = {}
    for place, (_, one, _) in enumerate(ranked):
        firsts.setdefault(one, place)
    # names alone may put several rows of one table before all others
    read = sorted({*range(len(ranked[:_REFINED])), *list(firsts.values())[:_REFINED]})
    likely = [ranked[place] for place in read]
    best = [_refined(sheet, one, head, context, known) for _, one, head in likely]
    if not best:
        return SheetGuess(sheet, table, 0.0, True, 1, ())
    chosen = max(best, key=lambda guess: guess.likeness)
    others = [guess.likeness for guess in best if guess.table != chosen.table]
    is_told = table is not None or table_of_label(sheet.label) == chosen.table
    ahead = chosen.likeness - max(others, default=0.0)
    is_sure = chosen.likeness >= SURE and ahead >= MARGIN
    # nothing else comes near it, which tells as much as a high likeness
    is_sure |= chosen.likeness >= _LIKE_ENOUGH and ahead >= _FAR_AHEAD
    if table is None and chosen.likeness < LEAST_TABLE_LIKENESS:
        return SheetGuess(sheet, None, chosen.likeness, True, chosen.row_number, ())
    return replace(chosen, is_sure=is_told or is_sure)


def _table_likeness(
    sheet: Sheet, table: str, head: Head, likeness: Numbers, context: Context
) -> float:
    """Rate a table for a sheet: needed columns found, headings explained, name of the sheet."""
    needed = _needed(table)
    chosen = _paired(likeness, needed)
    by_place = {place: likeness[number, place] for number, place in chosen.items()}
    names = TABLES[table].column_names()
    # a sheet for each round needs no column that names it, nor one of numbers where a key is made
    keys = TABLES[table].primary_key() if table in MADE_KEYS else []
    once = columns_of_sheet(table)
    if not days_named(sheet.label, context.country, context.years)[0]:
        once = [one for one in once if one in references(table)]
    unnamed = {names.index(one): _SAID_ONCE for one in (*once, *keys)}
    covered = sum(by_place.get(place, unnamed.get(place, 0.0)) for place in needed) / len(needed)
    explained = sum(by_place.values()) / len(head.ways)
    return float(0.5 * covered + 0.3 * explained + 0.2 * label_likeness(sheet.label, table))


def _needed(table: str) -> list[int]:
    """Places of the columns that a sheet of the table must have."""
    declared = TABLES[table].columns().values()
    return [place for place, column in enumerate(declared) if not column.nullable]


def _paired(likeness: Numbers, needed: list[int]) -> dict[int, int]:
    """Give each heading one column and each column one heading, so that all are likest.

    The likest pair does not go first: "Quartier" beside "Code" is the name of an area, though
    alone it would be its code. Between two columns as like, the one that is needed is taken.
    """
    # two middling pairs do not outweigh a heading that says its column to the letter
    worth = np.where(likeness >= LIKELY, likeness**3, 0.0)
    worth[:, needed] *= 1.0 + _NEEDED_FIRST
    numbers, places = scipy.optimize.linear_sum_assignment(worth, maximize=True)
    return {
        int(number): int(place)
        for number, place in zip(numbers, places, strict=True)
        if worth[number, place] > 0.0
    }


def _refined(
    sheet: Sheet, table: str, head: Head, context: Context, known: Mapping[str, pl.DataFrame]
) -> SheetGuess:
    """Rate the headings again by what stands below them."""
    sheet, _ = straightened(sheet, head.row_number)
    # of the whole sheet: what is asked of some rows alone may begin far below the headings
    below = sheet.cells.filter(pl.col("row_number") > head.row_number)
    likeness = _weighed(sheet, below, table, head, context, known)
    pairs = _paired(likeness, _needed(table))
    columns = tuple(
        _column_guess(below, table, cell, text, likeness, number, pairs)
        for number, (cell, text) in enumerate(head.texts.items())
    )
    rated = _table_likeness(sheet, table, head, likeness, context)
    return SheetGuess(sheet, table, rated, False, head.row_number, columns)


def _weighed(
    sheet: Sheet,
    below: pl.DataFrame,
    table: str,
    head: Head,
    context: Context,
    known: Mapping[str, pl.DataFrame],
) -> Numbers:
    """Weigh how like each heading is by name with how well the cells below it fit."""
    by_name = names_likeness(head, table, context)
    declared = TABLES[table].columns()
    is_telling = np.array([values_identify_column(table, name, known) for name in declared])
    # what neither its name nor its values could make likely is not worth reading, nor is
    # what a heading may mean beside the column that it says to the letter
    is_exact = by_name.max(axis=1, keepdims=True) == 1.0
    is_read = np.where(is_exact, by_name == 1.0, (by_name >= _WORTH_READING) | is_telling[None, :])
    fits = np.where(is_exact, 0.0, np.full(by_name.shape, 0.5))
    units = [named_unit(text) for text in head.texts.values()]
    for number, place in zip(*np.nonzero(is_read), strict=True):
        values, name = below[list(head.ways)[number]], list(declared)[place]
        fits[number, place] = share_that_fits(
            values, table, name, context, known, units[number], sheet.has_number_cells
        )
    likeness = by_name * (0.4 + 0.6 * fits)
    by_values = np.where(is_telling[None, :] & (fits >= _FITS_WELL), 0.55, 0.0)
    likeness = np.where(fits < _FITS_BADLY, 0.5 * likeness, np.maximum(likeness, by_values))
    # cells that nobody can read yet, below a heading of that very name, are asked for or refused
    is_other_unit = (fits == 0.0) & np.array([unit is not None for unit in units])[:, None]
    is_named = (by_name >= _SAME_NAME) & ~is_other_unit
    likeness = np.where(is_named, np.maximum(likeness, LIKELY), likeness)
    is_marked = [are_marks(below[cell], context) for cell in head.ways]
    holds_no_mark = [not isinstance(one, dy.Bool | dy.Enum) for one in declared.values()]
    likeness[np.ix_(is_marked, holds_no_mark)] = 0.0
    return _with_what_is_plain(likeness, table, head, context)


def _with_what_is_plain(likeness: Numbers, table: str, head: Head, context: Context) -> Numbers:
    """Leave out what is taken when it is plain alone, and keep what needs no guess."""
    names = TABLES[table].column_names()
    if table in MADE_KEYS:
        # a key that is made where there is none need not be looked for in remarks
        likeness[:, 0] = np.where(likeness[:, 0] >= SURE, _KEY_LAST * likeness[:, 0], 0.0)
    for place in [names.index(name) for name in ONLY_WHEN_SURE if name in names]:
        likeness[:, place] = np.where(likeness[:, place] >= SURE, likeness[:, place], 0.0)
    for number, place in named_outright(head, table, context).items():
        # a load reads the column whatever stands below it, or nothing: there is no question
        likeness[number, place] = max(likeness[number, place], SURE)
    return likeness


def _column_guess(
    below: pl.DataFrame,
    table: str,
    cell: str,
    text: str,
    likeness: Numbers,
    number: int,
    pairs: Mapping[int, int],
) -> ColumnGuess:
    # a spreadsheet's day has an hour that nobody typed
    days = below[cell].drop_nulls().str.strip_suffix(" 00:00:00")
    examples = days.unique(maintain_order=True).head(_SHOWN_EXAMPLES)
    shown = tuple(examples.to_list())
    place = pairs.get(number)
    if place is None:
        return ColumnGuess(text, cell, None, float(likeness[number].max(initial=0.0)), True, shown)
    rated = float(likeness[number, place])
    # a column that another heading fits better is no rival
    held = [one for other, one in pairs.items() if likeness[other, one] >= likeness[number, one]]
    next_best = float(np.delete(likeness[number], held).max(initial=0.0))
    is_sure = rated >= SURE and rated - next_best >= MARGIN
    return ColumnGuess(text, cell, TABLES[table].column_names()[place], rated, is_sure, shown)
