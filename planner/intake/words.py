"""Words of coded columns and names of records, and how well cells fit a column."""

from __future__ import annotations

from typing import TYPE_CHECKING

import dataframely as dy
import polars as pl
from rapidfuzz import fuzz, process

from planner.intake.cells import parsed
from planner.intake.meaning import folded, folded_text, unit_of
from planner.intake.readings import read_again
from planner.intake.rows import HOUSEHOLD, NAME_SIGNS
from planner.intake.vocabulary import MODEL_COLUMN, bedding_materials
from planner.tables import (
    CALLED_BY,
    ITEM,
    ITEM_KIND,
    ITEM_KINDS,
    NAMES,
    TABLES,
    codes,
    references,
)

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from planner.intake.meaning import Unit
    from planner.intake.rows import Context


NEAR_LIKENESS = 75.0
"""Likeness in per cent from which a word is proposed for a known one."""

FOLDED_SCHEMA = {"fold": pl.String, "key": pl.String}


def keys_by_fold(table: str, records: Iterable[pl.DataFrame]) -> pl.DataFrame:
    """Keys of a table by what a sheet may write for them: the key or the name of the record.

    Returns
    -------
    pl.DataFrame
        ``fold``, without case, accents, spaces and signs, and ``key``; a fold that names
        two records is left out.
    """
    key, name = TABLES[table].primary_key()[0], CALLED_BY.get(table)
    parts = [pl.DataFrame(schema=FOLDED_SCHEMA)]
    for frame in records:
        for column in (key, name):
            if column in frame.columns:
                text = pl.col(column).cast(pl.String)
                parts.append(
                    frame.select(
                        folded_text(text).alias("fold"), pl.col(key).cast(pl.String).alias("key")
                    )
                )
    found = pl.concat(parts).drop_nulls().filter(pl.col("fold") != "").unique()
    return found.filter(~pl.col("fold").is_duplicated())


def items_by_fold(table: str, context: Context) -> pl.DataFrame:
    """List the goods that a sheet of a table may name: ``kind``, ``fold`` and ``key``.

    What is weighed together in store bears the name of its kind, and so do bins where there is
    one model; a quote says which species or material it is of.
    """
    models = [(text, model) for model, name in context.models.items() for text in (model, name)]
    of_kind = {} if table == "offers" else {"worms": "worms", "bedding": "bedding"}
    of_kind |= dict.fromkeys(
        ["bins"] if len(context.models) == 1 else [], next(iter(context.models))
    )
    said = {**{kind: kind for kind in ITEM_KINDS}, **context.vocabulary.synonyms[ITEM_KIND]}
    goods = [
        *(("bins", *one) for one in models),
        *(("worms", species, species) for species in context.species),
        *(("bedding", material, material) for material in bedding_materials()),
        *((kind, word, of_kind[kind]) for word, kind in said.items() if kind in of_kind),
    ]
    found = pl.DataFrame(
        [(kind, folded(text), key) for kind, text, key in goods],
        schema=["kind", "fold", "key"],
        orient="row",
    )
    return found.unique("fold", keep="first", maintain_order=True)


def names_a_record(table: str, column: str) -> bool:
    """Tell whether a column may hold the name of a record instead of its key."""
    return references(table).get(column) in NAMES


def language(
    table: str,
    column: str,
    context: Context,
    known: Mapping[str, pl.DataFrame],
    *,
    least_letters: int = 2,
) -> dict[str, str]:
    """For a column of codes, or that names records, what each known word stands for.

    Words are folded; a column of another kind has none. A single letter for yes or no is near
    to any other letter, so it counts only where `least_letters` is 1.
    """
    declared = TABLES[table].columns()[column]
    said = context.vocabulary.synonyms.get(column, {})
    if isinstance(declared, dy.Enum):
        return {**{folded(code): code for code in codes(table, column)}, **said}
    if isinstance(declared, dy.Bool):
        yes = {folded(word): "yes" for word in context.country.yes if len(word) >= least_letters}
        no = {folded(word): "no" for word in context.country.no if len(word) >= least_letters}
        return {**yes, **no, **said}
    if column == MODEL_COLUMN:
        names = [(text, model) for model, name in context.models.items() for text in (model, name)]
        return {**{folded(text): model for text, model in names}, **said}
    if column == ITEM:
        return {**dict(items_by_fold(table, context).select("fold", "key").iter_rows()), **said}
    if names_a_record(table, column):
        frame = known.get(references(table)[column], pl.DataFrame(schema=FOLDED_SCHEMA))
        return {**dict(frame.select("fold", "key").iter_rows()), **said}
    return {}


def unread_words(
    table: str,
    column: str,
    values: pl.Series,
    context: Context,
    known: Mapping[str, pl.DataFrame],
) -> pl.DataFrame:
    """List the words of a column that stand for nothing known: ``word``, ``count``."""
    meanings = language(table, column, context, known)
    counts = values.drop_nulls().alias(column).to_frame().group_by(column, maintain_order=True)
    words = counts.agg(pl.len().alias("count"))
    if not meanings:
        return words.clear().rename({column: "word"})
    again = read_again(words[column], table, column, context, None)["found"]
    folds = folded_text(pl.col(column)).is_in(list(meanings))
    folds |= pl.col(column).is_in(again.implode())
    read = context.vocabulary.read(column).alias(column)
    is_read = (
        pl.lit(value=False)
        if isinstance(TABLES[table].columns()[column], dy.String)
        else parsed(table, column, context.country, has_number_cells=True).is_not_null()
    )
    marked = words.with_columns(folds.alias("is_known")).with_columns(read)
    unread = marked.select(~(pl.col("is_known") | is_read).alias("unread"))["unread"]
    return words.filter(unread).rename({column: "word"})


def digits_of(text: str) -> str:
    """Keep the digits: in a series W11 and W12 are two, however alike they look.

    Examples
    --------
    >>> digits_of("Autumn 2025, round 2")
    '20252'
    """
    return "".join(sign for sign in text if sign.isdigit())


def near_word(word: str, meanings: Mapping[str, str]) -> tuple[str | None, float]:
    """Find what a word is likely to stand for, and how alike it is from 0 to 1.

    Examples
    --------
    >>> near_word("Centre-Vile", {"centreville": "CV", "nord": "N"})
    ('CV', 0.95...)
    >>> near_word("odeur", {"other": "other"})
    (None, 0.0)
    """
    found = process.extractOne(
        folded(word), meanings.keys(), scorer=fuzz.ratio, score_cutoff=NEAR_LIKENESS
    )
    return (None, 0.0) if found is None else (meanings[found[0]], found[1] / 100.0)


_SERIAL = "serial"
"""A text that no two records share, beside keys."""

_SAMPLED_TEXTS = 60

_CHOICES, _REPEATED = 12, 2
"""Words that a form lets one choose from at most; rows to each of them at least."""


def values_tell(table: str, column: str, known: Mapping[str, pl.DataFrame]) -> bool:
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
