"""planner erase: take personal details out everywhere."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from planner import run
from planner.cli.options import ProgramFolder, say

if TYPE_CHECKING:
    from planner.store import Erased


def erase(
    households: Annotated[
        list[str], typer.Argument(metavar="HOUSEHOLD...", help="Households, by household_id.")
    ],
    program: ProgramFolder = Path(),
    *,
    dry_run: Annotated[
        bool, typer.Option("--dry-run", help="Count what would go and erase nothing.")
    ] = False,
) -> None:
    """Erase personal details everywhere; the records without names stay."""
    print_erased(run.erase(program, households, dry_run=dry_run), dry_run=dry_run)


def print_erased(erased: Erased, *, dry_run: bool) -> None:
    """Print what an erasure took out, and what the officer must still do."""
    did = "would be erased" if dry_run else "erased"
    typer.echo(f"{', '.join(erased.households)}: {did}")
    typer.echo(f"  {erased.contacts_count:,} contacts, {erased.history_count:,} former ones")
    for path in (*erased.copies, *erased.backups):
        typer.echo(f"  rows in {path}")
    for path in erased.unreachable:
        say(f"{path}: a backup that is not there or does not open. Delete it wherever it is.")
    for path in erased.still_held:
        say(f"{path}: your own file, which holds the details. Delete them there.")
    if dry_run:
        say("Nothing was erased, as asked. Next: run it again without --dry-run.")
    elif erased.receipt is not None:
        typer.echo(f"Receipt, without personal details: {erased.receipt}")
