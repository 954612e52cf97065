"""Columns that refer to another table, and the bin model, against what is known."""

from __future__ import annotations

import difflib
from dataclasses import replace
from functools import lru_cache
from typing import TYPE_CHECKING

import polars as pl

from planner.errors import LONGEST_NEAR
from planner.factors import read_factors
from planner.intake.meaning import folded, folded_text
from planner.intake.problems import problems
from planner.intake.readings import currency_words
from planner.intake.vocabulary import MODEL_COLUMN
from planner.intake.wording import said
from planner.intake.words import digits_of
from planner.messages import in_english, say
from planner.tables import TABLES, references

if TYPE_CHECKING:
    from collections.abc import Callable

    from planner.intake.rows import Context, Rows

ITEM_KIND, ITEM = "item_kind", "item_id"
CURRENCY = "currency"
_OF_EVERY_MATERIAL = "carbon_to_nitrogen_ratio"
_NEAR_LIMIT = 200
_COMPARED_KEYS = 2_000


def check_links(
    rows: Rows,
    taken: dict[str, list[Rows]],
    known: Callable[[str], pl.DataFrame],
    context: Context,
) -> Rows:
    """Add a problem for each cell that refers to a record that will not be there.

    Parameters
    ----------
    taken
        For each table before this one, the checked sheets of the same command.
    """
    found = [rows.problems]
    for column, table in references(rows.table).items():
        if column in rows.written:
            # a record may refer to another of its own table, in the same sheet too
            parents = [*taken.get(table, []), *([rows] if table == rows.table else [])]
            found.append(_missing(rows, column, table, parents, known(table)))
    if MODEL_COLUMN in rows.written:
        found.append(_unknown_models(rows, context.models))
    if {ITEM_KIND, ITEM} <= set(rows.columns):
        found.append(_unknown_items(rows, context))
    if rows.table == "suppliers" and CURRENCY in rows.columns:
        found.append(_other_currencies(rows, context.currency))
    return replace(rows, problems=pl.concat(found))


def _other_currencies(rows: Rows, currency: str) -> pl.DataFrame:
    """Refuse suppliers who quote and invoice in another currency: amounts could not be summed."""
    cells = _without_problem(rows, CURRENCY)
    other = cells.filter(
        ~pl.col("value").str.strip_chars(" .").str.to_lowercase().is_in(currency_words(currency))
    )
    wanted = say("links.other_currency", currency=currency)
    return problems(rows.place, other, CURRENCY, in_english("reason.other_currency"), wanted)


def _missing(
    rows: Rows, column: str, table: str, parents: list[Rows], stored: pl.DataFrame
) -> pl.DataFrame:
    target = TABLES[table].primary_key()[0]
    there = [stored[target], *(parent.good()[target] for parent in parents)]
    keys = pl.concat(there).cast(pl.String).unique().alias("key").to_frame()
    cells = _without_problem(rows, column).join(keys, left_on="value", right_on="key", how="anti")
    refused = [parent.typed[target] for parent in parents]
    in_files = pl.concat(refused).unique().alias("key") if refused else pl.Series("key", [""])
    near = _folded(keys.get_column("key").to_frame())
    hinted = cells.with_columns(_fold(pl.col("value")).alias("folded")).join(
        near, on="folded", how="left"
    )
    is_refused = pl.col("value").is_in(in_files.implode())
    reason = (
        pl.when(is_refused)
        .then(pl.lit(in_english("reason.waiting", table=table)))
        .otherwise(pl.lit(in_english("reason.missing", table=table)))
    )
    differs_in_case = pl.col("value").str.to_lowercase() == pl.col("near").str.to_lowercase()
    near_key = {"near": pl.col("near")}
    hint = pl.coalesce(
        pl.when(differs_in_case)
        .then(said("advice.capitals", **near_key))
        .otherwise(said("advice.near", **near_key)),
        _alike(cells["value"], keys["key"]),
        pl.lit(say("links.load_its_row", table=table)),
    )
    wanted = (
        pl.when(is_refused)
        .then(pl.lit(say("links.fix_that_row", key=target, table=table)))
        .otherwise(said("links.key_of_row", key=target, table=table, hint=hint))
    )
    return problems(rows.place, hinted, column, reason, wanted)


