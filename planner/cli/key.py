"""planner key: put the key under a passphrase, print a recovery sheet."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from planner import run
from planner.cli.options import ProgramFolder, command, say


def key(
    program: ProgramFolder = Path(),
    *,
    passphrase: Annotated[
        bool,
        typer.Option("--passphrase", help="Ask for a passphrase and put the key file under it."),
    ] = False,
) -> None:
    """Print a recovery sheet of the key, or put the key under a passphrase."""
    if not passphrase:
        typer.echo(run.recovery_sheet(program))
        again = command("key", "--passphrase", program=program)
        say(f"Next: print it, then close this window. To ask for a passphrase as well:\n  {again}")
        return
    chosen = typer.prompt("New passphrase", hide_input=True, confirmation_prompt=True)
    path = run.protect_key(program, chosen)
    typer.echo(f"{path}: under the passphrase now")
    say(
        "Every command on personal details asks for it. If it is lost, the recovery sheet alone "
        "helps; copies of the key file from before are open still, so delete them. Next:\n  "
        + command("key", program=program)
    )
