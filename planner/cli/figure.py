"""planner figure: say a figure of the issued report in one sentence."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from planner import run
from planner.cli.options import ProgramFolder, ReportedYear, command, say


def figure(
    figure_id: Annotated[
        str,
        typer.Argument(
            metavar="ID", help="Id of a figure, as kept_out_of_landfill_t.", show_default=False
        ),
    ],
    program: ProgramFolder = Path(),
    *,
    year: ReportedYear = None,
) -> None:
    """Say a figure of the issued report in one sentence for the press, with range and caution."""
    quote = run.figure(program, figure_id, year)
    typer.echo(quote.sentence)
    for note in quote.notes:
        say(f"Note: {note}")
    say("Next: for how it came about, run")
    say(f"  {command('explain', figure_id, program=program)}")
