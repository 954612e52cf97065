"""How like the columns of a table headings are: by their words, and by what stands below them."""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING

import dataframely as dy
import numpy as np
import polars as pl
from rapidfuzz import fuzz, process

from planner.arrays import Numbers
from planner.intake.cells import parsed, plain_words
from planner.intake.headings import table_of_label
from planner.intake.meaning import UNITS, folded_text, meaning, price_breaks, unaccented, unit_of
from planner.intake.readings import TICKS, read_again
from planner.intake.rows import HOUSEHOLD, NAME_SIGNS
from planner.intake.words import each_choice
from planner.tables import NAMES, TABLES, references

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from planner.intake.meaning import Unit
    from planner.intake.rows import Context

_SHIPPED = Path(__file__).with_name("heading_words.csv")


_BARE = 0.95
_STRANGERS, _PLAINLY = ("supplier_id", "supplier_name", "site_id"), 0.75
_SERIAL = "serial"
"""A text that no two records share, beside keys."""


_SAMPLED_TEXTS = 60


_CHOICES, _REPEATED = 12, 2
"""Words that a form lets one choose from at most; rows to each of them at least."""


@dataclass(frozen=True)
class Head:
    """A row that may hold headings: for each of the sheet's columns what it may be called."""

    row_number: int
    ways: dict[str, list[str]]

    @property
    def texts(self) -> dict[str, str]:
        """The fullest name of each column."""
        return {cell: ways[-1] for cell, ways in self.ways.items()}


def names_likeness(head: Head, table: str, context: Context) -> Numbers:
    """Rate each heading by name as each column of a table: headings × columns."""
    words, places = _words_of(table)
    texts = [_plain(text) for text in head.texts.values()]
    likeness = np.zeros((len(texts), len(TABLES[table].column_names())))
    np.maximum.at(likeness.T, np.array(places), _rated(texts, words).T)
    if bare := [_plain(ways[0]) for ways in head.ways.values() if len(ways) > 1]:
        # below a group "Tél." is a telephone, whatever the group is called
        is_grouped = [len(ways) > 1 for ways in head.ways.values()]
        alone = np.zeros((len(bare), likeness.shape[1]))
        np.maximum.at(alone.T, np.array(places), _rated(bare, words).T)
        likeness[is_grouped] = np.maximum(likeness[is_grouped], _BARE * alone)
    # a remark, and what is a column of another table to the letter, as a mail, is none of this one
    others = {word for named in _shipped_words()[1].values() for word in named}.difference(words)
    remarks = {*plain_words("remarks")}
    is_own = [any({*word.split()} <= {*text.split()} for word in words) for text in texts]
    is_other = [
        (text in others and not own) or not remarks.isdisjoint(text.split())
        for text, own in zip(texts, is_own, strict=True)
    ]
    likeness[np.array(is_other) & (likeness.max(axis=1) < 1.0)] = 0.0
    _tell_names_from_keys(list(head.texts.values()), table, likeness)
    for number, place in named_outright(head, table, context).items():
        likeness[number] = 0.0
        likeness[number, place] = 1.0
    # whom to ring at a supplier or a school is no household
    strangers = {word for name in _STRANGERS for word in _shipped_words()[1][name]}
    is_unnumbered = table == "contacts" and likeness[:, 0].max(initial=0.0) < _PLAINLY
    if is_unnumbered and not strangers.isdisjoint(texts):
        likeness[:] = 0.0
    return likeness


def _rated(texts: Sequence[str], words: Sequence[str]) -> Numbers:
    """Rate texts by how like each word they are."""
    whole = process.cdist(texts, words, scorer=fuzz.token_sort_ratio)
    within = process.cdist(texts, words, scorer=fuzz.token_set_ratio)
    rated: Numbers = np.maximum(whole, 0.85 * within) / 100.0
    return rated


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


def named_outright(head: Head, table: str, context: Context) -> dict[int, int]:
    """Columns that the program file or their own name says, which is no guess, by heading."""
    names, council_words = TABLES[table].column_names(), context.vocabulary.columns_of(table)
    found = {}
    for number, ways in enumerate(head.ways.values()):
        for way in ways:
            said = meaning(table, way, council_words)
            if said is not None:
                found[number] = names.index(said.column)
    breaks = price_breaks(ways[0] for ways in head.ways.values()) if table == "offers" else {}
    for number, (heading, *_) in enumerate(head.ways.values()):
        if heading in breaks:
            found.setdefault(number, names.index(breaks[heading]))
    return found


def label_likeness(label: str, table: str) -> float:
    """Rate from 0 to 1 how much the name of a sheet or file says that it holds a table."""
    if table_of_label(label) == table:
        return 1.0
    if {*unaccented(label).lower().split()} & {*plain_words("form")}:
        return 0.0  # forms call whatever they ask "responses"
    words = _shipped_words()[0][table]
    rated = process.cdist([_plain(label)], words, scorer=fuzz.token_set_ratio)
    return float(rated.max() / 100.0) if rated.max() >= 80 else 0.0


