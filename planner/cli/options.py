"""Options that several commands share."""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from typing import Annotated

import typer

from planner.errors import escaped
from planner.ordering.request import DAYS_AHEAD
from planner.shells import pasted

ProgramFolder = Annotated[
    Path,
    typer.Option(
        "--program",
        metavar="DIR",
        help="Work on the program in this folder; the folder you stand in unless said.",
        show_default=False,
    ),
]

ReportedYear = Annotated[
    str | None,
    typer.Option(
        "--year",
        metavar="YEAR",
        help="Reporting year, as 2025-26, or 2025 where it begins in January; "
        "the newest with records unless said.",
        show_default=False,
    ),
]
AsOfDay = Annotated[
    dt.datetime | None,
    typer.Option(
        "--as-of",
        metavar="DAY",
        formats=["%Y-%m-%d"],
        help="Day up to which everything is recorded, as 2025-11-30; that of the newest "
        "record unless said. The rest of the year is forecast.",
        show_default=False,
    ),
]
FromDay = Annotated[
    dt.datetime | None,
    typer.Option(
        "--from",
        formats=["%Y-%m-%d"],
        metavar="YYYY-MM-DD",
        help="First day; today unless said.",
    ),
]
UntilDay = Annotated[
    dt.datetime | None,
    typer.Option(
        "--until",
        formats=["%Y-%m-%d"],
        metavar="YYYY-MM-DD",
        help="Last hand-over day to serve; a year on unless said.",
    ),
]


def asked_days(from_day: dt.datetime | None, until: dt.datetime | None) -> tuple[dt.date, dt.date]:
    """Work out the first day and the last hand-over day that are asked for."""
    first = from_day.date() if from_day else dt.datetime.now().astimezone().date()
    return first, until.date() if until else first + dt.timedelta(days=DAYS_AHEAD)


def say(text: str) -> None:
    """Tell progress, a note or the next step, apart from results."""
    typer.echo(escaped(text), err=True)


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
    return pasted(["planner", *(str(word) for word in (*words, *given))])
