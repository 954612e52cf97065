"""planner report: write the year's figures, workbook, charts, Word document and page."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from planner import run
from planner.cli.headlines import print_headlines
from planner.cli.options import AsOfDay, ProgramFolder, ReportedYear, command, say


def report(
    program: ProgramFolder = Path(),
    *,
    year: ReportedYear = None,
    as_of: AsOfDay = None,
    template: Annotated[
        Path | None,
        typer.Option(
            "--template",
            metavar="FILE",
            help="Set the Word document in the council's own template (.docx).",
            show_default=False,
        ),
    ] = None,
    copy_template: Annotated[
        Path | None,
        typer.Option(
            "--copy-template",
            metavar="FILE",
            help="Write the planner's Word template to FILE, to make it the council's own, "
            "and do nothing else.",
            show_default=False,
        ),
    ] = None,
    force: Annotated[
        bool, typer.Option("--force", help="Write --copy-template over a file that is there.")
    ] = False,
) -> None:
    """Write a reporting year's figures, workbook, charts, Word document and web page."""
    if copy_template is not None:
        run.copy_template(copy_template, force=force)
        say("Next: change it in your word processor, keep what stands in {{ }}, then")
        say(f"  {command('report', '--template', copy_template, program=program)}")
        return
    day = None if as_of is None else as_of.date()
    result = run.report(program, year, as_of=day, template=template, progress=say)
    print_headlines(result)
    say("\nNext: read the Word document or the page, or say how a figure came about:")
    say(f"  {command('explain', 'kept_out_of_landfill_t', program=program)}")
