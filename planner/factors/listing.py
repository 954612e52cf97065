"""The factor tables as a reader wants them: filtered, side by side, or one told in full."""

from __future__ import annotations

import textwrap
from dataclasses import dataclass
from typing import TYPE_CHECKING

from planner.errors import FactorError
from planner.factors.own import CROSSCHECKS
from planner.messages import did_you_mean, officer_messages, or_known, say

if TYPE_CHECKING:
    from collections.abc import Sequence

    from planner.factors.table import Factor, FactorTable

WIDTH, NAME_WIDTH = 100, 12
DIGITS = 10


@dataclass(frozen=True)
class EditionComparison:
    """Factors that the same editions give."""

    editions: tuple[str, ...]  # names of the editions, in the order of the tables
    # for each factor and what it applies to, a row of each edition
    rows: tuple[tuple[Factor, ...], ...]


def matching(
    table: FactorTable, words: Sequence[str] = (), of_table: str = "", edition: str = ""
) -> tuple[Factor, ...]:
    """Find the factors that hold every word, in one table or of one edition.

    A word that is a factor's id means that factor alone. Any other is looked for in id,
    what it applies to, edition, unit, source and note, in small or capital letters.

    Raises
    ------
    FactorError
        No such table or edition, or no factor holds the words.

    Examples
    --------
    >>> from planner.factors import read_factors
    >>> [row.edition for row in matching(read_factors(), ["methane", "gwp100"], edition="ar6")]
    ['ar6']
    """
    _must_be_known("table", of_table, [row.table for row in table])
    _must_be_known("edition", edition, [row.edition for row in table])
    ids = {row.factor_id for row in table}
    exact = [word for word in words if word in ids]
    found = tuple(
        row
        for row in table
        if of_table in ("", row.table)
        and edition in ("", row.edition)
        and (row.factor_id in exact or not exact)
        and all(word in ids or word.casefold() in _text(table, row) for word in words)
    )
    if not found:
        raise FactorError(_nothing_found(words, of_table, edition, ids))
    return found


def side_by_side(factors: Sequence[Factor]) -> tuple[EditionComparison, ...]:
    """Set editions of the same factor side by side; those of one edition are left out.

    Raises
    ------
    FactorError
        None of them has a second edition.

    Examples
    --------
    >>> from planner.factors import read_factors
    >>> shown = side_by_side(matching(read_factors(), ["food_decomposing_carbon_share"]))
    >>> shown[0].editions[:2], [row[0].value for row in shown[0].rows]
    (('ipcc_2006', 'ipcc_2019'), [0.5])
    """
    groups: dict[tuple[str, str], list[Factor]] = {}
    for row in factors:
        groups.setdefault((row.factor_id, row.applies_to), []).append(row)
    tables: dict[tuple[str, ...], list[tuple[Factor, ...]]] = {}
    for rows in groups.values():
        if len(rows) > 1:
            tables.setdefault(tuple(row.edition for row in rows), []).append(tuple(rows))
    if not tables:
        raise FactorError(say("factor_list.no_editions"))
    return tuple(EditionComparison(editions, tuple(rows)) for editions, rows in tables.items())


def in_full(table: FactorTable, factor: Factor) -> str:
    """Tell a factor with its range, shape, evidence, source and place, line by line."""
    source = table.source(factor.source_id)
    low, high = factor.limits
    words = officer_messages()
    limits = {"first": words.significant(low, DIGITS), "last": words.significant(high, DIGITS)}
    spread = "" if low == high else f", {say('explain.span', **limits)}"
    shape, unit = say(f"factor_list.shape.{factor.shape}"), words.unit_words(factor.unit)
    read_on = source.date_read
    dated = say("factor_list.read_on", day=words.day(read_on)) if read_on else ""
    how = (f"factor_list.evidence.{factor.evidence}", f"factor_list.seen.{factor.seen}")
    evidence = "; ".join(say(key) for key in how)
    lines = (
        ("", factor.name),
        ("value", f"{words.significant(factor.value, DIGITS)}{spread} {unit} ({shape})"),
        ("applies_to", factor.applied(words)),
        ("edition", factor.edition),
        ("since", words.day(factor.applies_from) if factor.applies_from else ""),
        ("evidence", say("factor_list.council") if factor.is_own else evidence),
        ("source", source.cited(words)),
        ("place", factor.place(words)),
        ("address", f"{words.text(source.address)}{dated}"),
        ("note", factor.remark(words)),
        ("table", factor.table),
        ("use", say("factor_list.crosscheck") if factor.table == CROSSCHECKS else ""),
    )
    return "\n".join(_line(name, text) for name, text in lines if text)


def _line(name: str, text: str) -> str:
    if not name:
        return text
    begin = f"  {say(f'factor_list.{name}'):<{NAME_WIDTH}}"
    return textwrap.fill(
        text,
        WIDTH,
        initial_indent=begin,
        subsequent_indent=" " * len(begin),
        break_long_words=False,
        break_on_hyphens=False,
    )


def _text(table: FactorTable, row: Factor) -> str:
    source = table.source(row.source_id)
    words = officer_messages()
    said = (row.title(words), row.remark(words), row.place(words), source.cited(words))
    parts = (*row.key, row.unit, *said, row.evidence)
    return " ".join(parts).casefold()


def _must_be_known(kind: str, name: str, known: Sequence[str]) -> None:
    names = sorted({one for one in known if one})
    if name and name not in names:
        found = say("factor_list.unknown", option=f"--{kind}", name=name)
        there = or_known("", names)
        message = " ".join(part for part in (found, did_you_mean(name, names), there) if part)
        raise FactorError(message)


def _nothing_found(words: Sequence[str], of_table: str, edition: str, ids: set[str]) -> str:
    asked = " ".join(
        [
            *words,
            *([f"--table {of_table}"] if of_table else []),
            *([f"--edition {edition}"] if edition else []),
        ]
    )
    near = (did_you_mean(word, ids, most=2) for word in words)
    hint = next(filter(None, near), say("factor_list.fewer_words"))
    return f"{say('factor_list.none', asked=asked)} {hint}"
