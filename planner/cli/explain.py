"""planner explain: say how a figure came about."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from planner import run
from planner.cli.headlines import HEADLINE_IDS
from planner.cli.options import ProgramFolder, say

WHERE_IDS_ARE = (
    "figures.csv in report/, sizing/, nursery/ and each folder of orders/ lists the ids."
)


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
            help="Explain a figure of what is kept for this year; of the last report, plan or "
            "order unless said.",
            show_default=False,
        ),
    ] = None,
) -> None:
    """Say how a figure of a report, plan, order or nursery came about, down to its records."""
    if figure is None:
        typer.echo("\n".join(HEADLINE_IDS))
        say(f"Next: name one of these; {WHERE_IDS_ARE}")
        return
    typer.echo(run.explain(program, figure, year))
    say(f"Next: explain another; {WHERE_IDS_ARE}")
