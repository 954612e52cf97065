"""The council's own factors, put in place of published ones and marked as its own."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from typing import TYPE_CHECKING, Protocol

from planner.errors import FactorError
from planner.factors.table import OWN, Factor, FactorTable, Source, row_words
from planner.messages import did_you_mean, say

if TYPE_CHECKING:
    from collections.abc import Sequence

CROSSCHECKS = "crosschecks"
"""The table of government factors per tonne, which stand beside results and never in them."""


class OwnRow(Protocol):
    """A [[factors]] block of the program file."""

    @property
    def factor_id(self) -> str: ...  # noqa: D102 - named as in Factor
    @property
    def applies_to(self) -> str: ...  # noqa: D102
    @property
    def edition(self) -> str: ...  # noqa: D102
    @property
    def value(self) -> float: ...  # noqa: D102
    @property
    def low(self) -> float | None: ...  # noqa: D102
    @property
    def high(self) -> float | None: ...  # noqa: D102
    @property
    def shape(self) -> str | None: ...  # noqa: D102
    @property
    def unit(self) -> str: ...  # noqa: D102
    @property
    def source(self) -> str | None: ...  # noqa: D102


def with_own(table: FactorTable, own: Sequence[OwnRow], council: str) -> FactorTable:
    """Put the council's own factors in place of the published rows they name.

    A row keeps its names, so that whatever looks it up finds the council's number, and
    its place in the table; its source, evidence and note say that it is the council's own
    and what it stands for. With a range and no shape it is triangular.

    Raises
    ------
    FactorError
        A factor is unknown, of another unit, a cross-check, given twice, or out of the
        limits of its kind; the message lists every case.
    """
    if not own:
        return table
    rows = {factor.key: factor for factor in table}
    sources, problems, places = dict(table.sources), [], Counter[tuple[str, str, str]]()
    for place, one in enumerate(own, 1):
        named = _rows_of(table, one)
        problem = _problem(table, one, named)
        if problem:
            problems.append(f"  {one.factor_id}: {problem}")
            continue
        source_id = f"{OWN}_{place}"
        source = str(one.source).strip()
        sources[source_id] = Source(source_id, source, "program.toml", None, council)
        for published in named:
            rows[published.key] = _own_factor(published, one, source_id)
        places.update(published.key for published in named)
    twice = sorted("/".join(part for part in key if part) for key, n in places.items() if n > 1)
    problems += [f"  {name}: {say('factor.own.twice')}" for name in twice]
    if problems:
        message = "\n".join([say("factor.own.to_fix"), *problems])
        raise FactorError(message, path="program.toml")
    return FactorTable(tuple(rows.values()), sources)


def _rows_of(table: FactorTable, one: OwnRow) -> list[Factor]:
    """Rows that a block names; where one applies to everything, that one alone without a name."""
    named = [
        factor
        for factor in table
        if factor.factor_id == one.factor_id
        and one.applies_to in ("", factor.applies_to)
        and one.edition in ("", factor.edition)
    ]
    return [factor for factor in named if factor.applies_to == one.applies_to] or named


def _problem(table: FactorTable, one: OwnRow, named: list[Factor]) -> str:
    known = [factor for factor in table if factor.factor_id == one.factor_id]
    if not known:
        near = did_you_mean(one.factor_id, {factor.factor_id for factor in table}, most=3)
        return say("factor.own.unknown", hint=f"{near} " if near else "")
    if known[0].table == CROSSCHECKS:
        return say("factor.own.crosscheck")
    if not named:
        return _no_such_row(one, known)
    applied = sorted({factor.applies_to for factor in named})
    if len(applied) > 1:
        choices = ", ".join(f'"{name}"' for name in applied if name)
        return say("factor.own.which_row", choices=choices)
    units = sorted({factor.unit for factor in named})
    if _plain(one.unit) not in {_plain(unit) for unit in units}:
        wanted = " / ".join(f'"{unit}"' for unit in units)
        return say("factor.own.unit", unit=one.unit, wanted=wanted)
    return _out_of_limits(one)


def _out_of_limits(one: OwnRow) -> str:
    low = one.value if one.low is None else one.low
    high = one.value if one.high is None else one.high
    if one.factor_id.endswith("_share") and not 0.0 <= low <= high <= 1.0:
        return say("factor.own.no_share", low=f"{low:g}", high=f"{high:g}")
    if one.shape == "lognormal" and low <= 0.0:
        return say("factor.own.lognormal", low=f"{low:g}")
    return ""


def _no_such_row(one: OwnRow, known: list[Factor]) -> str:
    asked = ", ".join(part for part in (one.applies_to, one.edition) if part)
    there = "; ".join(row_words(factor.applies_to, factor.edition) for factor in known)
    return f"{say('factor.own.no_row', asked=asked)} {say('number.there_are', names=there)}"


def _plain(unit: str) -> str:
    """Spell a unit without the differences that mean nothing."""
    return " ".join(unit.lower().replace("-", "").split())


def _own_factor(published: Factor, one: OwnRow, source_id: str) -> Factor:
    has_range = one.low is not None and one.low != one.high
    return replace(
        published,
        value=one.value,
        low=one.low,
        high=one.high,
        shape=one.shape if has_range and one.shape else ("triangular" if has_range else "fixed"),
        applies_from=None,
        evidence=OWN,
        seen="yes",
        source_id=source_id,
        source_place="[[factors]]",
        in_place_of=published,
    )
