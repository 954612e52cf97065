"""What a figure rests on, and says: records, published factors, a sentence for the press."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from planner import run
from planner.cli.options import (
    File,
    ProgramFolder,
    ReportedYear,
    advise,
    print_note,
    print_table,
    show,
    show_notes,
    start_table,
)
from planner.cli.reporting import HEADLINE_IDS
from planner.messages import officer_messages, say

if TYPE_CHECKING:
    from collections.abc import Iterable

    from planner.factors import Factor
    from planner.factors.listing import EditionComparison


def explain(
    figure: Annotated[str | None, typer.Argument(metavar="ID")] = None,
    program: ProgramFolder = Path(),
    *,
    year: ReportedYear = None,
    rows: File = None,
) -> None:
    """Say how a figure of a report, plan, order or nursery came about, down to its records."""
    if figure is None:
        typer.echo("\n".join(HEADLINE_IDS))
        print_note(say("explain.name_one"))
        return
    show(run.explain(program, figure, year, rows))
    if rows is not None:
        print_note("\n" + say("explain.keys", file=str(rows)))
    print_note(say("explain.another"))


def figure(
    figure_id: Annotated[str, typer.Argument(metavar="ID", show_default=False)],
    program: ProgramFolder = Path(),
    *,
    year: ReportedYear = None,
) -> None:
    """Say a figure of the issued report in one sentence for the press, with range and caution."""
    from planner.report.press import press_quote

    quote = press_quote(program, figure_id, year)
    show(quote.sentence)
    show_notes(quote.notes, print_note)
    advise(say("console.next_figure"), "explain", figure_id, program=program)


def factors(
    words: Annotated[list[str] | None, typer.Argument(metavar="WORDS")] = None,
    program: ProgramFolder = Path(),
    *,
    table: Annotated[str, typer.Option(metavar="TABLE", show_default=False)] = "",
    edition: Annotated[str, typer.Option(metavar="EDITION", show_default=False)] = "",
    compare: Annotated[bool, typer.Option("--compare")] = False,
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
    numbers = [say(f"factor_list.{name}") for name in ("value", "low", "high")]
    shown = start_table([say("factor_list.factor_and_unit")], numbers)
    evidence_head = say("factor_list.evidence")
    shown.add_column(evidence_head)
    words, table = officer_messages(), ""
    for row in found:
        if row.table != table:
            table = row.table
            shown.add_row(f"[{table}]")
        limits = ("" if one is None else words.significant(one) for one in (row.low, row.high))
        named = f"  {row.name}\n    {words.unit_words(row.unit)}"
        evidence = say(f"factor_list.evidence.{row.evidence}")
        shown.add_row(named, words.significant(row.value), *limits, evidence)
    print_table(shown, spare=evidence_head)


def _print_side_by_side(compared: EditionComparison) -> None:
    editions = [name or say("factor_list.plain") for name in compared.editions]
    shown = start_table([say("factor_list.factor")], editions)
    shown.add_column(say("factor_list.unit"))
    for rows in compared.rows:
        values = (_value(row) for row in rows)
        unit = officer_messages().unit_words(rows[0].unit)
        shown.add_row("/".join(part for part in rows[0].key[:2] if part), *values, unit)
    print_table(shown)
    show()


def _value(row: Factor) -> str:
    number = officer_messages().significant
    low, high = row.limits
    spread = "\n" + say("explain.span", first=number(low), last=number(high))
    own = f" {say('factor_list.is_own')}" if row.is_own else ""
    return f"{number(row.value)}{own}{'' if low == high else spread}"


def _print_next(found: tuple[Factor, ...]) -> None:
    own = sum(row.is_own for row in found)
    if own:
        print_note(say("factor_list.own", own))
    print_note(say("factor_list.next", len(found)))
