"""planner sheet: what a household is given with its bin, and the letter that thanks it."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from planner import run
from planner.cli.options import ProgramFolder, command, say


def sheet(
    program: ProgramFolder = Path(),
    *,
    language: Annotated[
        str | None,
        typer.Option(
            metavar="LANGUAGE",
            help="Language of the sheet, as fr; your council's own unless said.",
            show_default=False,
        ),
    ] = None,
    model: Annotated[
        str | None, typer.Option(help="Bin model; the first of program.toml unless said.")
    ] = None,
    letters: Annotated[
        bool,
        typer.Option(
            "--letters", help="Write a thank-you letter too, and private rows to merge into it."
        ),
    ] = False,
    template: Annotated[
        Path | None, typer.Option(metavar="FILE", help="Your own Word template of the sheet.")
    ] = None,
    copy_template: Annotated[
        Path | None,
        typer.Option(metavar="FILE", help="Write our template to a file to make it your own."),
    ] = None,
    force: Annotated[bool, typer.Option("--force", help="Write files again.")] = False,
) -> None:
    """Write the two-page starter sheet for households as a Word document and a web page."""
    if copy_template is not None:
        run.copy_sheet_template(copy_template, force=force)
        typer.echo(str(copy_template))
        return
    from planner.report.sheet.making import SheetRequest

    asked = SheetRequest(model, language, template, letters, force)
    written = run.sheet(program, asked)
    for path in written.files:
        typer.echo(str(path))
    if written.private_file is not None:
        typer.echo(
            f"{written.private_file}: {written.letters_count:,} households, of which "
            f"{written.results_count:,} are told a result. It holds personal details."
        )
        if not written.results_count:
            say(f"To tell results, run `{command('report', program=program)}` first.")
    for note in written.notes:
        say(f"Note: {note}")
