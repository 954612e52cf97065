"""Inputs of figures, in the words that explain prints."""

from __future__ import annotations

from typing import TYPE_CHECKING

from planner.figures import Input

if TYPE_CHECKING:
    from collections.abc import Iterable

    import polars as pl

    from planner.factors import Factor, FactorTable


def of_query(name: str, rows: pl.DataFrame) -> Input:
    """Name a query with the rows it counted."""
    return Input("query", name, f"{rows.height:,} rows")


def of_figures(*ids: str) -> tuple[Input, ...]:
    """Name other figures."""
    return tuple(Input("figure", name) for name in ids)


def of_key(key: str, value: object) -> Input:
    """Name a key of program.toml with its value."""
    return Input("program", key, str(value))


def of_factors(table: FactorTable, factors: Iterable[Factor]) -> tuple[Input, ...]:
    """Name published factors with value, range, unit, source and place."""
    return tuple(Input("factor", _factor_name(f), _factor_detail(table, f)) for f in factors)


def _factor_name(factor: Factor) -> str:
    return "/".join(part for part in factor.key if part)


def _factor_detail(table: FactorTable, factor: Factor) -> str:
    low, high = factor.limits
    spread = "" if low == high or factor.shape == "fixed" else f" ({low:g} to {high:g})"
    source = table.source(factor.source_id)
    memory = ", from memory" if factor.seen == "memory" else ""
    assumed = "Assumed. " if factor.evidence == "assumed" else ""
    place = f", {factor.source_place}" if factor.source_place else ""
    return f"{factor.value:g}{spread} {factor.unit}. {assumed}{source.citation}{place}{memory}"
