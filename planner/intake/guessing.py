"""Which table a sheet of unknown make holds, and which column each heading means."""

from __future__ import annotations

import re
from dataclasses import dataclass, field, replace
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import polars as pl
import scipy
from rapidfuzz import fuzz, process

from planner.arrays import Numbers
from planner.intake.cells import plain_words
from planner.intake.completing import completing
from planner.intake.headings import candidates, lacking_columns, named_columns, table_of_label
from planner.intake.meaning import UNITS, meaning, named_unit, unaccented
from planner.intake.passed_over import marked_rows, straightened
from planner.intake.sheets import HEAD_ROWS
from planner.intake.vocabulary import columns_of_sheet
from planner.intake.words import share_that_fits, values_tell
from planner.tables import MADE_KEYS, NAMES, TABLES, made_key

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
_SHIPPED = Path(__file__).with_name("heading_words.csv")
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
    # row of the headings, the lower one of two
    row_number: int
    is_double: bool
    columns: tuple[ColumnGuess, ...]
    # columns without a heading, and what is said that every row holds
    held: Mapping[str, str] = field(default_factory=dict)
    is_further: bool = False  # the sheet holds another table first

    def records(self) -> pl.DataFrame:
        """Rows below the headings, without totals, the example and notes."""
        below = self.sheet.cells.filter(pl.col("row_number") > self.row_number)
        cells = {one.column: one.cell for one in self.columns if one.column}
        if self.table is None or not cells:
            return below
        marked = marked_rows(below, self.table, cells, self.row_number)
        passed = marked.filter(pl.any_horizontal("is_total", "is_example", "is_note"))
        return below.join(passed, on="row_number", how="anti", maintain_order="left")

    def lacking(self) -> list[str]:
        """Columns that the table needs, which no heading gives and nobody has said."""
        if self.table is None:
            return []
        there = {*self.held, *(one.column for one in self.columns if one.column)}
        return lacking_columns(self.table, there)

    def completing(self) -> dict[str, tuple[str, str]]:
        """Columns that hold the unit or the credit of another one."""
        cells = {one.column: one.cell for one in self.columns if one.column}
        return completing(self.table or "", cells, {one.cell: one.heading for one in self.columns})

    def made_key(self) -> str | None:
        """Name the key of the table that is made of other columns; None where none is."""
        there = {*self.held, *(one.column for one in self.columns if one.column)}
        return made_key(self.table, there) if self.table else None


