"""planner size: how many bins, to whom, for what, how sure."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from planner import run
from planner.cli.options import ProgramFolder, command, print_table, show
from planner.cli.options import say as tell
from planner.messages import officers_words, say

if TYPE_CHECKING:
    from planner.report.plan.making import SizeResult
    from planner.report.wording import Wording


def size(
    program: ProgramFolder = Path(),
    *,
    year: Annotated[
        str | None,
        typer.Option(
            "--year",
            metavar="YEAR",
            help="usage.size.year",
            show_default=False,
        ),
    ] = None,
) -> None:
    """Plan how many bins to give, to whom, for what money, and say how sure that is."""
    from planner.report.plan.words import decision_lines
    from planner.report.wording import Wording

    result = run.size(program, year, progress=tell)
    wording = Wording.for_officer(result.sizing.program)
    with officers_words():
        for line in decision_lines(result.register, result.sizing, wording):
            show(f"{line}\n")
        _print_scenarios(result, wording)
    for one in result.sizing.scenarios:
        if one.why_not:
            show(say("console.note", note=one.why_not))
    for note in result.notes:
        show(say("console.note", note=note))
    show(f"\n{say('console.files')}")
    for path in result.files:
        typer.echo(f"  {path}")
    tell(f"\n{say('size.next')}")
    tell(f"  {command('size', program=program)}")


def _print_scenarios(result: SizeResult, wording: Wording) -> None:
    from rich.table import Table

    from planner.report.plan.words import named

    register = result.register
    table = Table(title=say("size.others"), box=None, pad_edge=False)
    table.add_column(say("size.plan"))
    for heading in ("bins", "tonnes", "minus", "cost"):
        table.add_column(say(f"size.{heading}"), justify="right")
    table.add_row(
        say("size.this_plan"),
        wording.amount(register["plan_bins"]),
        wording.figure(register["plan_kept_out_t"]),
        "",
        wording.amount(register["plan_cost_per_t"]),
    )
    for one in result.sizing.scenarios:
        if one.plan is None:
            table.add_row(named("scenario", one.name), say("size.none_keeps"), "", "", "")
            continue
        bins, tonnes, difference, cost = (
            register[f"plan_scenario_{name}[{one.name}]"]
            for name in ("bins", "kept_out_t", "kept_out_t_difference", "cost_per_t")
        )
        table.add_row(
            named("scenario", one.name),
            wording.amount(bins),
            wording.figure(tonnes),
            wording.difference(difference, register["plan_kept_out_t"]),
            wording.amount(cost),
        )
    print_table(table)
