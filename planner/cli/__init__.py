"""The command line: one module a command; each parses, makes one call and prints."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

import planner
from planner.cli import (
    backup,
    cases,
    check,
    demo,
    due,
    duplicates,
    erase,
    events,
    evidence,
    explain,
    export,
    factors,
    feed,
    figure,
    followup,
    issue,
    key,
    load,
    loads,
    look,
    new,
    nursery,
    order,
    pool,
    progress,
    report,
    restore,
    retain,
    routes,
    sample,
    shared,
    sheet,
    size,
    undo,
    withdraw,
)
from planner.cli.group import PlannerGroup
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
app.command("demo")(demo.demo)
app.command("new")(new.new)
app.command("look")(look.look)
app.command("load")(load.load)
app.command("loads")(loads.loads)
app.command("undo")(undo.undo)
app.command("withdraw")(withdraw.withdraw)
app.command("sample")(sample.sample)
app.command("size")(size.size)
app.command("order")(order.order)
app.command("events")(events.events)
app.command("routes")(routes.routes)
app.command("followup")(followup.followup)
app.command("sheet")(sheet.sheet)
app.command("cases")(cases.cases)
app.command("sites")(shared.sites)
app.command("workshops")(shared.workshops)
app.command("feed")(feed.feed)
app.command("nursery")(nursery.nursery)
app.command("check")(check.check)
app.command("duplicates")(duplicates.duplicates)
app.command("key")(key.key)
app.command("backup")(backup.backup)
app.command("restore")(restore.restore)
app.command("erase")(erase.erase)
app.command("retain")(retain.retain)
app.command("report")(report.report)
app.command("progress")(progress.progress)
app.command("issue")(issue.issue)
app.command("evidence")(evidence.evidence)
app.command("export")(export.export)
app.command("pool")(pool.pool)
app.command("explain")(explain.explain)
app.command("figure")(figure.figure)
app.command("factors")(factors.factors)


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
        due.due()
    else:
        typer.echo(context.get_help())


def main() -> None:
    """Run the command line."""
    app()