def guess_sheet(
    sheet: Sheet, context: Context, known: Mapping[str, pl.DataFrame], table: str | None = None
) -> SheetGuess:
    """Guess the table of a sheet, the row of its headings and what each means.

    Parameters
    ----------
    known
        For each table whose keys are known, those of `words.keys_by_fold`.
    """
    rows = sheet.cells.filter(pl.col("row_number") <= HEAD_ROWS).to_dicts()
    heads = [
        _Head(number, above is not None, named_columns(row, above))
        for number, row, above in candidates(rows)
    ]
    tables = [table] if table else list(TABLES)
    ranked = sorted(
        (
            (_table_likeness(sheet, one, head, _names_likeness(head, one, context)), one, head)
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
        return SheetGuess(sheet, table, 0.0, True, 1, False, ())
    chosen = max(best, key=lambda guess: guess.likeness)
    others = [guess.likeness for guess in best if guess.table != chosen.table]
    is_told = table is not None or table_of_label(sheet.label) == chosen.table
    ahead = chosen.likeness - max(others, default=0.0)
    is_sure = chosen.likeness >= SURE and ahead >= MARGIN
    # nothing else comes near it, which tells as much as a high likeness
    is_sure |= chosen.likeness >= _LIKE_ENOUGH and ahead >= _FAR_AHEAD
    if table is None and chosen.likeness < LEAST_TABLE_LIKENESS:
        return SheetGuess(sheet, None, chosen.likeness, True, chosen.row_number, False, ())
    return replace(chosen, is_sure=is_told or is_sure)


@dataclass(frozen=True)
class _Head:
    """A row that may hold headings: for each of the sheet's columns what it may be called."""

    row_number: int
    is_double: bool
    ways: dict[str, list[str]]

    @property
    def texts(self) -> dict[str, str]:
        """The fullest name of each column."""
        return {cell: ways[-1] for cell, ways in self.ways.items()}


@lru_cache(maxsize=1)
def _shipped_words() -> tuple[dict[str, list[str]], dict[str, list[str]]]:
    """Read the words for tables and for columns, in several languages, after their own names."""
    rows = pl.read_csv(_SHIPPED, infer_schema=False)
    tables = {table: [_plain(table)] for table in TABLES}
    columns = {name: [_plain(name)] for one in TABLES.values() for name in one.column_names()}
    for kind, name, word in rows.select("names", "name", "word").iter_rows():
        (tables if kind == "table" else columns)[name].append(_plain(word))
    return tables, columns


def _plain(heading: str) -> str:
    """Write a heading as its telling words: no accents, units, signs or little words.

    Examples
    --------
    >>> _plain("Nb. de personnes"), _plain("Poids (kg)"), _plain("N° du foyer")
    ('personnes', 'poids', 'foyer')
    """
    words = re.findall(r"[^\W_]+", unaccented(heading).lower())
    telling = [word for word in words if word not in UNITS and word not in plain_words("little")]
    return " ".join(telling or words)


@lru_cache(maxsize=64)
def _words_of(table: str) -> tuple[tuple[str, ...], tuple[int, ...]]:
    """List the words for the columns of a table, and the place of the column of each."""
    words, places = [], []
    _, shipped = _shipped_words()
    for place, name in enumerate(TABLES[table].column_names()):
        for word in shipped[name]:
            words.append(word)
            places.append(place)
    return tuple(words), tuple(places)


def _names_likeness(head: _Head, table: str, context: Context) -> Numbers:
    """Rate each heading by name as each column of a table: headings × columns."""
    words, places = _words_of(table)
    texts = [_plain(text) for text in head.texts.values()]
    sorted_words = process.cdist(texts, words, scorer=fuzz.token_sort_ratio)
    within = process.cdist(texts, words, scorer=fuzz.token_set_ratio)
    rated = np.maximum(sorted_words, 0.85 * within) / 100.0
    likeness = np.zeros((len(texts), len(TABLES[table].column_names())))
    np.maximum.at(likeness.T, np.array(places), rated.T)
    # a remark, and what is a column of another table to the letter, as a mail, is none of this one
    others = {word for named in _shipped_words()[1].values() for word in named}.difference(words)
    remarks = {*plain_words("remarks")}
    is_other = [text in others or not remarks.isdisjoint(text.split()) for text in texts]
    likeness[np.array(is_other) & (likeness.max(axis=1) < 1.0)] = 0.0
    _tell_names_from_keys(list(head.texts.values()), table, likeness)
    for number, place in _named(head, table, context).items():
        likeness[number] = 0.0
        likeness[number, place] = 1.0
    return likeness


def _tell_names_from_keys(texts: list[str], table: str, likeness: Numbers) -> None:
    """Rate a heading that stands beside another of its words and "id" as the name it is."""
    names = TABLES[table].column_names()
    keys = [place for place, name in enumerate(names) if name.endswith("_id")]
    of_name = [names.index(name) for name in (NAMES.get(table),) if name in names]
    words = [{*re.findall(r"[^\W_]+|#", unaccented(text).lower())} for text in texts]
    signs = {*plain_words("key")}
    for number, bare in enumerate(words):
        beside = [other for other, more in enumerate(words) if bare < more and more - bare <= signs]
        if not bare or not beside:
            continue
        likeness[beside[0], keys] = np.maximum(likeness[beside[0], keys], likeness[number, keys])
        likeness[number, of_name] = np.maximum(likeness[number, of_name], likeness[number, 0])
        likeness[number, keys] = 0.0


def _named(head: _Head, table: str, context: Context) -> dict[int, int]:
    """Columns that the program file or their own name says, which is no guess, by heading."""
    names, council_words = TABLES[table].column_names(), context.vocabulary.columns_of(table)
    found = {}
    for number, ways in enumerate(head.ways.values()):
        for way in ways:
            said = meaning(table, way, council_words)
            if said is not None:
                found[number] = names.index(said.column)
    return found


def _table_likeness(sheet: Sheet, table: str, head: _Head, likeness: Numbers) -> float:
    """Rate a table for a sheet: needed columns found, headings explained, name of the sheet."""
    needed = _needed(table)
    chosen = _paired(likeness, needed)
    by_place = {place: likeness[number, place] for number, place in chosen.items()}
    names = TABLES[table].column_names()
    # a sheet for each round needs no column that names it, nor one of numbers where a key is made
    keys = TABLES[table].primary_key() if table in MADE_KEYS else []
    unnamed = {names.index(one): _SAID_ONCE for one in (*columns_of_sheet(table), *keys)}
    covered = sum(by_place.get(place, unnamed.get(place, 0.0)) for place in needed) / len(needed)
    explained = sum(by_place.values()) / len(head.ways)
    return float(0.5 * covered + 0.3 * explained + 0.2 * label_likeness(sheet.label, table))


def _needed(table: str) -> list[int]:
    """Places of the columns that a sheet of the table must have."""
    declared = TABLES[table].columns().values()
    return [place for place, column in enumerate(declared) if not column.nullable]


def label_likeness(label: str, table: str) -> float:
    """Rate from 0 to 1 how much the name of a sheet or file says that it holds a table."""
    if table_of_label(label) == table:
        return 1.0
    if {*unaccented(label).lower().split()} & {*plain_words("form")}:
        return 0.0  # forms call whatever they ask "responses"
    words = _shipped_words()[0][table]
    rated = process.cdist([_plain(label)], words, scorer=fuzz.token_set_ratio)
    return float(rated.max() / 100.0) if rated.max() >= 80 else 0.0


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
    sheet: Sheet, table: str, head: _Head, context: Context, known: Mapping[str, pl.DataFrame]
) -> SheetGuess:
    """Rate the headings again by what stands below them."""
    sheet, _ = straightened(sheet, head.row_number)
    # of the whole sheet: what is asked of some rows alone may begin far below the headings
    below = sheet.cells.filter(pl.col("row_number") > head.row_number)
    by_name = _names_likeness(head, table, context)
    names = TABLES[table].column_names()
    is_telling = np.array([values_tell(table, name, known) for name in names])
    # what neither its name nor its values could make likely is not worth reading
    is_read = (by_name >= _WORTH_READING) | is_telling[None, :]
    is_read[by_name.max(axis=1) == 1.0] = by_name[by_name.max(axis=1) == 1.0] == 1.0
    fits = np.full(by_name.shape, 0.5)
    units = [named_unit(text) for text in head.texts.values()]
    units_named = [unit is not None for unit in units]
    for number, place in zip(*np.nonzero(is_read), strict=True):
        values, unit = below[list(head.ways)[number]], units[number]
        fits[number, place] = share_that_fits(
            values, table, names[place], context, known, unit, sheet.has_number_cells
        )
    likeness = by_name * (0.4 + 0.6 * fits)
    by_values = np.where(is_telling[None, :] & (fits >= _FITS_WELL), 0.55, 0.0)
    likeness = np.where(fits < _FITS_BADLY, 0.5 * likeness, np.maximum(likeness, by_values))
    # cells that nobody can read yet, below a heading of that very name, are asked for or refused
    is_other_unit = (fits == 0.0) & np.array(units_named)[:, None]
    is_named = (by_name >= _SAME_NAME) & ~is_other_unit
    likeness = np.where(is_named, np.maximum(likeness, LIKELY), likeness)
    if table in MADE_KEYS:
        # a key that is made where there is none need not be looked for in remarks
        likeness[:, 0] = np.where(likeness[:, 0] >= SURE, _KEY_LAST * likeness[:, 0], 0.0)
    for place in [names.index(name) for name in ONLY_WHEN_SURE if name in names]:
        likeness[:, place] = np.where(likeness[:, place] >= SURE, likeness[:, place], 0.0)
    for number, place in _named(head, table, context).items():
        # a load reads the column whatever stands below it, or nothing: there is no question
        likeness[number, place] = max(likeness[number, place], SURE)
    pairs = _paired(likeness, _needed(table))
    columns = tuple(
        _column_guess(below, table, cell, text, likeness, number, pairs)
        for number, (cell, text) in enumerate(head.texts.items())
    )
    rated = _table_likeness(sheet, table, head, likeness)
    return SheetGuess(sheet, table, rated, False, head.row_number, head.is_double, columns)


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
