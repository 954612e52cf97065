"""planner evidence: write what stands behind every figure, for an auditor."""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from typing import Annotated

import typer

from planner import run
from planner.cli.options import ProgramFolder, say


def evidence(
    target: Annotated[Path, typer.Argument(metavar="DIR", help="Folder to make for the evidence.")],
    program: ProgramFolder = Path(),
    *,
    year: Annotated[
        str | None,
        typer.Option(
            "--year",
            metavar="YEAR",
            help="Reporting year, as 2025-26; the newest with records unless said.",
            show_default=False,
        ),
    ] = None,
    as_of: Annotated[
        dt.datetime | None,
        typer.Option(
            "--as-of",
            metavar="DAY",
            formats=["%Y-%m-%d"],
            help="Day up to which everything is recorded, as 2025-11-30.",
            show_default=False,
        ),
    ] = None,
) -> None:
    """Write the rows, factors, settings and digests behind every figure of a year."""
    day = as_of.date() if as_of else None
    files = run.evidence(program, target, year, as_of=day, progress=say)
    for path in files:
        typer.echo(path)
    say(
        "Next: read read_me.txt there. Rows are of single households: give it to the auditor alone."
    )
