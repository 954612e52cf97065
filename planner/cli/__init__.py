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
from planner.cli.options import PlannerGroup
from planner.paths import PROGRAM_FILE

app = typer.Typer(
    name="planner",
    cls=PlannerGroup,
    invoke_without_command=True,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
    help="Plan, run and account for a council's worm-bin giveaway.",
)
app.command("due")(due.due)
app.command("demo")(starting.demo)
app.command("guide")(starting.guide)
app.command("new")(starting.new)
app.command("look")(look.look)
app.command("load")(taking_in.load)
app.command("loads")(taking_in.loads)
app.command("undo")(taking_in.undo)
app.command("withdraw")(taking_in.withdraw)
app.command("sample")(sample.sample)
app.command("size")(size.size)
app.command("order")(buying.order)
app.command("events")(hand_over.events)
app.command("routes")(hand_over.routes)
app.command("followup")(aftercare.followup)
app.command("sheet")(households.sheet)
app.command("cases")(aftercare.cases)
app.command("sites")(aftercare.sites)
app.command("workshops")(aftercare.workshops)
app.command("feed")(households.feed)
app.command("nursery")(buying.nursery)
app.command("check")(checking.check)
app.command("duplicates")(checking.duplicates)
app.command("key")(keeping.key)
app.command("backup")(keeping.backup)
app.command("restore")(keeping.restore)
app.command("erase")(keeping.erase)
app.command("retain")(keeping.retain)
app.command("report")(reporting.report)
app.command("progress")(reporting.progress)
app.command("issue")(issuing.issue)
app.command("acquit")(issuing.acquit)
app.command("evidence")(issuing.evidence)
app.command("export")(pooling.export)
app.command("pool")(pooling.pool)
app.command("explain")(explaining.explain)
app.command("figure")(reporting.figure)
app.command("factors")(explaining.factors)


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
        typer.Option(
            "--version", help="Print the version and end.", callback=_print_version, is_eager=True
        ),
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
