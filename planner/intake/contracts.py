"""Rows against their columns, the contract of their table and each other: what is refused."""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache
from typing import TYPE_CHECKING

import dataframely as dy
import polars as pl

from planner.intake.meaning import folded, folded_text
from planner.intake.readings import currency_words
from planner.intake.rows import Rows
from planner.intake.vocabulary import MODEL_COLUMN
from planner.intake.wording import advice, not_read_reason, or_empty, said
from planner.intake.words import items_by_fold, near_names
from planner.messages import all_of, in_english, say
from planner.tables import (
    ITEM,
    ITEM_KIND,
    ITEM_KINDS,
    MADE_KEYS,
    RULES,
    TABLES,
    TOLD_BY,
    references,
)

if TYPE_CHECKING:
    from collections.abc import Callable


PLANNED_TABLES = ("events", "waves", "offers", "orders")
"""Tables whose days may lie ahead of the day of loading."""

SHIFTED = "reason.shifted"
_KEY_RULE = "primary_key"  # repeats are settled before, with the row that came first


@lru_cache(maxsize=32)
def _numbered(table: str) -> type[dy.Schema]:
    """Make the table's contract with the row number beside its columns."""
    return type(f"Numbered{table.title()}", (TABLES[table],), {"row_number": dy.Int64()})


def with_unread(rows: Rows) -> Rows:
    """Name the cells that hold something that could not be read, and rows that have moved."""
    found, country = [], rows.context.country
    for column in rows.columns:
        is_unread = rows.text[column].is_not_null() & rows.typed[column].is_null()
        if not is_unread.any():
            continue
        cells = rows.cells(column).filter(is_unread)
        unread = cells.join(rows.faulty(column), on="row_number", how="anti")
        unit = rows.headings.units.get(column)
        instead = advice(rows.table, column, country, unread["value"], unit)
        reason = not_read_reason(rows.table, column)
        both = said("advice.two_sentences", expected=rows.expected(column), instead=instead)
        found.append(rows.refused(unread, column, reason, both))
    return _with_shifted(rows.with_problems(*found))


def _with_shifted(rows: Rows) -> Rows:
    """Refuse rows of a text file with more cells than headings: their cells have moved.

    A comma in a number that stands without quotes does that, and a row would be read
    wrong without a sign of it.
    """
    if rows.source.has_number_cells or not rows.headings.beyond:
        return rows
    beyond = [pl.col(cell).is_not_null() for cell in rows.headings.beyond]
    longer = rows.source.cells.filter(pl.any_horizontal(beyond)).select("row_number")
    column = rows.columns[-1]
    cells = rows.cells(column).join(longer, on="row_number", how="semi")
    wanted = say("rows.one_cell_each")
    return rows.with_problems(rows.refused(cells, column, in_english(SHIFTED), wanted))


def check_contract(rows: Rows) -> Rows:
    """Add a problem for each cell or row that breaks the contract of its table."""
    rows = _without_days_ahead(rows)
    contract = _numbered(rows.table)
    _, failure = contract.filter(contract.cast(rows.typed))
    broken = [rule for rule in failure.counts() if rule != _KEY_RULE]
    if not broken:
        return rows
    details = failure.details()
    found = []
    for rule in broken:
        failing = details.filter(pl.col(rule) == "invalid").select("row_number")
        found.append(_of_rule(rows, rule, failing))
    return rows.with_problems(*found)


def _without_days_ahead(rows: Rows) -> Rows:
    """Add a problem for each day that has not come yet, but for days that are planned."""
    today = rows.context.loaded_on
    if today is None or rows.table in PLANNED_TABLES:
        return rows
    latest = rows.context.country.date_text(today)
    found = []
    for column in rows.columns:
        if rows.typed.schema[column] != pl.Date:
            continue
        ahead = rows.typed.filter(pl.col(column) > today).select("row_number")
        cells = rows.cells(column).join(ahead, on="row_number", how="semi")
        instead = say("advice.correct", rest=or_empty(rows.table, column))
        wanted = say("contracts.up_to_today", latest=latest, instead=instead)
        found.append(rows.refused(cells, column, in_english("reason.ahead"), wanted))
    return rows.with_problems(*found)


