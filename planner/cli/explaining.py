"""What stands behind a figure: its records and published factors."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from planner import messages, run
from planner.cli.options import ProgramFolder, print_table, say, show
from planner.cli.reporting import HEADLINE_IDS

if TYPE_CHECKING:
    from collections.abc import Iterable

    from planner.factors import Factor
    from planner.factors.listing import SideBySide


def explain(
    figure: Annotated[
        str | None,
        typer.Argument(
            metavar="[ID]",
            help="usage.explain.figure",
            show_default=False,
        ),
    ] = None,
    program: ProgramFolder = Path(),
    *,
    year: Annotated[
        str | None,
        typer.Option(
            "--year",
            metavar="YEAR",
            help="usage.explain.year",
            show_default=False,
        ),
    ] = None,
    rows: Annotated[
        Path | None,
        typer.Option(
            "--rows",
            metavar="FILE",
            help="usage.explain.rows",
            show_default=False,
        ),
    ] = None,
) -> None:
    """Say how a figure of a report, plan, order or nursery came about, down to its records."""
    if figure is None:
        typer.echo("\n".join(HEADLINE_IDS))
        say(messages.say("explain.name_one"))
        return
    show(run.explain(program, figure, year, rows))
    if rows is not None:
        say("\n" + messages.say("explain.keys", file=str(rows)))
    say(messages.say("explain.another"))


def factors(
    words: Annotated[
        list[str] | None,
        typer.Argument(
            metavar="[WORDS]...",
            help="usage.factors.words",
            show_default=False,
        ),
    ] = None,
    program: ProgramFolder = Path(),
    *,
    table: Annotated[
        str, typer.Option(metavar="TABLE", help="usage.factors.table", show_default=False)
    ] = "",
    edition: Annotated[
        str,
        typer.Option(metavar="EDITION", help="usage.factors.edition", show_default=False),
    ] = "",
    compare: Annotated[bool, typer.Option("--compare", help="usage.factors.compare")] = False,
) -> None:
    """List published factors and the council's own, compare editions, tell one in full."""
    from planner.factors.listing import in_full, matching, side_by_side

    known = run.factors(program)
    found = matching(known, words or (), table, edition)
    if compare:
        for shown in side_by_side(found):
            _print_side_by_side(shown)
    elif len({row.factor_id for row in found}) == 1:
        show("\n\n".join(in_full(known, row) for row in found))
    else:
        _print_list(found)
    _print_next(found)


def _print_list(found: Iterable[Factor]) -> None:
    from rich.table import Table

    shown = Table(box=None, pad_edge=False)
    shown.add_column(messages.say("factor_list.factor_and_unit"))
    for name in ("value", "low", "high"):
        shown.add_column(messages.say(f"factor_list.{name}"), justify="right")
    evidence_head = messages.say("factor_list.evidence")
    shown.add_column(evidence_head)
    words, table = messages.spoken(), ""
    for row in found:
        if row.table != table:
            table = row.table
            shown.add_row(f"[{table}]")
        limits = ("" if one is None else words.significant(one) for one in (row.low, row.high))
        evidence = messages.say(f"factor_list.evidence.{row.evidence}")
        shown.add_row(
            f"  {row.name}\n    {words.unit_words(row.unit)}",
            words.significant(row.value),
            *limits,
            evidence,
        )
    print_table(shown, spare=evidence_head)


def _print_side_by_side(compared: SideBySide) -> None:
    from rich.table import Table

    shown = Table(box=None, pad_edge=False)
    shown.add_column(messages.say("factor_list.factor"))
    for name in compared.editions:
        shown.add_column(name or messages.say("factor_list.plain"), justify="right")
    shown.add_column(messages.say("factor_list.unit"))
    for rows in compared.rows:
        values = (_value(row) for row in rows)
        unit = messages.spoken().unit_words(rows[0].unit)
        shown.add_row("/".join(part for part in rows[0].key[:2] if part), *values, unit)
    print_table(shown)
    show()


def _value(row: Factor) -> str:
    number = messages.spoken().significant
    low, high = row.limits
    spread = "\n" + messages.say("explain.span", first=number(low), last=number(high))
    own = f" {messages.say('factor_list.is_own')}" if row.is_own else ""
    return f"{number(row.value)}{own}{'' if low == high else spread}"


def _print_next(found: tuple[Factor, ...]) -> None:
    own = sum(row.is_own for row in found)
    if own:
        say(messages.say("factor_list.own", own))
    say(messages.say("factor_list.next", len(found)))
