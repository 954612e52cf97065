"""Options that several commands share."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

ProgramFolder = Annotated[
    Path,
    typer.Option(
        "--program",
        metavar="DIR",
        help="Work on the program in this folder; the folder you stand in unless said.",
        show_default=False,
    ),
]


def say(text: str) -> None:
    """Tell progress, a note or the next step, apart from results."""
    typer.echo(text, err=True)
