"""planner size: how many bins, to whom, for what, how sure."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from planner import run
from planner.cli.options import ProgramFolder, command, print_table, say, show

if TYPE_CHECKING:
    from planner.report.plan.making import SizeResult


def size(
    program: ProgramFolder = Path(),
    *,
    year: Annotated[
        str | None,
        typer.Option(
            "--year",
            metavar="YEAR",
            help="Reporting year to plan, as 2026-27, or 2026 where it begins in January; "
            "the one after the newest record unless said.",
            show_default=False,
        ),
    ] = None,
) -> None:
    """Plan how many bins to give, to whom, for what money, and say how sure that is."""
    from planner.report.plan.words import decision_lines

    result = run.size(program, year, progress=say)
    for line in decision_lines(result.register, result.sizing):
        show(f"{line}\n")
    _print_scenarios(result)
    for one in result.sizing.scenarios:
        if one.why_not:
            show(f"Note: {one.why_not}")
    for note in result.notes:
        show(f"Note: {note}")
    show("\nFiles:")
    for path in result.files:
        typer.echo(f"  {path}")
    say("\nNext: open the workbook, change [sizing] in program.toml where it does not fit, then")
    say(f"  {command('size', program=program)}")


def _print_scenarios(result: SizeResult) -> None:
    from rich.table import Table

    from planner.report.wording import Wording

    wording, register = Wording.of(result.sizing.program), result.register
    table = Table(title="Other plans compared with this one", box=None, pad_edge=False)
    table.add_column("plan")
    for heading in ("bins", "tonnes kept out", "minus those of the plan", "cost per t"):
        table.add_column(heading, justify="right")
    table.add_row(
        "this plan",
        wording.amount(register["plan_bins"]),
        wording.figure(register["plan_kept_out_t"]),
        "",
        wording.amount(register["plan_cost_per_t"]),
    )
    for one in result.sizing.scenarios:
        if one.plan is None:
            table.add_row(one.name, "none keeps every limit", "", "", "")
            continue
        bins, tonnes, difference, cost = (
            register[f"plan_scenario_{name}[{one.name}]"]
            for name in ("bins", "kept_out_t", "kept_out_t_difference", "cost_per_t")
        )
        table.add_row(
            one.name,
            wording.amount(bins),
            wording.figure(tonnes),
            wording.difference(difference),
            wording.amount(cost),
        )
    print_table(table)