def _without_problem(rows: Rows, column: str) -> pl.DataFrame:
    """Cells of a column that are filled and have no problem of their own yet."""
    known = rows.problems.filter(pl.col("column_name") == column).select("row_number")
    read = rows.typed.select("row_number", pl.col(column).alias("value")).drop_nulls()
    return read.join(known, on="row_number", how="anti").join(
        rows.cells(column).select("row_number", "record_key"), on="row_number", how="left"
    )


def _fold(key: pl.Expr) -> pl.Expr:
    """Write a key as one might mistype it: no case, no signs, no zeros ahead."""
    plain = key.str.to_lowercase().str.replace_all(r"[\W_]+", "")
    return plain.str.replace(r"^([a-z]*)0+(\d)", "$1$2")


def _folded(keys: pl.DataFrame) -> pl.DataFrame:
    """Keys by their folded form, where that names one alone."""
    folded = keys.select(_fold(pl.col("key")).alias("folded"), pl.col("key").alias("near"))
    return folded.filter(~pl.col("folded").is_duplicated())


def _alike(found: pl.Series, keys: pl.Series) -> pl.Expr:
    """Ask whether the key most like each text is meant, where keys are few.

    Only keys with the same digits are asked for: in a series H011 and H018 are two households
    however alike they look.
    """
    texts = found.unique().head(_NEAR_LIMIT).to_list() if keys.len() <= _COMPARED_KEYS else []
    known: dict[str, list[str]] = {}
    for key in keys.drop_nulls().to_list():
        known.setdefault(digits_of(key), []).append(key)
    near = {
        text: difflib.get_close_matches(
            text[:LONGEST_NEAR], known.get(digits_of(text), []), n=1, cutoff=0.75
        )
        for text in texts
    }
    hints = {text: say("advice.near", near=names[0]) for text, names in near.items() if names}
    if not hints:
        return pl.lit(None, dtype=pl.String)
    return pl.col("value").replace_strict(hints, default=None, return_dtype=pl.String)


def _unknown_models(rows: Rows, models: dict[str, str]) -> pl.DataFrame:
    cells = _without_problem(rows, MODEL_COLUMN)
    unknown = cells.filter(~pl.col("value").is_in(list(models)))
    wanted = say("links.model", models=", ".join(models))
    return problems(rows.place, unknown, MODEL_COLUMN, in_english("reason.no_model"), wanted)


def _unknown_items(rows: Rows, context: Context) -> pl.DataFrame:
    """Refuse items that are no bin model and no good that the planner knows."""
    species = list(context.species)
    known = {"bins": list(context.models), "worms": species, "bedding": bedding_materials()}
    allowed = pl.DataFrame(
        [
            (kind, folded(name))
            for kind, names in known.items()
            # what is weighed together in store bears the name of its kind
            for name in (*names, *([] if kind == "bins" else [kind]))
        ],
        schema=["kind", "fold"],
        orient="row",
    )
    kinds = rows.typed.select("row_number", pl.col(ITEM_KIND).cast(pl.String).alias("kind"))
    cells = _without_problem(rows, ITEM).join(kinds.drop_nulls(), on="row_number")
    cells = cells.with_columns(folded_text(pl.col("value")).alias("fold"))
    unknown = cells.join(allowed, on=["kind", "fold"], how="anti")
    wanted = pl.col("kind").replace_strict(
        {kind: say(f"links.item.{kind}", items=", ".join(known[kind])) for kind in known},
        return_dtype=pl.String,
    )
    return problems(rows.place, unknown, ITEM, in_english("reason.no_item"), wanted)


@lru_cache(maxsize=1)
def bedding_materials() -> list[str]:
    """List the bedding materials whose properties are published."""
    named = (one.applies_to for one in read_factors() if one.factor_id == _OF_EVERY_MATERIAL)
    return [name for name in dict.fromkeys(named) if name]
