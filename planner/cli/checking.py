"""Find records that contradict each other, and households that registered twice."""

from __future__ import annotations

import datetime as dt
import re
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from planner import run
from planner.cli.options import ProgramFolder, command, show, wording_of
from planner.cli.options import say as tell
from planner.messages import say, spoken

if TYPE_CHECKING:
    import polars as pl

    from planner.duplicates import Merged
    from planner.report.wording import Wording

SHOWN_ROWS = 20


def check(program: ProgramFolder = Path()) -> None:
    """Check the records against each other and list what does not fit, the worst first."""
    from planner.checks import SEVERITIES, count_checks

    findings, path = run.check(program)
    if findings.is_empty():
        show(say("check.none"))
        return
    counted, wording = count_checks(findings), wording_of(program)
    for severity in SEVERITIES:
        of_severity = counted.filter(severity=severity)
        if of_severity.height:
            heading = say(f"check.heading.{severity}")
            show(f"\n{heading} ({spoken().decimal(int(of_severity['rows_count'].sum()), '#,##0')})")
        for row in of_severity.iter_rows(named=True):
            of_check = findings.filter(check_name=row["check_name"], severity=severity)
            _print_check(row, of_check, wording)
    show(f"\n{say('check.all_in', path=str(path))}")
    tell(say("check.next"))


def _print_check(check: dict[str, object], rows: pl.DataFrame, wording: Wording) -> None:
    show(f"\n  {spoken().decimal(rows.height, '#,##0')} × {check['title']}")
    show(f"  {check['advice']}")
    shown = rows.select("table_name", "record_key", "found").head(SHOWN_ROWS)
    for table, key, found in shown.iter_rows():
        told = {"label": f"{table} {key}", "value": _as_the_country_writes(found, wording)}
        show(f"    {say('number.labelled', **told)}")
    if rows.height > SHOWN_ROWS:
        show(f"    {say('console.more', count=rows.height - SHOWN_ROWS)}")


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
            help="usage.duplicates.decided",
            show_default=False,
        ),
    ] = None,
    dry_run: Annotated[bool, typer.Option("--dry-run", help="usage.duplicates.dry_run")] = False,
    force: Annotated[bool, typer.Option("--force", help="usage.duplicates.force")] = False,
) -> None:
    """List registrations likely to be one household, for you to decide and to merge."""
    if decided is not None:
        merged = run.merge_duplicates(program, decided, dry_run=dry_run)
        _print_merged(merged, program, is_dry=dry_run)
        return
    pairs, path = run.find_duplicates(program, force=force)
    if pairs.is_empty():
        show(say("duplicates.none"))
        return
    show(say("duplicates.pairs", pairs.height))
    from planner.duplicates.sheet import MOST_PAIRS

    if pairs.height > MOST_PAIRS:
        show(say("duplicates.likeliest", count=MOST_PAIRS))
    show(say("duplicates.where", path=str(path)))
    then = command("duplicates", "--decided", path, program=program)
    tell(say("duplicates.next", then=then))


def _print_merged(merged: Merged, program: Path, *, is_dry: bool) -> None:
    if merged.load_id is None:
        show(say("duplicates.nothing_new"))
        return
    merged_key = "duplicates.would_merge" if is_dry else "duplicates.merged"
    show(say(merged_key, merged.households_count))
    for table, count in merged.moved:
        show(say("duplicates.moved", count, table=table))
    for table, count in merged.kept_in_history:
        show(say("duplicates.kept", count, table=table))
    show(say("duplicates.apart", merged.different_count))
    if not is_dry:
        undo = command("undo", merged.load_id, program=program)
        tell(say("duplicates.take_back", command=undo))
