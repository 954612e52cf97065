"""Options that several commands share."""

from __future__ import annotations

import shlex
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


def command(*words: str | Path, program: Path | None = None) -> str:
    """Write a command that can be pasted as it stands.

    Parameters
    ----------
    words
        The command, its options and files, without ``planner``.
    program
        Program folder that the command was given; left out where one stands in it.

    Examples
    --------
    >>> command("load", Path("my files/intake.xlsx"), program=Path("worms 2026"))
    "planner load 'my files/intake.xlsx' --program 'worms 2026'"
    >>> command("report", program=Path())
    'planner report'
    """
    given = [] if program is None or program == Path() else ["--program", program]
    return shlex.join(["planner", *(str(word) for word in (*words, *given))])
