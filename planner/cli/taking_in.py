"""Spreadsheets in, and out again: loads, what does not fit, households that registered twice."""

from __future__ import annotations

import datetime as dt
import re
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from planner.cli.options import (
    DryRun,
    File,
    Files,
    Force,
    ProgramFolder,
    advise,
    command,
    print_note,
    print_table,
    show,
    show_notes,
    start_table,
    wording_of,
)
from planner.errors import escaped
from planner.messages import officer_messages, say

if TYPE_CHECKING:
    import polars as pl

    from planner.duplicates import Merged
    from planner.intake.readings import Proposal
    from planner.loading import LoadedFile
    from planner.report.wording import Wording

SHOWN_OF_A_CHECK = 20
ROWS_REFUSED = 3
SHOWN_IN_ALL = 20
_COUNTS = ("rows_read", "new", "corrected", "unchanged", "repeated", "skipped", "refused")


def load(
    files: Files,
    program: ProgramFolder = Path(),
    *,
    accept: Annotated[list[str] | None, typer.Option(metavar="READING")] = None,
    dry_run: DryRun = False,
) -> None:
    """Load files into the records and list every row that cannot be loaded.

    Cells that could be misread, as amounts in brackets, are proposed once for each column;
    what you confirm is noted with the load and goes with it when it is undone.

    Ends with exit code 0 when every row was loaded, 3 when rows were refused, 2 when a
    file could not be read at all.
    """
    from planner.loading import load_files

    today = dt.date.today()
    result = load_files(
        program,
        files,
        dry_run=dry_run,
        progress=print_note,
        day=today,
        accepted=frozenset(accept or []),
        confirm=_confirmed if sys.stdin.isatty() else None,
    )
    for loaded in result.files:
        _print_file(loaded, kept=result.kept)
    copies = [loaded.copy_file for loaded in result.files if loaded.copy_file is not None]
    if not result.kept:
        advise(say("load.no_taken"), "load", *files, program=program)
    elif copies:
        advise(say("load.fix_next"), "load", *copies, program=program)
    else:
        advise(say("load.next"), "report", program=program)
    if any(not loaded.problems.is_empty() for loaded in result.files):
        raise typer.Exit(ROWS_REFUSED)


def _confirmed(proposal: Proposal) -> bool:
    """Ask once for a column whether its cells may be read so."""
    show(proposal.in_words())
    return typer.confirm(f"  {say('reading.ask')}", default=False)


def _print_file(loaded: LoadedFile, *, kept: bool) -> None:
    from planner.intake.problems import faults
    from planner.intake.refused_copy import COPIED_ROWS
    from planner.tables import reading_notes

    show_notes((*loaded.notes, *reading_notes(loaded.readings, loaded.file)), print_note)
    show(say("load.file", file=loaded.file, standing=_standing(loaded, kept=kept)))
    _print_counts(loaded)
    if loaded.problems.is_empty():
        return
    found = faults(loaded.problems)
    show(f"{found.heading}.")
    shown = found.lines.head(SHOWN_IN_ALL)
    for sentence in shown["sentence"]:
        show(f"  {escaped(sentence)}")
    left = found.cells_count - int(shown["count"].sum())
    if left:
        show(f"  {say('faults.more_cells', left)}")
    if kept and loaded.copy_file is not None:
        show(say("load.copy", path=str(loaded.copy_file)))
        show(say("load.list", path=str(loaded.refused_file)))
    if found.rows_count > COPIED_ROWS:
        show_notes([say("load.copy_holds", count=COPIED_ROWS)], print_note)


def _standing(loaded: LoadedFile, *, kept: bool) -> str:
    if not kept:
        return say("load.checked")
    if loaded.load_id is None:
        return say("load.known")
    key = "load.taken_again" if loaded.is_known else "load.taken"
    return say(key, load=loaded.load_id)


_ALWAYS_SHOWN = ("new", "refused")


def _print_counts(loaded: LoadedFile) -> None:
    import polars as pl

    counts = loaded.counts.filter(pl.col("rows_read") > 0)
    if counts.is_empty():
        show(say("load.no_rows"))
        return
    names = ["sheet", "table_name"] if (counts["sheet"] != "").any() else ["table_name"]
    # fates that no row met are left out, so that names and numbers need not be broken
    met = [
        name
        for name in _COUNTS[1:]
        if name in _ALWAYS_SHOWN or int(counts[f"{name}_count"].sum()) > 0
    ]
    texts = [say(f"load.count.{name.removesuffix('_name')}") for name in names]
    numbers = [say(f"load.count.{name}") for name in (_COUNTS[0], *met)]
    table = start_table(texts, numbers, pad_edge=True)
    columns = ["rows_read", *(f"{name}_count" for name in met)]
    decimal = officer_messages().decimal
    for row in counts.select(*names, *columns).iter_rows():
        table.add_row(*(cell if isinstance(cell, str) else decimal(cell, "#,##0") for cell in row))
    print_table(table)


_LISTED = ("new_count", "corrected_count", "refused_count")


