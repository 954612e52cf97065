"""Find records that contradict each other, and households that registered twice."""

from __future__ import annotations

import datetime as dt
import re
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from planner import run
from planner.cli.options import ProgramFolder, command, say, show, wording_of

if TYPE_CHECKING:
    import polars as pl

    from planner.duplicates import Merged
    from planner.report.wording import Wording

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
        show("Every check passed: no record contradicts another.")
        return
    counted, wording = count_checks(findings), wording_of(program)
    for severity, heading in HEADINGS.items():
        of_severity = counted.filter(severity=severity)
        if of_severity.height:
            show(f"\n{heading} ({of_severity['rows_count'].sum():,})")
        for row in of_severity.iter_rows(named=True):
            of_check = findings.filter(check_name=row["check_name"], severity=severity)
            _print_check(row, of_check, wording)
    show(f"\nAll of them are in {path}.")
    say("Next: fix the records in your file and load it again, or `planner withdraw` one.")


def _print_check(check: dict[str, object], rows: pl.DataFrame, wording: Wording) -> None:
    show(f"\n  {rows.height:,} × {check['title']}")
    show(f"  {check['advice']}")
    shown = rows.select("table_name", "record_key", "found").head(SHOWN_ROWS)
    for table, key, found in shown.iter_rows():
        show(f"    {table} {key}: {_as_the_country_writes(found, wording)}")
    if rows.height > SHOWN_ROWS:
        show(f"    and {rows.height - SHOWN_ROWS:,} more")


def _as_the_country_writes(found: str, wording: Wording) -> str:
    """Write the dates and the amounts of a finding, which files hold in the standard's form."""
    dated = re.sub(r"\b\d{4}-\d\d-\d\d\b", lambda day: _day(day[0], wording), found)
    amounts = rf"\b{wording.currency} (\d+(?:\.\d+)?)"
    return re.sub(amounts, lambda amount: wording.money(float(amount[1]), 2), dated)


def _day(text: str, wording: Wording) -> str:
    return wording.day(dt.date.fromisoformat(text))


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
        show("No two registrations look like one household.")
        return
    show(f"{pairs.height:,} pairs of registrations may be one household each.")
    from planner.duplicates.sheet import MOST_PAIRS

    if pairs.height > MOST_PAIRS:
        show(f"The {MOST_PAIRS:,} likeliest are set out; the others follow once decided.")
    show(f"They are in {path}, with names and addresses.")
    then = command("duplicates", "--decided", path, program=program)
    say(f"Next: write same or different next to each, then `{then}`.")


def _print_merged(merged: Merged, program: Path, *, is_dry: bool) -> None:
    if merged.load_id is None:
        show("No decision in it that was not taken in before.")
        return
    verb = "would go" if is_dry else "went"
    show(f"{merged.households_count:,} households {verb} into another.")
    for table, count in merged.moved:
        show(f"  {table}: {count:,} records moved")
    for table, count in merged.kept_in_history:
        show(f"  {table}: {count:,} records went to the history; the household has its own")
    show(f"{merged.different_count:,} pairs stay apart and are not proposed again.")
    if not is_dry:
        say(f"`{command('undo', merged.load_id, program=program)}` takes it back.")
