"""planner check: name records that contradict each other or are hard to believe."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import typer

from planner import run
from planner.cli.options import ProgramFolder, say

if TYPE_CHECKING:
    import polars as pl

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