def _of_rule(rows: Rows, rule: str, failing: pl.DataFrame) -> pl.DataFrame:
    column, _, kind = rule.partition("|")
    if column in TOLD_BY and column not in rows.columns:
        return rows.problems.clear()  # the column that tells it is at fault
    if kind:
        known = rows.faulty(column)
        reason = in_english(f"reason.{kind.removesuffix('_exclusive')}")
        instead = say("advice.fill_in")
        if kind != "nullability":
            instead = say("advice.correct", rest=or_empty(rows.table, column))
        wanted = say("advice.two_sentences", expected=rows.expected(column), instead=f"{instead}.")
    else:
        known = rows.problems
        column, reason, wanted = RULES[rule], in_english(f"reason.{rule}"), say(f"rule.{rule}")
        wanted = f"{wanted}."
    fresh = failing.join(known.select("row_number"), on="row_number", how="anti")
    cells = rows.cells(column).join(fresh, on="row_number", how="semi")
    return rows.refused(cells, column, reason, wanted)


CONTRADICTION = "reason.contradiction"


def resolve_repeats(sheets: list[Rows]) -> list[Rows]:
    """Drop identical repeats and refuse rows that contradict an earlier row of their key."""
    stacked = pl.concat(
        rows.typed.with_columns(
            pl.lit(number, dtype=pl.Int64).alias("sheet_number"),
            pl.lit(rows.sheet).alias("sheet"),
            pl.col("row_number").is_in(rows.problems["row_number"].implode()).alias("is_unread"),
            rows.text.select(pl.concat_str(pl.col(rows.columns).fill_null(""), separator="\0"))
            .to_series()
            .alias("said"),
        )
        for number, rows in enumerate(sheets)
    )
    marked = _marked(stacked, sheets[0].table)
    if marked.is_empty():
        return sheets
    return [
        _settle(rows, marked.filter(pl.col("sheet_number") == number))
        for number, rows in enumerate(sheets)
    ]


def _marked(stacked: pl.DataFrame, table: str) -> pl.DataFrame:
    """Keep rows after the first of their key; say where that is and whether they agree."""
    key = TABLES[table].primary_key()
    others = [name for name in TABLES[table].column_names() if name not in key]
    keyed = stacked.filter(pl.all_horizontal(pl.col(name).is_not_null() for name in key))
    several = keyed.filter(pl.struct(key).is_duplicated())
    agrees = [pl.col(name).eq_missing(pl.col(name).first().over(key)) for name in others]
    read = [~pl.col("is_unread"), ~pl.col("is_unread").first().over(key)]
    return several.with_columns(
        pl.int_range(pl.len()).over(key).alias("place"),
        # two wrong rows that say the same are one row twice, whatever is wrong with it
        (
            pl.all_horizontal(*agrees, *read) | (pl.col("said") == pl.col("said").first().over(key))
        ).alias("is_repeat"),
        pl.col("row_number").first().over(key).alias("first_row"),
        pl.col("sheet").first().over(key).alias("first_sheet"),
    ).filter(pl.col("place") > 0)


def _settle(rows: Rows, marked: pl.DataFrame) -> Rows:
    repeats = marked.filter("is_repeat").select("row_number")
    differing = marked.filter(~pl.col("is_repeat"))
    key, sentence = tuple(TABLES[rows.table].primary_key()), "contracts.one_row"
    own = column = key[-1]
    if rows.table in MADE_KEYS and own not in rows.headings.cells:
        # a key that was made stands in no cell, nor does what every row holds
        key, sentence = MADE_KEYS[rows.table], "contracts.one_row_unnumbered"
        column = next(name for name in key if name in rows.headings.cells)
    found = rows.cells(column).join(
        differing.select("row_number", "first_row", "first_sheet"), on="row_number"
    )
    row, sheet = pl.col("first_row"), pl.col("first_sheet")
    place = (
        pl.when(sheet != rows.sheet)
        .then(said("contracts.row_of_sheet", row=row, sheet=sheet))
        .otherwise(said("contracts.row", row=row))
    )
    named = all_of(map(rows.headings.called, key))
    wanted = said(sentence, key=named, place=place, own=own)
    kept = rows.problems.join(repeats, on="row_number", how="anti")
    contradictions = rows.refused(found, column, in_english(CONTRADICTION), wanted)
    return replace(
        rows,
        text=rows.text.join(repeats, on="row_number", how="anti"),
        typed=rows.typed.join(repeats, on="row_number", how="anti"),
        problems=pl.concat([kept, contradictions]),
        repeated_count=repeats.height,
        repeats=rows.typed.join(repeats, on="row_number", how="semi"),
    )


CURRENCY = "currency"
_COMPARED_KEYS = 2_000


