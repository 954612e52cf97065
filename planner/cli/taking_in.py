"""Spreadsheets in, a list of what came in, and one load or record out again."""

from __future__ import annotations

import datetime as dt
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from planner import run
from planner.cli.options import ProgramFolder, command, print_table, say, show
from planner.errors import escaped

if TYPE_CHECKING:
    from planner.intake import Proposal
    from planner.loading import LoadedFile

ROWS_REFUSED = 3
SHOWN_IN_ALL = 20
_COUNTS = ("rows_read", "new", "corrected", "unchanged", "repeated", "skipped", "refused")


def load(
    files: Annotated[
        list[Path],
        typer.Argument(
            metavar="FILES", help="Spreadsheets (.xlsx, .xlsm, .ods) or text files (.csv)."
        ),
    ],
    program: ProgramFolder = Path(),
    *,
    accept: Annotated[
        list[str] | None,
        typer.Option(
            metavar="READING",
            help="Confirm a way of reading a column, as costs.amount.brackets; repeat for more.",
        ),
    ] = None,
    dry_run: Annotated[
        bool, typer.Option("--dry-run", help="Check everything and take nothing in.")
    ] = False,
) -> None:
    """Take files into the records and list every row that cannot be taken in.

    Cells that could be misread, as amounts in brackets, are proposed once for each column;
    what you confirm is noted with the load and goes with it when it is undone.

    Ends with exit code 0 when every row was taken in, 3 when rows were refused, 2 when a
    file could not be read at all.
    """
    today = dt.date.today()
    result = run.load(
        program,
        files,
        dry_run=dry_run,
        progress=say,
        day=today,
        accepted=frozenset(accept or []),
        confirm=_confirmed if sys.stdin.isatty() else None,
    )
    for loaded in result.files:
        _print_file(loaded, kept=result.kept)
    copies = [loaded.copy_file for loaded in result.files if loaded.copy_file is not None]
    if not result.kept:
        again = command("load", *files, program=program)
        say(f"Nothing was taken in, as asked. Next: run it without --dry-run:\n  {again}")
    elif copies:
        say(
            "Next: fix the marked cells in the copies of the refused rows, or in your own file, "
            f"then load what you fixed:\n  {command('load', *copies, program=program)}"
        )
    else:
        say(f"Next: load more files, or run\n  {command('report', program=program)}")
    if any(not loaded.problems.is_empty() for loaded in result.files):
        raise typer.Exit(ROWS_REFUSED)


def _confirmed(proposal: Proposal) -> bool:
    """Ask once for a column whether its cells may be read so."""
    show(proposal.in_words())
    return typer.confirm("  Read them so?", default=False)


def _print_file(loaded: LoadedFile, *, kept: bool) -> None:
    from planner.intake import COPIED_ROWS, faults
    from planner.tables.readings import reading_notes

    for note in loaded.notes:
        say(f"Note: {note}")
    for note in reading_notes(loaded.readings):
        say(f"Note: {loaded.file}{note}")
    show(f"{loaded.file}: {_standing(loaded, kept=kept)}")
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
        show(f"  and {left:,} cells more.")
    if kept and loaded.copy_file is not None:
        show(f"The refused rows, their cells marked: {loaded.copy_file}")
        show(f"All that was found, as a list: {loaded.refused_file}")
    if found.rows_count > COPIED_ROWS:
        say(f"Note: a copy holds the first {COPIED_ROWS:,} refused rows of a sheet.")


def _standing(loaded: LoadedFile, *, kept: bool) -> str:
    if not kept:
        return "checked"
    if loaded.load_id is None:
        return "loaded before, nothing new"
    again = ", rows that were refused before" if loaded.is_known else ""
    return f"taken in as load {loaded.load_id}{again}"


def _print_counts(loaded: LoadedFile) -> None:
    import polars as pl
    from rich.table import Table

    counts = loaded.counts.filter(pl.col("rows_read") > 0)
    if counts.is_empty():
        show("  no rows")
        return
    names = ["sheet", "table_name"] if (counts["sheet"] != "").any() else ["table_name"]
    table = Table(box=None, pad_edge=True)
    for name in names:
        table.add_column(name.removesuffix("_name"))
    for name in _COUNTS:
        table.add_column(name.replace("_", " "), justify="right")
    columns = ["rows_read", *(f"{name}_count" for name in _COUNTS[1:])]
    for row in counts.select(*names, *columns).iter_rows():
        table.add_row(*(f"{cell:,}" if isinstance(cell, int) else cell for cell in row))
    print_table(table)


_LISTED = ("new_count", "corrected_count", "refused_count")


def loads(program: ProgramFolder = Path()) -> None:
    """List every load: its file, its time, its rows, and whether it was taken back."""
    from rich.table import Table

    listed = run.loads(program)
    if listed.is_empty():
        show("No file has been taken in.")
        return
    table = Table(box=None, pad_edge=True)
    for name in ("load", "taken in (UTC)", "from"):
        table.add_column(name)
    for name in _LISTED:
        table.add_column(name.removesuffix("_count"), justify="right")
    table.add_column("taken back (UTC)")
    for row in listed.iter_rows(named=True):
        counts = (f"{row[name]:,}" for name in _LISTED)
        undone = f"{row['undone_at']:%Y-%m-%d %H:%M}" if row["undone_at"] else ""
        loaded = f"{row['loaded_at']:%Y-%m-%d %H:%M}"
        table.add_row(row["load_id"], loaded, row["file"], *counts, undone)
    print_table(table)
    _print_readings(program)
    say("`planner undo LOAD` takes one back.")


def _print_readings(program: Path) -> None:
    """Say which columns of which load were read as a person would."""
    from planner.tables.readings import reading_notes

    readings = run.readings(program)
    for load_id, note in zip(readings["load_id"], reading_notes(readings), strict=True):
        show(f"{load_id}{note}")


def undo(
    load: Annotated[str, typer.Argument(metavar="LOAD", help="Load to take back, as L0007.")],
    program: ProgramFolder = Path(),
    *,
    dry_run: Annotated[
        bool, typer.Option("--dry-run", help="Count what would change and change nothing.")
    ] = False,
) -> None:
    """Take one load back: what it added goes, what it corrected returns."""
    undone = run.undo(program, load, dry_run=dry_run)
    show(f"{undone.load_id} ({undone.file}): {'checked' if dry_run else 'taken back'}")
    for table, removed, returned in undone.counts.iter_rows():
        show(f"  {table}: {removed:,} removed, {returned:,} as before")
    if undone.counts.is_empty():
        show("  no record changes")
    if dry_run:
        say("Nothing was changed, as asked. Next: run it again without --dry-run.")


def withdraw(
    table: Annotated[str, typer.Argument(metavar="TABLE", help="Record table, as handovers.")],
    key: Annotated[
        list[str],
        typer.Argument(
            metavar="KEY...", help="Key of the record; for answers the wave, then the household."
        ),
    ],
    program: ProgramFolder = Path(),
    *,
    dry_run: Annotated[
        bool, typer.Option("--dry-run", help="Check whether it can go and change nothing.")
    ] = False,
) -> None:
    """Withdraw one record; it is kept in the history and can be brought back."""
    load_id = run.withdraw(program, table, key, dry_run=dry_run)
    named = f"{table} {' '.join(key)}"
    if dry_run:
        show(f"{named}: can be withdrawn")
        say("Nothing was changed, as asked. Next: run it again without --dry-run.")
        return
    show(f"{named}: withdrawn as load {load_id}")
    say(f"`planner undo {load_id}` brings it back.")
