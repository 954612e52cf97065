"""planner retain: erase personal details that have been kept long enough."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from planner import run
from planner.cli.erase import print_erased
from planner.cli.options import ProgramFolder, command


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
        typer.echo("No personal details are older than the retention period.")
        return
    again = command("retain", program=program) if dry_run else None
    print_erased(erased, again=again)
