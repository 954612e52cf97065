"""Rows against the contract of their table: limits, empty cells, rules over columns."""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache
from typing import TYPE_CHECKING

import dataframely as dy
import polars as pl

from planner.intake.problems import problems
from planner.intake.wording import expected, or_empty
from planner.tables import RULES, TABLES

if TYPE_CHECKING:
    from planner.intake.rows import Context, Rows

_REASONS = {
    "nullability": "empty",
    "min": "too small",
    "max": "too large",
    "min_exclusive": "too small",
    "min_length": "too short",
    "max_length": "too long",
}
PLANNED_TABLES = ("events", "waves", "offers", "orders")
"""Tables whose days may lie ahead of the day of loading."""

_KEY_RULE = "primary_key"  # repeats are settled before, with the row that came first


@lru_cache(maxsize=32)
def _numbered(table: str) -> type[dy.Schema]:
    """Make the table's contract with the row number beside its columns."""
    return type(f"Numbered{table.title()}", (TABLES[table],), {"row_number": dy.Int64()})


def check_contract(rows: Rows, context: Context) -> Rows:
    """Add a problem for each cell or row that breaks the contract of its table."""
    rows = _without_days_ahead(rows, context)
    contract = _numbered(rows.table)
    _, failure = contract.filter(contract.cast(rows.typed))
    broken = [rule for rule in failure.counts() if rule != _KEY_RULE]
    if not broken:
        return rows
    details = failure.details()
    found = [rows.problems]
    for rule in broken:
        failing = details.filter(pl.col(rule) == "invalid").select("row_number")
        found.append(_of_rule(rows, rule, failing, context))
    return replace(rows, problems=pl.concat(found))


def _without_days_ahead(rows: Rows, context: Context) -> Rows:
    """Add a problem for each day that has not come yet, but for days that are planned."""
    if context.loaded_on is None or rows.table in PLANNED_TABLES:
        return rows
    latest = context.country.date_text(context.loaded_on)
    found = [rows.problems]
    for column in rows.columns:
        if rows.typed.schema[column] != pl.Date:
            continue
        ahead = rows.typed.filter(pl.col(column) > context.loaded_on).select("row_number")
        cells = rows.cells(column).join(ahead, on="row_number", how="semi")
        wanted = (
            f"a day up to {latest}, the day of loading. Correct it{or_empty(rows.table, column)}."
        )
        found.append(problems(rows.place, cells, column, "a day still ahead", wanted))
    return replace(rows, problems=pl.concat(found))


def _of_rule(rows: Rows, rule: str, failing: pl.DataFrame, context: Context) -> pl.DataFrame:
    column, _, kind = rule.partition("|")
    if kind:
        known = rows.problems.filter(pl.col("column_name") == column)
        reason = _REASONS[kind]
        wanted = expected(rows.table, column, context.country, context.currency)
        wanted = f"{wanted}. Correct it{or_empty(rows.table, column)}."
        if kind == "nullability":
            wanted = wanted.replace("Correct it", "Fill it in")
    else:
        known = rows.problems
        column, reason, wanted = RULES[rule]
        wanted = f"{wanted}."
    fresh = failing.join(known.select("row_number"), on="row_number", how="anti")
    cells = rows.cells(column).join(fresh, on="row_number", how="semi")
    return problems(rows.place, cells, column, reason, wanted)
