"""The command line: a module for each part of the year; a command parses, calls once, prints."""

from __future__ import annotations

import gc
from pathlib import Path
from typing import Annotated

import typer

import planner
from planner import run
from planner.cli import (
    aftercare,
    explaining,
    hand_over,
    keeping,
    look,
    planning,
    pooling,
    reporting,
    sample,
    starting,
    taking_in,
)
from planner.cli.helping import PlannerGroup, SpokenCommand, help_language
from planner.messages import set_language
from planner.paths import PROGRAM_FILE

app = typer.Typer(
    name="planner",
    cls=PlannerGroup,
    invoke_without_command=True,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
    help="usage.planner",
)
for _command in (
    *(keeping.due, starting.demo, starting.guide, starting.new, look.look),
    *(taking_in.load, taking_in.loads, taking_in.undo, taking_in.withdraw),
    *(sample.sample, planning.size, planning.order),
    *(hand_over.events, hand_over.routes, aftercare.followup, aftercare.sheet),
    *(aftercare.cases, aftercare.sites, aftercare.workshops, aftercare.feed, planning.nursery),
    *(taking_in.check, taking_in.duplicates),
    *(keeping.key, keeping.backup, keeping.restore, keeping.erase, keeping.retain),
    *(reporting.report, reporting.progress, reporting.issue, reporting.acquit, reporting.evidence),
    *(pooling.export, pooling.pool, explaining.explain, explaining.figure, explaining.factors),
):
    app.command(_command.__name__, cls=SpokenCommand)(_command)


def _print_version(wanted: bool) -> None:
    if wanted:
        typer.echo(f"planner {planner.__version__}")
        raise typer.Exit


@app.callback()
def _options(
    context: typer.Context,
    *,
    version: Annotated[
        bool,
        typer.Option("--version", help="usage.version", callback=_print_version, is_eager=True),
    ] = False,
) -> None:
    """Plan, run and account for a council's worm-bin giveaway."""
    set_language(help_language())
    if context.invoked_subcommand is not None:
        return
    # in a program folder the bare command says what is due, elsewhere what there is
    if Path(PROGRAM_FILE).is_file():
        run.set_language_for(Path())
        keeping.due()
    else:
        typer.echo(context.get_help())


def main() -> None:
    """Run the command line."""
    # imports make many objects that stay: to look through them again and again takes a tenth
    gc.set_threshold(20_000)
    app()
