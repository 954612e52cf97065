"""planner nursery: when to seed beds of one's own, with how much, against buying."""

from __future__ import annotations

from pathlib import Path

import typer

from planner import run
from planner.cli.options import FromDay, ProgramFolder, UntilDay, asked_days, command, say
from planner.ordering.request import OrderRequest


def nursery(
    program: ProgramFolder = Path(),
    *,
    from_day: FromDay = None,
    until: UntilDay = None,
) -> None:
    """Plan a nursery for the hand-over days ahead, and set it against buying worms."""
    from planner.report.nursery import decision, left_out
    from planner.report.wording import Wording

    first, last = asked_days(from_day, until)
    result = run.nursery(program, OrderRequest(first, last), progress=say)
    wording = Wording.of(result.program)
    for one in result.found.seedings:
        if one.plan is None:
            typer.echo(f"{wording.day(one.seed_date)}: {one.reason}")
        else:
            typer.echo(
                f"{wording.day(one.seed_date)}: seed {one.plan.seed_kg:,.1f} kg on "
                f"{one.plan.area_m2:,.1f} m², {wording.money(one.cost)}"
            )
    typer.echo(decision(result.found, wording))
    if left_out(result.program):
        typer.echo(f"Note: {left_out(result.program)}")
    typer.echo("\nFiles:")
    for path in result.files:
        typer.echo(f"  {path}")
    say("\nNext: order what is not bred:")
    say(f"  {command('order', '--dry-run', program=program)}")
