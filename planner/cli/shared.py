"""planner sites and planner workshops: what shared bins take, and what workshops go with."""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from typing import Annotated

import typer

from planner import run
from planner.cli.options import ProgramFolder, ReportedYear, say


def sites(program: ProgramFolder = Path(), *, year: ReportedYear = None) -> None:
    """Say what schools, flats and cafes feed their bins, and how many keep them."""
    from planner.field.shared_words import site_lines

    label, found = run.sites(program, year)
    typer.echo(f"Schools, flats, cafes and other sites, {label}")
    for line in site_lines(found):
        typer.echo(line)
    say("Next: ask sites that have not weighed for one weighed week a month, and load it.")


def workshops(
    program: ProgramFolder = Path(),
    *,
    day: Annotated[
        dt.datetime | None,
        typer.Option(
            formats=["%Y-%m-%d"],
            metavar="YYYY-MM-DD",
            help="Day up to which records count; today unless said.",
        ),
    ] = None,
) -> None:
    """Say who came to workshops, and whether they keep their bins longer."""
    from planner.field.shared_words import workshop_lines

    on_date = day.date() if day else dt.datetime.now().astimezone().date()
    for line in workshop_lines(run.workshops(program, on_date)):
        typer.echo(line)
    say("Next: `planner followup` lists who needs a call, whether they came or not.")
