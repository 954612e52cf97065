"""planner new: start a program folder."""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from typing import Annotated

import typer

from planner import run
from planner.cli.options import command, say
from planner.paths import INTAKE_FILE, PROGRAM_FILE


def new(
    folder: Annotated[Path, typer.Argument(metavar="DIR", help="Folder to start the program in.")],
    *,
    force: Annotated[
        bool,
        typer.Option(
            "--force",
            help="Write intake.xlsx again from the program.toml there; a filled one is kept aside.",
        ),
    ] = False,
) -> None:
    """Start a program folder with a program file, an empty intake workbook and a key file."""
    from planner.store import key_warning

    written = run.new_program(folder, force=force, day=dt.date.today(), progress=say)
    for path in written:
        typer.echo(str(path))
    say(key_warning(folder))
    say(
        ("" if force else _first_steps(folder)) + f"Next: fill {folder / INTAKE_FILE}, then run\n"
        f"  {command('load', folder / INTAKE_FILE, program=folder)}"
    )


def _first_steps(folder: Path) -> str:
    return (
        f"Write your council, landfill, bins and budget into {folder / PROGRAM_FILE}. If you "
        "change its country or bin models, make the workbook again before you fill it:\n"
        f"  {command('new', folder, '--force')}\n"
    )
