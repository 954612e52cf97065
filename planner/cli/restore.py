"""planner restore: put a backup in the place of what is there."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from planner import run
from planner.cli.options import ProgramFolder, say


def restore(
    file: Annotated[Path, typer.Argument(metavar="FILE", help="Backup to restore.")],
    program: ProgramFolder = Path(),
) -> None:
    """Restore a backup, checked before anything changes; what is replaced is kept."""
    restored = run.restore(program, file)
    typer.echo(f"{file}: restored to {program}")
    if restored.backup_before is not None:
        say(f"What was there before is in {restored.backup_before}.")
    if restored.replaced is not None:
        say(f"What was there before did not open; its files are in {restored.replaced}.")
    if restored.erased:
        say("Personal details erased since that backup were erased from it again.")
