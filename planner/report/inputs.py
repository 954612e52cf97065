"""Inputs of figures, in the words that explain prints."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from planner.figures import FigureRegister, Input
from planner.messages import paper
from planner.report.disclosure import is_small

if TYPE_CHECKING:
    from collections.abc import Iterable

    import polars as pl

    from planner.factors import Factor, FactorTable
    from planner.program import Privacy

OF_HOUSEHOLDS = (
    "diary_pairs",
    "diary_weeks",
    "followup_answers",
    "prior_shares",
    "use_intervals",
    "wave_frames",
)
"""Queries of which each row is a household."""


def of_query(name: str, rows: pl.DataFrame | None = None) -> Input:
    """Name a query with the rows it counted, where these may be told."""
    return Input("query", name, "" if rows is None else paper().say("input.rows", rows.height))


def of_figures(*ids: str) -> tuple[Input, ...]:
    """Name other figures."""
    return tuple(Input("figure", name) for name in ids)


def of_key(key: str, value: object) -> Input:
    """Name a key of program.toml with its value."""
    return Input("program", key, str(value))


def of_factors(table: FactorTable, factors: Iterable[Factor]) -> tuple[Input, ...]:
    """Name published factors with value, range, unit, source and place."""
    return tuple(Input("factor", _factor_name(f), _factor_detail(table, f)) for f in factors)


def without_small_counts(register: FigureRegister, privacy: Privacy) -> FigureRegister:
    """Say "fewer than" where a query behind a figure counted few households.

    Where the answers of one survey round are not shown, rows of all rounds together are
    not told either: those of the others would give them away.
    """
    told = replace(register, _figures={})
    threshold = privacy.small_cell_threshold
    rounds = register.parts("response_share").values()
    tells_sums = all(one.value is not None for one in rounds)
    for figure in register:
        inputs = tuple(
            _without_small(item, threshold, tells_sums=tells_sums) for item in figure.inputs
        )
        told.add(replace(figure, inputs=inputs))
    return told


def _without_small(item: Input, threshold: int, *, tells_sums: bool) -> Input:
    if item.kind != "query" or item.name not in OF_HOUSEHOLDS:
        return item
    if not tells_sums:
        return replace(item, detail="")
    rows = int("".join(filter(str.isdigit, item.detail)))
    if not is_small(rows, threshold):
        return item
    return replace(item, detail=paper().say("input.few_rows", threshold=threshold))


def _factor_name(factor: Factor) -> str:
    return "/".join(part for part in factor.key if part)


def _factor_detail(table: FactorTable, factor: Factor) -> str:
    low, high = factor.limits
    words = paper()
    say = words.say
    value, unit = words.significant(factor.value), words.unit_words(factor.unit)
    is_range = low != high and factor.shape != "fixed"
    spread = (
        say("input.range", low=words.significant(low), high=words.significant(high))
        if is_range
        else ""
    )
    source = table.source(factor.source_id)
    memory = say("input.not_read") if factor.seen == "memory" else ""
    assumed = say("input.assumed") if factor.evidence == "assumed" else ""
    where = factor.remark(words) if factor.is_own else factor.place(words)
    place = f", {where}" if where else ""
    return f"{value}{spread} {unit}. {assumed}{source.cited(words)}{place}{memory}"
