"""planner evidence: write what stands behind every figure, for an auditor."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from planner import run
from planner.cli.options import AsOfDay, ProgramFolder, ReportedYear, say


def evidence(
    target: Annotated[Path, typer.Argument(metavar="DIR", help="Folder to make for the evidence.")],
    program: ProgramFolder = Path(),
    *,
    year: ReportedYear = None,
    as_of: AsOfDay = None,
) -> None:
    """Write the rows, factors, settings and digests behind every figure of a year."""
    day = as_of.date() if as_of else None
    files = run.evidence(program, target, year, as_of=day, progress=say)
    for path in files:
        typer.echo(path)
    say(
        "Next: read read_me.txt there. Rows are of single households: give it to the auditor alone."
    )
