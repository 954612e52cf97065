"""planner explain: say how a figure came about."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from planner import run
from planner.cli.headlines import HEADLINE_IDS
from planner.cli.options import ProgramFolder, say


def explain(
    figure: Annotated[
        str | None,
        typer.Argument(
            metavar="[ID]",
            help='Id of a figure, as fed_t or "kept_out_of_landfill_t[AREA]"; the main ids are '
            "listed where none is named.",
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
            help="Explain a figure of the report kept for this year; of the last one unless said.",
            show_default=False,
        ),
    ] = None,
) -> None:
    """Say how a figure of a report came about, down to records, factors and draws."""
    if figure is None:
        typer.echo("\n".join(HEADLINE_IDS))
        say("Next: name one of these; report/figures.csv lists all.")
        return
    typer.echo(run.explain(program, figure, year))
    say("Next: report/figures.csv lists the ids of all figures.")
