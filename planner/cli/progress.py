"""planner progress: say how a year that runs is doing."""

from __future__ import annotations

from pathlib import Path

import typer

from planner import run
from planner.cli.options import AsOfDay, ProgramFolder, ReportedYear, say


def progress(
    program: ProgramFolder = Path(), *, year: ReportedYear = None, as_of: AsOfDay = None
) -> None:
    """Say how a year that runs is doing: pace, hand-over days, stock, money, what is due."""
    day = None if as_of is None else as_of.date()
    for path in run.progress(program, year, as_of=day, progress=say):
        typer.echo(path)
    say("Next: open the page, or send committee.docx, the half-page, to the committee.")
