"""Spreadsheets in, a list of what came in, and one load or record out again."""

from __future__ import annotations

import datetime as dt
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from planner import run
from planner.cli.options import ProgramFolder, command, print_table, show
from planner.cli.options import say as tell
from planner.errors import escaped
from planner.messages import say, spoken

if TYPE_CHECKING:
    from planner.intake import Proposal
    from planner.loading import LoadedFile

ROWS_REFUSED = 3
SHOWN_IN_ALL = 20
_COUNTS = ("rows_read", "new", "corrected", "unchanged", "repeated", "skipped", "refused")


def load(
    files: Annotated[
        list[Path],
        typer.Argument(metavar="FILES", help="usage.load.files"),
    ],
    program: ProgramFolder = Path(),
    *,
    accept: Annotated[
        list[str] | None,
        typer.Option(
            metavar="READING",
            help="usage.load.accept",
        ),
    ] = None,
    dry_run: Annotated[bool, typer.Option("--dry-run", help="usage.load.dry_run")] = False,
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
        progress=tell,
        day=today,
        accepted=frozenset(accept or []),
        confirm=_confirmed if sys.stdin.isatty() else None,
    )
    for loaded in result.files:
        _print_file(loaded, kept=result.kept)
    copies = [loaded.copy_file for loaded in result.files if loaded.copy_file is not None]
    if not result.kept:
        again = command("load", *files, program=program)
        tell(f"{say('load.no_taken')}\n  {again}")
    elif copies:
        tell(f"{say('load.fix_next')}\n  {command('load', *copies, program=program)}")
    else:
        tell(f"{say('load.next')}\n  {command('report', program=program)}")
    if any(not loaded.problems.is_empty() for loaded in result.files):
        raise typer.Exit(ROWS_REFUSED)


def _confirmed(proposal: Proposal) -> bool:
    """Ask once for a column whether its cells may be read so."""
    show(proposal.in_words())
    return typer.confirm(f"  {say('reading.ask')}", default=False)


def _print_file(loaded: LoadedFile, *, kept: bool) -> None:
    from planner.intake import COPIED_ROWS, faults
    from planner.tables.readings import reading_notes

    for note in (*loaded.notes, *reading_notes(loaded.readings, loaded.file)):
        tell(say("load.note", note=note))
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
        tell(say("load.note", note=say("load.copy_holds", count=COPIED_ROWS)))


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
    from rich.table import Table

    counts = loaded.counts.filter(pl.col("rows_read") > 0)
    if counts.is_empty():
        show(say("load.no_rows"))
        return
    names = ["sheet", "table_name"] if (counts["sheet"] != "").any() else ["table_name"]
    table = Table(box=None, pad_edge=True)
    for name in names:
        table.add_column(say(f"load.count.{name.removesuffix('_name')}"))
    # fates that no row met are left out, so that names and numbers need not be broken
    met = [
        name
        for name in _COUNTS[1:]
        if name in _ALWAYS_SHOWN or int(counts[f"{name}_count"].sum()) > 0
    ]
    for name in (_COUNTS[0], *met):
        table.add_column(say(f"load.count.{name}"), justify="right")
    columns = ["rows_read", *(f"{name}_count" for name in met)]
    decimal = spoken().decimal
    for row in counts.select(*names, *columns).iter_rows():
        table.add_row(*(cell if isinstance(cell, str) else decimal(cell, "#,##0") for cell in row))
    print_table(table)


_LISTED = ("new_count", "corrected_count", "refused_count")


def loads(program: ProgramFolder = Path()) -> None:
    """List every load: its file, its time, its rows, and whether it was taken back."""
    from rich.table import Table

    listed = run.loads(program)
    if listed.is_empty():
        show(say("loads.none"))
        return
    table = Table(box=None, pad_edge=True)
    for name in ("load", "taken_in", "from"):
        table.add_column(say(f"loads.{name}"))
    for name in _LISTED:
        table.add_column(say(f"load.count.{name.removesuffix('_count')}"), justify="right")
    table.add_column(say("loads.taken_back"))
    for row in listed.iter_rows(named=True):
        counts = (spoken().decimal(row[name], "#,##0") for name in _LISTED)
        undone = spoken().moment(row["undone_at"]) if row["undone_at"] else ""
        loaded = spoken().moment(row["loaded_at"])
        table.add_row(row["load_id"], loaded, row["file"], *counts, undone)
    print_table(table)
    _print_readings(program)
    tell(say("loads.next"))


def _print_readings(program: Path) -> None:
    """Say which columns of which load were read as a person would."""
    from planner.tables.readings import reading_notes

    readings = run.readings(program)
    for note in reading_notes(readings):
        show(note)


def undo(
    load: Annotated[str, typer.Argument(metavar="LOAD", help="usage.undo.load")],
    program: ProgramFolder = Path(),
    *,
    dry_run: Annotated[bool, typer.Option("--dry-run", help="usage.undo.dry_run")] = False,
) -> None:
    """Take one load back: what it added goes, what it corrected returns."""
    undone = run.undo(program, load, dry_run=dry_run)
    standing = say("load.checked" if dry_run else "undo.taken_back")
    show(say("load.file", file=f"{undone.load_id} ({undone.file})", standing=standing))
    for table, removed, returned in undone.counts.iter_rows():
        show(say("undo.table", table=table, removed=removed, returned=returned))
    if undone.counts.is_empty():
        show(say("undo.no_change"))
    if dry_run:
        tell(say("undo.dry_run"))


def withdraw(
    table: Annotated[str, typer.Argument(metavar="TABLE", help="usage.withdraw.table")],
    key: Annotated[
        list[str],
        typer.Argument(metavar="KEY...", help="usage.withdraw.key"),
    ],
    program: ProgramFolder = Path(),
    *,
    dry_run: Annotated[bool, typer.Option("--dry-run", help="usage.withdraw.dry_run")] = False,
) -> None:
    """Withdraw one record; it is kept in the history and can be brought back."""
    load_id = run.withdraw(program, table, key, dry_run=dry_run)
    standing = say("withdraw.may_go") if dry_run else say("withdraw.done", load=load_id)
    show(say("load.file", file=f"{table} {' '.join(key)}", standing=standing))
    tell(say("undo.dry_run") if dry_run else say("withdraw.next", load=load_id))
