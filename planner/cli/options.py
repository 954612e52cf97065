"""What commands share: options, lines to the officer, and errors as exit code 2."""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer
from typer.core import TyperGroup

from planner.errors import PlannerError, escaped
from planner.ordering.request import DAYS_AHEAD
from planner.shells import pasted

if TYPE_CHECKING:
    from rich.table import Table

WIDTH = 110


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
OnDay = Annotated[
    dt.datetime | None,
    typer.Option(
        "--day",
        formats=["%Y-%m-%d"],
        metavar="YYYY-MM-DD",
        help="Day it is made for; today unless said. Later records do not count.",
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


def day_asked(day: dt.datetime | None) -> dt.date:
    """Take the day that is asked for, or today."""
    return day.date() if day else dt.datetime.now().astimezone().date()


def asked_days(from_day: dt.datetime | None, until: dt.datetime | None) -> tuple[dt.date, dt.date]:
    """Work out the first day and the last hand-over day that are asked for."""
    first = day_asked(from_day)
    return first, until.date() if until else first + dt.timedelta(days=DAYS_AHEAD)


def say(text: str) -> None:
    """Tell progress, a note or the next step, apart from results."""
    typer.echo(escaped(text), err=True)


def print_table(table: Table) -> None:
    """Print a table as wide as its longest lines want, so that a file of it can be read."""
    from rich.console import Console

    Console(width=WIDTH, markup=False, highlight=False).print(table)


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


NEEDS_MENDING = 2


class PlannerGroup(TyperGroup):
    """Group of commands that tells PlannerError without a traceback."""

    def invoke(self, ctx: Any) -> Any:  # noqa: ANN401 - typer's own, undeclared types
        """Run the command that was named."""
        try:
            return super().invoke(ctx)
        except PlannerError as error:
            typer.echo(str(error), err=True)
            raise typer.Exit(NEEDS_MENDING) from error