def loads(program: ProgramFolder = Path()) -> None:
    """List every load: its file, its time, its rows, and whether it was taken back."""
    from planner.store.undoing import list_loads
    from planner.tables import reading_notes

    listed, readings = list_loads(program)
    if listed.is_empty():
        show(say("loads.none"))
        return
    texts = [say(f"loads.{name}") for name in ("load", "taken_in", "from")]
    numbers = [say(f"load.count.{name.removesuffix('_count')}") for name in _LISTED]
    table = start_table(texts, numbers, pad_edge=True)
    table.add_column(say("loads.taken_back"))
    for row in listed.iter_rows(named=True):
        counts = (officer_messages().decimal(row[name], "#,##0") for name in _LISTED)
        undone = officer_messages().moment(row["undone_at"]) if row["undone_at"] else ""
        loaded = officer_messages().moment(row["loaded_at"])
        table.add_row(row["load_id"], loaded, row["file"], *counts, undone)
    print_table(table)
    for note in reading_notes(readings):
        show(note)
    print_note(say("loads.next"))


def undo(
    load: Annotated[str, typer.Argument(metavar="LOAD")],
    program: ProgramFolder = Path(),
    *,
    dry_run: DryRun = False,
) -> None:
    """Take one load back: what it added goes, what it corrected returns."""
    from planner.store.migrations import utc_now
    from planner.store.undoing import undo_load

    undone = undo_load(program, load, utc_now(), keep=not dry_run)
    standing = say("load.checked" if dry_run else "undo.taken_back")
    show(say("load.file", file=f"{undone.load_id} ({undone.file})", standing=standing))
    for table, removed, returned in undone.counts.iter_rows():
        show(say("undo.table", table=table, removed=removed, returned=returned))
    if undone.counts.is_empty():
        show(say("undo.no_change"))
    if dry_run:
        print_note(say("undo.dry_run"))


def withdraw(
    table: Annotated[str, typer.Argument(metavar="TABLE")],
    key: Annotated[list[str], typer.Argument(metavar="KEY")],
    program: ProgramFolder = Path(),
    *,
    dry_run: DryRun = False,
) -> None:
    """Withdraw one record; it is kept in the history and can be brought back."""
    from planner.store.migrations import utc_now
    from planner.store.undoing import withdraw_record

    load_id = withdraw_record(program, table, key, utc_now(), keep=not dry_run)
    standing = say("withdraw.may_go") if dry_run else say("withdraw.done", load=load_id)
    show(say("load.file", file=f"{table} {' '.join(key)}", standing=standing))
    print_note(say("undo.dry_run") if dry_run else say("withdraw.next", load=load_id))


def check(program: ProgramFolder = Path()) -> None:
    """Check the records against each other and list what does not fit, the worst first."""
    from planner import checks

    findings, path = checks.check(program)
    if findings.is_empty():
        show(say("check.none"))
        return
    counted, wording = checks.count_checks(findings), wording_of(program)
    for severity in checks.SEVERITIES:
        of_severity = counted.filter(severity=severity)
        if of_severity.height:
            heading = say(f"check.heading.{severity}")
            rows_count = int(of_severity["rows_count"].sum())
            show(f"\n{heading} ({officer_messages().decimal(rows_count, '#,##0')})")
        for row in of_severity.iter_rows(named=True):
            of_check = findings.filter(check_name=row["check_name"], severity=severity)
            _print_check(row, of_check, wording)
    show(f"\n{say('check.all_in', path=str(path))}")
    print_note(say("check.next"))


def _print_check(check: dict[str, object], rows: pl.DataFrame, wording: Wording) -> None:
    show(f"\n  {officer_messages().decimal(rows.height, '#,##0')} × {check['title']}")
    show(f"  {check['advice']}")
    shown = rows.select("table_name", "record_key", "found").head(SHOWN_OF_A_CHECK)
    for table, key, found in shown.iter_rows():
        told = {"label": f"{table} {key}", "value": _as_the_country_writes(found, wording)}
        show(f"    {say('number.labelled', **told)}")
    if rows.height > SHOWN_OF_A_CHECK:
        show(f"    {say('console.more', count=rows.height - SHOWN_OF_A_CHECK)}")


def _as_the_country_writes(found: str, wording: Wording) -> str:
    """Write the dates and the amounts of a finding, which files hold in the standard's form."""
    day = dt.date.fromisoformat
    dated = re.sub(r"\b\d{4}-\d\d-\d\d\b", lambda one: wording.day(day(one[0])), found)
    amounts = rf"\b{wording.currency} (\d+(?:\.\d+)?)"
    return re.sub(amounts, lambda amount: wording.money(float(amount[1]), 2), dated)


def duplicates(
    program: ProgramFolder = Path(),
    *,
    decided: File = None,
    dry_run: DryRun = False,
    force: Force = False,
) -> None:
    """List registrations likely to be one household, for you to decide and to merge."""
    from planner.duplicates import decide, propose
    from planner.duplicates.sheet import MOST_PAIRS

    if decided is not None:
        merged = decide(program, decided, keep=not dry_run)
        _print_merged(merged, program, is_dry=dry_run)
        return
    pairs, path = propose(program, force=force)
    if pairs.is_empty():
        show(say("duplicates.none"))
        return
    show(say("duplicates.pairs", pairs.height))
    if pairs.height > MOST_PAIRS:
        show(say("duplicates.likeliest", count=MOST_PAIRS))
    show(say("duplicates.where", path=str(path)))
    then = command("duplicates", "--decided", path, program=program)
    print_note(say("duplicates.next", then=then))


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
        print_note(say("duplicates.take_back", command=undo))
