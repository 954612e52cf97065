"""planner backup: write everything into one checked file."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from planner import run
from planner.cli.options import ProgramFolder, command, say


def backup(
    folder: Annotated[
        Path | None,
        typer.Argument(
            metavar="DIR",
            help="Folder for the backup; backups in the program folder unless said.",
            show_default=False,
        ),
    ] = None,
    program: ProgramFolder = Path(),
) -> None:
    """Back up the program file, the records and the personal details, and check the backup."""
    path = run.backup(program, folder)
    typer.echo(str(path))
    say(
        "Every part of it can be read, and it is sealed with your key. Next: keep it on another "
        "disk, and a copy of the key, which is not in it, in another place. To go back to it:\n  "
        + command("restore", path, program=program)
    )
