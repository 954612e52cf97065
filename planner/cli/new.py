"""planner new: start a program folder."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from planner import run
from planner.cli.options import say
from planner.store import key_warning


def new(
    folder: Annotated[Path, typer.Argument(metavar="DIR", help="Folder to start the program in.")],
    *,
    force: Annotated[
        bool,
        typer.Option("--force", help="Write intake.xlsx anew from the program.toml that is there."),
    ] = False,
) -> None:
    """Start a program folder with a program file, an empty intake workbook and a key file."""
    for path in run.new_program(folder, force=force):
        typer.echo(str(path))
    say(key_warning(folder))
    say(
        f"Next: write your council, landfill, bins and budget into {folder / 'program.toml'}, "
        f"run `planner new {folder} --force` for a workbook in your country's formats, fill it, "
        f"then `planner load {folder / 'intake.xlsx'} --program {folder}`."
    )
