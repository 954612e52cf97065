"""planner restore: put a backup in the place of what is there."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from planner import run
from planner.cli.options import ProgramFolder, command, say
from planner.paths import PROGRAM_FILE


def restore(
    file: Annotated[Path, typer.Argument(metavar="FILE", help="Backup to restore.")],
    program: ProgramFolder = Path(),
    *,
    dry_run: Annotated[
        bool, typer.Option("--dry-run", help="Check the backup and change nothing.")
    ] = False,
) -> None:
    """Restore a backup, checked before anything changes; what is replaced is kept."""
    restored = run.restore(program, file, dry_run=dry_run)
    made = f"made {restored.made_at:%Y-%m-%d %H:%M} UTC"
    if dry_run:
        typer.echo(f"{file}, {made}: whole, and opens")
        again = command("restore", file, program=program)
        say(f"Nothing was changed, as asked. Next: restore it with\n  {again}")
        return
    typer.echo(f"{file}, {made}: restored to {program.absolute()}")
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
