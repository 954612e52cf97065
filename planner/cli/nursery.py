"""planner nursery: when to seed beds of one's own, with how much, against buying."""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from typing import Annotated

import typer

from planner import run
from planner.cli.options import ProgramFolder, command, say
from planner.ordering.steps import DAYS_AHEAD, Asked
from planner.report.breeding.writing import decision, left_out
from planner.report.wording import Wording


def nursery(
    program: ProgramFolder = Path(),
    *,
    from_day: Annotated[
        dt.datetime | None,
        typer.Option(
            "--from",
            formats=["%Y-%m-%d"],
            metavar="YYYY-MM-DD",
            help="First day; today unless said.",
        ),
    ] = None,
    until: Annotated[
        dt.datetime | None,
        typer.Option(
            formats=["%Y-%m-%d"],
            metavar="YYYY-MM-DD",
            help="Last hand-over day to serve; a year on unless said.",
        ),
    ] = None,
) -> None:
    """Plan a nursery for the hand-over days ahead, and set it against buying worms."""
    first = from_day.date() if from_day else dt.datetime.now().astimezone().date()
    last = until.date() if until else first + dt.timedelta(days=DAYS_AHEAD)
    result = run.nursery(program, Asked(first, last), progress=say)
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