@lru_cache(maxsize=1)
def _shipped_words() -> tuple[dict[str, list[str]], dict[str, list[str]]]:
    """Read the words for tables and for columns, in several languages, after their own names."""
    rows = pl.read_csv(_SHIPPED, infer_schema=False)
    tables = {table: [_plain(table)] for table in TABLES}
    columns = {name: [_plain(name)] for one in TABLES.values() for name in one.column_names()}
    for kind, name, word in rows.select("names", "name", "word").iter_rows():
        (tables if kind == "table" else columns)[name].append(_plain(word))
    return tables, columns


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


def values_identify_column(table: str, column: str, known: Mapping[str, pl.DataFrame]) -> bool:
    """Tell whether values alone may show the column: codes, and keys that are known."""
    if isinstance(TABLES[table].columns()[column], dy.Enum):
        return True
    target = references(table).get(column, "")
    return target in known and not known[target].is_empty()


def share_that_fits(
    values: pl.Series,
    table: str,
    column: str,
    context: Context,
    known: Mapping[str, pl.DataFrame],
    unit: Unit | None,
    has_number_cells: bool,
) -> float:
    """Share of the values that the column could hold; 0.5 where there are none to judge by."""
    values = each_choice(values, table, column, context)
    texts = values.drop_nulls().unique(maintain_order=True).head(_SAMPLED_TEXTS).alias(column)
    if texts.is_empty():
        return 0.5
    target = references(table).get(column, "")
    if target in known and not known[target].is_empty():
        folds = texts.to_frame().select(folded_text(pl.col(column))).to_series()
        return _share(folds.is_in(known[target]["fold"].implode()))
    declared = TABLES[table].columns()[column]
    if isinstance(declared, dy.String):
        fit = _text_fit(values, declared, TABLES[table].primary_key() == [column])
        if column == _SERIAL:
            fit *= _share_of_own(values)
        # whom a row is about may be a name, but no household is known by one
        return fit * (1.0 - _share(texts.str.contains(NAME_SIGNS))) if column == HOUSEHOLD else fit
    if unit is not None and unit.column_unit != unit_of(table, column):
        return 0.0
    worded = texts.to_frame().select(context.vocabulary.read(column).alias(column))
    read = worded.select(
        parsed(table, column, context.country, has_number_cells=has_number_cells).alias("read")
    )["read"]
    if unit is not None and not unit.is_of_column:
        read = pl.Series("read", [None] * len(read), read.dtype)
    again = read_again(worded.filter(read.is_null())[column], table, column, context, unit)
    read = pl.concat([read.drop_nulls(), again["value"].cast(read.dtype)])
    if isinstance(declared, dy.Float64 | dy.Int64 | dy.Date):
        low, high = declared.min, declared.max
        fits = pl.repeat(value=True, n=read.len(), eager=True)
        fits &= (read >= low).fill_null(False) if low is not None else True
        fits &= (read <= high).fill_null(False) if high is not None else True
        return int(fits.sum()) / texts.len()
    fit = read.len() / texts.len()
    # a form's own choices are words that the officer is asked for, and no sign of another column
    return max(fit, 0.5) if isinstance(declared, dy.Enum) and _are_choices(values) else fit


def are_marks(values: pl.Series, context: Context) -> bool:
    """Tell whether cells only mark what is so or done, as ticks and "given" do."""
    texts = values.drop_nulls().unique().str.to_lowercase().str.strip_chars(" .!")
    words = (*context.country.yes, *context.country.no, *plain_words("done"))
    # "N" may be an area and "1" an event
    marks = ["x", *TICKS, *(word for word in words if len(word) > 1 and not word[0].isdigit())]
    return not texts.is_empty() and bool(texts.is_in(marks).all())


def _are_choices(values: pl.Series) -> bool:
    """Tell whether a few words stand in many rows, as what one may choose from in a form."""
    words = values.drop_nulls()
    is_few = 1 < words.n_unique() <= min(_CHOICES, words.len() // _REPEATED)
    return is_few and bool(words.str.contains(r"^\s*\p{L}").all())


def _share(flags: pl.Series) -> float:
    return int(flags.sum()) / max(flags.len(), 1)


def _text_fit(values: pl.Series, declared: dy.String, is_key: bool) -> float:
    """Rate a column of free text or keys: of that length, no numbers with a fraction, no dates."""
    texts = values.drop_nulls()
    is_measure = texts.str.contains(r"^\d+[.,]\d+|^\d{1,4}[-/.]\d{1,2}[-/.]\d{1,4}")
    is_long = texts.str.len_chars() > (declared.max_length or 0)
    fit = 1.0 - _share(is_measure | is_long)
    if not is_key:
        return (0.9 if declared.primary_key else 0.8) * fit
    return fit * _share_of_own(values)


def _share_of_own(values: pl.Series) -> float:
    texts = values.drop_nulls()
    return float(texts.n_unique() / texts.len())
