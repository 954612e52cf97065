"""planner report: write the year's figures, workbook and charts."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from planner import run
from planner.cli.headlines import print_headlines
from planner.cli.options import ProgramFolder, command, say


def report(
    program: ProgramFolder = Path(),
    *,
    year: Annotated[
        str | None,
        typer.Option(
            "--year",
            metavar="YEAR",
            help="Reporting year, as 2025-26, or 2025 where it begins in January; "
            "the newest with records unless said.",
            show_default=False,
        ),
    ] = None,
) -> None:
    """Write a reporting year's figures, workbook and charts."""
    result = run.report(program, year, progress=say)
    print_headlines(result)
    say("\nNext: open the workbook, or say how a figure came about:")
    say(f"  {command('explain', 'kept_out_of_landfill_t', program=program)}")
