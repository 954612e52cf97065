"""planner undo: take one load back."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from planner import run
from planner.cli.options import ProgramFolder, say


def undo(
    load: Annotated[str, typer.Argument(metavar="LOAD", help="Load to take back, as L0007.")],
    program: ProgramFolder = Path(),
    *,
    dry_run: Annotated[
        bool, typer.Option("--dry-run", help="Count what would change and change nothing.")
    ] = False,
) -> None:
    """Take one load back: what it added goes, what it corrected returns."""
    undone = run.undo(program, load, dry_run=dry_run)
    typer.echo(f"{undone.load_id} ({undone.file}): {'checked' if dry_run else 'taken back'}")
    for table, removed, returned in undone.counts.iter_rows():
        typer.echo(f"  {table}: {removed:,} removed, {returned:,} as before")
    if undone.counts.is_empty():
        typer.echo("  no record changes")
    if dry_run:
        say("Nothing was changed, as asked. Next: run it again without --dry-run.")
