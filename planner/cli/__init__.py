"""The command line: a module for each part of the year; a command parses, calls once, prints."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

import planner
from planner import run
from planner.cli import (
    aftercare,
    buying,
    checking,
    due,
    explaining,
    hand_over,
    households,
    issuing,
    keeping,
    look,
    pooling,
    reporting,
    sample,
    size,
    starting,
    taking_in,
)
from planner.cli.helping import SpokenCommand
from planner.cli.options import PlannerGroup
from planner.paths import PROGRAM_FILE

app = typer.Typer(
    name="planner",
    cls=PlannerGroup,
    invoke_without_command=True,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
    help="usage.planner",
)
for _name, _command in (
    ("due", due.due),
    ("demo", starting.demo),
    ("guide", starting.guide),
    ("new", starting.new),
    ("look", look.look),
    ("load", taking_in.load),
    ("loads", taking_in.loads),
    ("undo", taking_in.undo),
    ("withdraw", taking_in.withdraw),
    ("sample", sample.sample),
    ("size", size.size),
    ("order", buying.order),
    ("events", hand_over.events),
    ("routes", hand_over.routes),
    ("followup", aftercare.followup),
    ("sheet", households.sheet),
    ("cases", aftercare.cases),
    ("sites", aftercare.sites),
    ("workshops", aftercare.workshops),
    ("feed", households.feed),
    ("nursery", buying.nursery),
    ("check", checking.check),
    ("duplicates", checking.duplicates),
    ("key", keeping.key),
    ("backup", keeping.backup),
    ("restore", keeping.restore),
    ("erase", keeping.erase),
    ("retain", keeping.retain),
    ("report", reporting.report),
    ("progress", reporting.progress),
    ("issue", issuing.issue),
    ("acquit", issuing.acquit),
    ("evidence", issuing.evidence),
    ("export", pooling.export),
    ("pool", pooling.pool),
    ("explain", explaining.explain),
    ("figure", reporting.figure),
    ("factors", explaining.factors),
):
    app.command(_name, cls=SpokenCommand)(_command)


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
    if context.invoked_subcommand is not None:
        return
    # in a program folder the bare command says what is due, elsewhere what there is
    if Path(PROGRAM_FILE).is_file():
        run.speak_for(Path())
        due.due()
    else:
        typer.echo(context.get_help())


def main() -> None:
    """Run the command line."""
    app()
