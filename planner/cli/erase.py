"""planner erase: take personal details out everywhere."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from planner import run
from planner.cli.options import ProgramFolder, command, say

if TYPE_CHECKING:
    from planner.store import Erased

_NAMED = 10


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
    erased = run.erase(program, households, dry_run=dry_run)
    again = command("erase", *households, program=program) if dry_run else None
    print_erased(erased, again=again)


def print_erased(erased: Erased, *, again: str | None) -> None:
    """Print what an erasure took out, and what the officer must still do.

    `again` is the command that does what a dry run told; None when it has been done.
    """
    did = "personal details erased" if again is None else "personal details would be erased"
    count = len(erased.households)
    named = ", ".join(erased.households) if count <= _NAMED else f"{count:,} households"
    typer.echo(f"{named}: {did}")
    typer.echo(f"  {erased.contacts_count:,} contacts, {erased.history_count:,} former ones")
    for path in erased.copies:
        typer.echo(f"  rows in the copy {path}")
    for path in erased.backups:
        typer.echo(f"  contacts in the backup {path}")
    for path in erased.unreachable:
        say(f"{path}: a backup that is not there or does not open. Delete it wherever it is.")
    for path in erased.of_original:
        say(f"{path}: a backup of the folder that this one is a copy of. Erase them there too.")
    for place in erased.removed:
        typer.echo(f"  all of the folder {place}, which did not open")
    _print_search(erased)
    if again is not None:
        say(f"Nothing was erased, as asked. Next: erase them, which cannot be undone:\n  {again}")
    elif erased.receipt is not None:
        typer.echo(f"Receipt, without personal details: {erased.receipt}")
        say("Next: copies of a backup that you keep elsewhere hold them still. Delete those.")


def _print_search(erased: Erased) -> None:
    """Say where details are still, or that every byte was searched and none found."""
    for path, where in erased.remains:
        place = f"{path}, {where}" if where else str(path)
        say(f"{place}: still holds details. Take them out there, or delete the file.")
    if erased.searched_count and not erased.remains:
        say(f"Searched every byte of {erased.searched_count:,} files: nothing remains.")
    elif not erased.searched_count:
        say("No details were found to search files for. Look through your own files.")
