"""planner restore: put a backup in the place of what is there."""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from typing import Annotated

import typer

from planner import run
from planner.cli.options import ProgramFolder, command, say
from planner.paths import PROGRAM_FILE

_NAMED = 10


def restore(
    file: Annotated[Path, typer.Argument(metavar="FILE", help="Backup to restore.")],
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
    restored = run.restore(program, file, dry_run=dry_run, unsealed=unsealed)
    made = f"made {restored.made_at:%Y-%m-%d %H:%M} UTC, {_age(restored.made_at)}"
    if dry_run:
        typer.echo(f"{file}, {made}: every part can be read; {restored.seal.value}")
        _print_lacking(restored.lacks)
        again = command("restore", file, program=program)
        say(f"Nothing was changed, as asked. Next: restore it with\n  {again}")
        return
    typer.echo(f"{file}, {made}: restored to {program.absolute()}; {restored.seal.value}")
    _print_lacking(restored.lacks)
    for line in restored.settings:
        typer.echo(f"  {PROGRAM_FILE}, {line}")
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
        typer.echo(f"  not in it: {line}")
    if len(lacks) > _NAMED:
        typer.echo(f"  and {len(lacks) - _NAMED:,} loads more are not in it")
