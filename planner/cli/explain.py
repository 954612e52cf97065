"""planner explain: say how a figure came about."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from planner import run
from planner.cli.options import ProgramFolder, say


def explain(
    figure: Annotated[
        str,
        typer.Argument(
            metavar="ID", help='Id of a figure, as fed_t or "kept_out_of_landfill_t[AREA]".'
        ),
    ],
    program: ProgramFolder = Path(),
) -> None:
    """Say how a figure of the last report came about, down to records and factors."""
    typer.echo(run.explain(program, figure))
    say("Next: the ids of all figures are in report/figures.csv.")
