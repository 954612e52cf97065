"""planner cases: problems that are open, what to advise, and what fails too often."""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from planner import run
from planner.cli.options import ProgramFolder, command, say

if TYPE_CHECKING:
    from planner.run import CasesResult

WIDTH = 100


def cases(
    program: ProgramFolder = Path(),
    *,
    day: Annotated[
        dt.datetime | None,
        typer.Option(
            formats=["%Y-%m-%d"],
            metavar="YYYY-MM-DD",
            help="Day of the list; today unless said. Later records do not count.",
        ),
    ] = None,
    dry_run: Annotated[
        bool, typer.Option("--dry-run", help="Say what is open and write nothing.")
    ] = False,
    force: Annotated[bool, typer.Option("--force", help="Write the day's workbook again.")] = False,
) -> None:
    """List open problems with advice, and models or worm deliveries that fail too often."""
    on_date = day.date() if day else dt.datetime.now().astimezone().date()
    result = run.cases(program, on_date, dry_run=dry_run, force=force)
    _print_open(result)
    _print_made_good(result)
    _print_lots(result)
    found = result.found
    if not found.kept:
        say("Nothing was written, as asked. Next: run it again without --dry-run.")
        return
    typer.echo(f"{found.file}: {found.listed.height} cases with advice. It holds personal details.")
    say("A case marked bin_replaced without a new bin is one that `planner order` counts in.")
    load = command("load", found.file, program=program)
    say(f"Next: act, note what was done, then `{load}` and delete the file.")


def _print_open(result: CasesResult) -> None:
    from planner.field.problem_words import ADVICE

    listed = result.found.listed
    told = int(listed["is_from_answer"].sum())
    typer.echo(
        f"Cases open on {result.found.on_date}: {listed.height - told:,}; "
        f"answers of the last three months tell of {told:,} more."
    )
    for problem, count in listed["problem"].value_counts(sort=True).iter_rows():
        typer.echo(f"  {ADVICE[problem].words}: {count:,}")


def _print_made_good(result: CasesResult) -> None:
    row = result.found.made_good.row(0, named=True)
    typer.echo(
        f"In two years {row['replaced_count']:,} bins were replaced and {row['topped_up_count']:,} "
        f"topped up with {row['topped_up_kg']:.1f} kg of worms; the ledger lines that cases name "
        f"come to {result.wording.money(row['booked_amount'])}."
    )


def _print_lots(result: CasesResult) -> None:
    from planner.field.failure_words import lot_lines

    for line in lot_lines(result.found.lots):
        typer.echo(line)
