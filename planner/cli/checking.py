"""Find records that contradict each other, and households that registered twice."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from planner import run
from planner.cli.options import ProgramFolder, command, say

if TYPE_CHECKING:
    import polars as pl

    from planner.duplicates import Merged

SHOWN_ROWS = 20
HEADINGS = {
    "wrong": "Wrong: fix these",
    "doubtful": "Doubtful: look at these, they move figures",
    "note": "To note",
}


def check(program: ProgramFolder = Path()) -> None:
    """Check the records against each other and list what does not fit, the worst first."""
    from planner.checks import count_checks

    findings, path = run.check(program)
    if findings.is_empty():
        typer.echo("Every check passed: no record contradicts another.")
        return
    counted = count_checks(findings)
    for severity, heading in HEADINGS.items():
        of_severity = counted.filter(severity=severity)
        if of_severity.height:
            typer.echo(f"\n{heading} ({of_severity['rows_count'].sum():,})")
        for row in of_severity.iter_rows(named=True):
            _print_check(row, findings.filter(check_name=row["check_name"], severity=severity))
    typer.echo(f"\nAll of them are in {path}.")
    say("Next: fix the records in your file and load it again, or `planner withdraw` one.")


def _print_check(check: dict[str, object], rows: pl.DataFrame) -> None:
    typer.echo(f"\n  {rows.height:,} × {check['title']}")
    typer.echo(f"  {check['advice']}")
    shown = rows.select("table_name", "record_key", "found").head(SHOWN_ROWS)
    for table, key, found in shown.iter_rows():
        typer.echo(f"    {table} {key}: {found}")
    if rows.height > SHOWN_ROWS:
        typer.echo(f"    and {rows.height - SHOWN_ROWS:,} more")


def duplicates(
    program: ProgramFolder = Path(),
    *,
    decided: Annotated[
        Path | None,
        typer.Option(
            "--decided",
            metavar="FILE",
            help="Merge the pairs decided same in this spreadsheet.",
            show_default=False,
        ),
    ] = None,
    dry_run: Annotated[
        bool, typer.Option("--dry-run", help="Tell what --decided would do, and do nothing.")
    ] = False,
    force: Annotated[
        bool, typer.Option("--force", help="Write the spreadsheet again, decisions lost.")
    ] = False,
) -> None:
    """List registrations likely to be one household, for you to decide and to merge."""
    if decided is not None:
        merged = run.merge_duplicates(program, decided, dry_run=dry_run)
        _print_merged(merged, program, is_dry=dry_run)
        return
    pairs, path = run.find_duplicates(program, force=force)
    if pairs.is_empty():
        typer.echo("No two registrations look like one household.")
        return
    typer.echo(f"{pairs.height:,} pairs of registrations may be one household each.")
    from planner.duplicates import MOST_PAIRS

    if pairs.height > MOST_PAIRS:
        typer.echo(f"The {MOST_PAIRS:,} likeliest are set out; the others follow once decided.")
    typer.echo(f"They are in {path}, with names and addresses.")
    then = command("duplicates", "--decided", path, program=program)
    say(f"Next: write same or different next to each, then `{then}`.")


def _print_merged(merged: Merged, program: Path, *, is_dry: bool) -> None:
    if merged.load_id is None:
        typer.echo("No decision in it that was not taken in before.")
        return
    verb = "would go" if is_dry else "went"
    typer.echo(f"{merged.households_count:,} households {verb} into another.")
    for table, count in merged.moved:
        typer.echo(f"  {table}: {count:,} records moved")
    for table, count in merged.kept_in_history:
        typer.echo(f"  {table}: {count:,} records went to the history; the household has its own")
    typer.echo(f"{merged.different_count:,} pairs stay apart and are not proposed again.")
    if not is_dry:
        say(f"`{command('undo', merged.load_id, program=program)}` takes it back.")
