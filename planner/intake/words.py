"""Words of coded columns and names of records, and the codes and keys that they stand for."""

from __future__ import annotations

import re
from dataclasses import replace
from typing import TYPE_CHECKING

import dataframely as dy
import polars as pl
from rapidfuzz import fuzz, process

from planner.intake.cells import parsed
from planner.intake.confirming import NEAR_NAME, with_values
from planner.intake.meaning import folded, folded_text
from planner.intake.readings import choices_in, read_again, words_of_codes
from planner.intake.vocabulary import MODEL_COLUMN, bedding_materials
from planner.tables import (
    CALLED_BY,
    ITEM,
    ITEM_KIND,
    ITEM_KINDS,
    NAMES,
    TABLES,
    references,
)

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Mapping

    from planner.intake.rows import Context, Rows


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


def may_hold_record_name(table: str, column: str) -> bool:
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
        return words_of_codes(table, column, context)
    if isinstance(declared, dy.Bool):
        yes = {folded(word): "yes" for word in context.country.yes if len(word) >= least_letters}
        no = {folded(word): "no" for word in context.country.no if len(word) >= least_letters}
        return {**yes, **no, **said}
    if column == MODEL_COLUMN:
        names = [(text, model) for model, name in context.models.items() for text in (model, name)]
        return {**{folded(text): model for text, model in names}, **said}
    if column == ITEM:
        return {**dict(items_by_fold(table, context).select("fold", "key").iter_rows()), **said}
    if may_hold_record_name(table, column):
        frame = known.get(references(table)[column], pl.DataFrame(schema=FOLDED_SCHEMA))
        return {**dict(frame.select("fold", "key").iter_rows()), **said}
    return {}


def each_choice(values: pl.Series, table: str, column: str, context: Context) -> pl.Series:
    """Part the cells of a column of codes in which a form joins several choices."""
    if not isinstance(TABLES[table].columns()[column], dy.Enum):
        return values
    texts = values.drop_nulls().unique(maintain_order=True).to_list()
    known = {*words_of_codes(table, column, context), *map(folded, texts)}
    # a cell is no choice of its own between whose words a comma parts
    parted = {text: choices_in(text, known - {folded(text)}) for text in texts}
    return values.replace_strict(parted, default=None, return_dtype=pl.List(pl.String)).explode()


def unread_words(
    table: str,
    column: str,
    values: pl.Series,
    context: Context,
    known: Mapping[str, pl.DataFrame],
) -> pl.DataFrame:
    """List the words of a column that stand for nothing known: ``word``, ``count``."""
    meanings = language(table, column, context, known)
    texts = each_choice(values, table, column, context).drop_nulls().alias(column)
    counts = texts.to_frame().group_by(column, maintain_order=True)
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


NEAR_NAMES = 200
"""Names of a column that are compared with those there are; more are another column's."""


def near_names(texts: pl.Series, meanings: Mapping[str, str]) -> dict[str, str]:
    """Find what each text is likely to stand for among what has the same digits.

    In a series of codes W11 and W12 are two areas, however alike they look.

    Examples
    --------
    >>> near_names(pl.Series(["Rond 2", "Rond 3"]), {"round2": "R2", "round4": "R4"})
    {'Rond 2': 'R2'}
    """
    alike: dict[str, dict[str, str]] = {}
    for fold, key in meanings.items():
        alike.setdefault(re.sub(r"\D", "", fold), {})[fold] = key
    several = texts.unique(maintain_order=True).head(NEAR_NAMES).to_list()
    near = {text: near_word(text, alike.get(re.sub(r"\D", "", text), {}))[0] for text in several}
    return {text: key for text, key in near.items() if key}


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


def with_names(rows: Rows, there: Callable[[str], list[pl.DataFrame]]) -> Rows:
    """Read names of areas, events, suppliers and bin models as their codes.

    A name is read when it is one record's but for case, accents, spaces and signs; a name
    that is near one is proposed.
    """
    rows = _with_stored_names(rows, there)
    for column, table in references(rows.table).items():
        if column in rows.written and table in CALLED_BY:
            frames = there(table)
            key = TABLES[table].primary_key()[0]
            keys = pl.concat([frame[key].cast(pl.String) for frame in frames]).unique()
            rows = _with_keys(rows, column, keys, keys_by_fold(table, frames))
    if MODEL_COLUMN in rows.written:
        models = pl.DataFrame(
            [
                (text, model)
                for model, name in rows.context.models.items()
                for text in (model, name)
            ],
            schema=["fold", "key"],
            orient="row",
        )
        by_fold = models.with_columns(folded_text(pl.col("fold"))).unique()
        rows = _with_keys(rows, MODEL_COLUMN, models["key"].unique(), by_fold)
    return _with_items(rows) if ITEM in rows.columns else rows


def _with_items(rows: Rows) -> Rows:
    """Read names of goods as their codes, and where no heading gives the kind, the kind too."""
    items = items_by_fold(rows.table, rows.context)
    rows = _with_keys(rows, ITEM, items["key"].unique(), items.select("fold", "key"))
    if ITEM_KIND in rows.written:
        return rows
    kinds = dict(items.select("key", "kind").iter_rows())
    kind_type = rows.typed.schema[ITEM_KIND]
    kind = pl.col(ITEM).replace_strict(kinds, default=None, return_dtype=kind_type)
    typed = rows.typed.with_columns(kind.alias(ITEM_KIND))
    return replace(rows, typed=typed, filled=(*rows.filled, ITEM_KIND))


def _with_stored_names(rows: Rows, there: Callable[[str], list[pl.DataFrame]]) -> Rows:
    """Leave records the names they have where the sheet gives no name beside the key."""
    key, name = TABLES[rows.table].primary_key()[0], NAMES.get(rows.table, "")
    cells = rows.headings.cells
    if name not in cells or cells[name] != cells.get(key):
        return rows
    stored = there(rows.table)[0]
    if name not in stored.columns:
        return rows
    names = stored.select(key, pl.col(name).alias("stored"))
    joined = rows.typed.join(names, on=key, how="left", maintain_order="left")
    typed = joined.with_columns(pl.coalesce("stored", name).alias(name)).drop("stored")
    return replace(rows, typed=typed)


def _with_keys(rows: Rows, column: str, keys: pl.Series, by_fold: pl.DataFrame) -> Rows:
    """Put the key in the place of each name; propose the nearest name for the others."""
    others = rows.typed.select("row_number", pl.col(column).alias("found")).drop_nulls()
    others = others.filter(~pl.col("found").is_in(keys.implode()))
    if others.is_empty():
        return rows
    folds = others.with_columns(folded_text(pl.col("found")).alias("fold"))
    named = folds.join(by_fold.rename({"key": "value"}), on="fold", how="left")
    named = named.with_columns(pl.lit("name").alias("kind"))
    near = near_names(
        named.filter(pl.col("value").is_null())["found"],
        dict(by_fold.select("fold", "key").iter_rows()),
    )
    proposed = named.filter(pl.col("value").is_null()).with_columns(
        pl.col("found").replace_strict(near, default=None, return_dtype=pl.String).alias("value"),
        pl.lit(NEAR_NAME).alias("kind"),
    )
    cells = pl.concat([named.drop_nulls("value"), proposed.drop_nulls("value")])
    return rows if cells.is_empty() else with_values(rows, column, cells)
