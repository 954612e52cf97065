"""Keep it safe: backups and the key; take personal details out when asked or when due."""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from planner import run
from planner.cli.options import ProgramFolder, command, say, show
from planner.errors import StoreError
from planner.paths import PROGRAM_FILE

if TYPE_CHECKING:
    from planner.store import Erased

_NAMED = 10


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


def restore(
    file: Annotated[
        Path | None,
        typer.Argument(
            metavar="[FILE]",
            help="Backup to restore; the newest of the program folder unless said.",
            show_default=False,
        ),
    ] = None,
    program: ProgramFolder = Path(),
    *,
    dry_run: Annotated[
        bool, typer.Option("--dry-run", help="Check the backup and change nothing.")
    ] = False,
    unsealed: Annotated[
        bool,
        typer.Option(
            "--unsealed", help="Also restore a backup that this program's key did not seal."
        ),
    ] = False,
) -> None:
    """Restore a backup, checked before anything changes; what is replaced is kept."""
    file, restored = run.restore(program, file, dry_run=dry_run, unsealed=unsealed)
    made = f"made {restored.made_at:%Y-%m-%d %H:%M} UTC, {_age(restored.made_at)}"
    if dry_run:
        show(f"{file}, {made}: every part can be read; {restored.seal.value}")
        _print_lacking(restored.lacks)
        again = command("restore", file, program=program)
        say(f"Nothing was changed, as asked. Next: restore it with\n  {again}")
        return
    show(f"{file}, {made}: restored to {program.absolute()}; {restored.seal.value}")
    _print_lacking(restored.lacks)
    for line in restored.settings:
        show(f"  {PROGRAM_FILE}, {line}")
    if restored.backup_before is not None:
        say(
            "What was there before is kept. To go back to it:\n  "
            + command("restore", restored.backup_before, program=program)
        )
    if restored.replaced is not None:
        say(f"What was there before did not open; its files are in {restored.replaced}.")
    if restored.erased:
        say("Personal details erased since that backup were erased from it again.")
    say(f"Next: see which loads stand now\n  {command('loads', program=program)}")


def _age(made_at: dt.datetime) -> str:
    days = (dt.datetime.now(dt.UTC).replace(tzinfo=made_at.tzinfo) - made_at).days
    if days < 1:
        return "less than a day ago"
    return "a day ago" if days == 1 else f"{days:,} days ago"


def _print_lacking(lacks: tuple[str, ...]) -> None:
    """Say what was taken in after the backup was made and is not in it."""
    for line in lacks[:_NAMED]:
        show(f"  not in it: {line}")
    if len(lacks) > _NAMED:
        show(f"  and {len(lacks) - _NAMED:,} loads more are not in it")


def key(
    program: ProgramFolder = Path(),
    *,
    passphrase: Annotated[
        bool,
        typer.Option("--passphrase", help="Ask for a passphrase and put the key file under it."),
    ] = False,
    keyring: Annotated[
        bool,
        typer.Option("--keyring", help="Move the key into the keyring of this computer and user."),
    ] = False,
) -> None:
    """Print a recovery sheet of the key, or put the key under a passphrase or in the keyring."""
    if passphrase and keyring:
        message = "Found --passphrase and --keyring together, expected one of them."
        raise StoreError(message)
    if keyring:
        path = run.protect_key(program, None)
        show(f"{path}: names the key, which is in the keyring of this computer and user now")
        say(
            "Elsewhere the recovery sheet alone opens the personal details; copies of the key file "
            "from before are open still, so delete them. Next: print the sheet, if you have not\n  "
            + command("key", program=program)
        )
        return
    if not passphrase:
        show(run.recovery_sheet(program))
        again = command("key", "--passphrase", program=program)
        say(f"Next: print it, then close this window. To ask for a passphrase as well:\n  {again}")
        return
    chosen = typer.prompt("New passphrase", hide_input=True, confirmation_prompt=True)
    path = run.protect_key(program, chosen)
    show(f"{path}: under the passphrase now")
    say(
        "Every command on personal details asks for it. If it is lost, the recovery sheet alone "
        "helps; copies of the key file from before are open still, so delete them. Next:\n  "
        + command("key", program=program)
    )


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
    show(f"{named}: {did}")
    show(f"  {erased.contacts_count:,} contacts, {erased.history_count:,} former ones")
    for path in erased.copies:
        show(f"  rows in the copy {path}")
    for path in erased.backups:
        show(f"  contacts in the backup {path}")
    for path in erased.unreachable:
        say(f"{path}: a backup that is not there or does not open. Delete it wherever it is.")
    for path in erased.of_original:
        say(f"{path}: a backup of the folder that this one is a copy of. Erase them there too.")
    for place in erased.removed:
        show(f"  all of the folder {place}, which did not open")
    _print_search(erased)
    if again is not None:
        say(f"Nothing was erased, as asked. Next: erase them, which cannot be undone:\n  {again}")
    elif erased.receipt is not None:
        show(f"Receipt, without personal details: {erased.receipt}")
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


def retain(
    program: ProgramFolder = Path(),
    *,
    dry_run: Annotated[
        bool, typer.Option("--dry-run", help="Count what would go and erase nothing.")
    ] = False,
) -> None:
    """Erase personal details older than contacts_retention_months of the program file."""
    erased = run.retain(program, dry_run=dry_run)
    if erased is None:
        show("No personal details are older than the retention period.")
        return
    again = command("retain", program=program) if dry_run else None
    print_erased(erased, again=again)