def check_links(
    rows: Rows,
    taken: dict[str, list[Rows]],
    known: Callable[[str], pl.DataFrame],
) -> Rows:
    """Add a problem for each cell that refers to a record that will not be there."""
    found = []
    for column, table in references(rows.table).items():
        if column in rows.written:
            # a record may refer to another of its own table, in the same sheet too
            parents = [*taken.get(table, []), *([rows] if table == rows.table else [])]
            found.append(_missing(rows, column, table, parents, known(table)))
    if MODEL_COLUMN in rows.written:
        found.append(_unknown_models(rows))
    if ITEM in rows.columns:
        found.append(_unknown_items(rows))
    if rows.table == "suppliers" and CURRENCY in rows.columns:
        found.append(_other_currencies(rows))
    return rows.with_problems(*found)


def _other_currencies(rows: Rows) -> pl.DataFrame:
    """Refuse suppliers who quote and invoice in another currency: amounts could not be summed."""
    currency, cells = rows.context.currency, _without_problem(rows, CURRENCY)
    other = cells.filter(
        ~pl.col("value").str.strip_chars(" .").str.to_lowercase().is_in(currency_words(currency))
    )
    wanted = say("links.other_currency", currency=currency)
    return rows.refused(other, CURRENCY, in_english("reason.other_currency"), wanted)


def _missing(
    rows: Rows, column: str, table: str, parents: list[Rows], stored: pl.DataFrame
) -> pl.DataFrame:
    target = TABLES[table].primary_key()[0]
    there = [stored[target], *(parent.good()[target] for parent in parents)]
    keys = pl.concat(there).cast(pl.String).unique().alias("key").to_frame()
    cells = _without_problem(rows, column).join(keys, left_on="value", right_on="key", how="anti")
    if cells.is_empty():
        return rows.problems.clear()
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
    few = keys["key"].drop_nulls() if keys.height <= _COMPARED_KEYS else ()
    likest = near_names(cells["value"], {folded(key): key for key in few})
    alike = {text: say("advice.near", near=key) for text, key in likest.items()}
    hint = pl.coalesce(
        pl.when(differs_in_case)
        .then(said("advice.capitals", **near_key))
        .otherwise(said("advice.near", **near_key)),
        pl.col("value").replace_strict(alike, default=None, return_dtype=pl.String),
        pl.lit(say("links.load_its_row", table=table)),
    )
    wanted = (
        pl.when(is_refused)
        .then(pl.lit(say("links.fix_that_row", key=target, table=table)))
        .otherwise(said("links.key_of_row", key=target, table=table, hint=hint))
    )
    return rows.refused(hinted, column, reason, wanted)


def _without_problem(rows: Rows, column: str) -> pl.DataFrame:
    """Cells of a column that are filled and have no problem of their own yet."""
    read = rows.typed.select("row_number", pl.col(column).alias("value")).drop_nulls()
    return read.join(rows.faulty(column), on="row_number", how="anti").join(
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


def _unknown_models(rows: Rows) -> pl.DataFrame:
    models, cells = rows.context.models, _without_problem(rows, MODEL_COLUMN)
    unknown = cells.filter(~pl.col("value").is_in(list(models)))
    wanted = say("links.model", models=", ".join(models))
    return rows.refused(unknown, MODEL_COLUMN, in_english("reason.no_model"), wanted)


def _unknown_items(rows: Rows) -> pl.DataFrame:
    """Refuse items that are no bin model and no good that the planner knows."""
    items = items_by_fold(rows.table, rows.context).select("kind", "fold", "key")
    kind = pl.col(ITEM_KIND).cast(pl.String).alias("kind")
    # an item that tells no kind is none that is known
    kind = kind if ITEM_KIND in rows.columns else kind.fill_null("any")
    kinds = rows.typed.select("row_number", kind).drop_nulls()
    cells = _without_problem(rows, ITEM).join(kinds, on="row_number")
    cells = cells.with_columns(folded_text(pl.col("value")).alias("fold"))
    unknown = cells.join(items, on=["kind", "fold"], how="anti")
    keys = {one: items.filter(kind=one)["key"].unique(maintain_order=True) for one in ITEM_KINDS}
    listed = {one: ", ".join(found) for one, found in keys.items()}
    ways = {one: say(f"links.item.{one}", items=listed[one]) for one in listed}
    ways["any"] = say("links.item.any", **listed)
    wanted = pl.col("kind").replace_strict(ways, return_dtype=pl.String)
    return rows.refused(unknown, ITEM, in_english("reason.no_item"), wanted)
