"""planner withdraw: take one record out."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from planner import run
from planner.cli.options import ProgramFolder, say


def withdraw(
    table: Annotated[str, typer.Argument(metavar="TABLE", help="Record table, as handovers.")],
    key: Annotated[
        list[str],
        typer.Argument(
            metavar="KEY...", help="Key of the record; for answers the wave, then the household."
        ),
    ],
    program: ProgramFolder = Path(),
    *,
    dry_run: Annotated[
        bool, typer.Option("--dry-run", help="Check whether it can go and change nothing.")
    ] = False,
) -> None:
    """Withdraw one record; it is kept in the history and can be brought back."""
    load_id = run.withdraw(program, table, key, dry_run=dry_run)
    named = f"{table} {' '.join(key)}"
    if dry_run:
        typer.echo(f"{named}: can be withdrawn")
        say("Nothing was changed, as asked. Next: run it again without --dry-run.")
        return
    typer.echo(f"{named}: withdrawn as load {load_id}")
    say(f"`planner undo {load_id}` brings it back.")
