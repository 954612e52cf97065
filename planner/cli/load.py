"""planner load: take spreadsheets in."""

from __future__ import annotations

import datetime as dt
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from planner import run
from planner.cli.options import ProgramFolder, command, say
from planner.errors import escaped

if TYPE_CHECKING:
    from planner.intake import Proposal
    from planner.loading import LoadedFile

ROWS_REFUSED = 3
SHOWN_IN_ALL = 20
_WIDTH = 110
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
    typer.echo(proposal.in_words())
    return typer.confirm("  Read them so?", default=False)


def _print_file(loaded: LoadedFile, *, kept: bool) -> None:
    from planner.intake import COPIED_ROWS, faults
    from planner.tables.readings import reading_notes

    for note in loaded.notes:
        say(f"Note: {note}")
    for note in reading_notes(loaded.readings):
        say(f"Note: {loaded.file}{note}")
    typer.echo(f"{loaded.file}: {_standing(loaded, kept=kept)}")
    _print_counts(loaded)
    if loaded.problems.is_empty():
        return
    found = faults(loaded.problems)
    typer.echo(f"{found.heading}.")
    shown = found.lines.head(SHOWN_IN_ALL)
    for sentence in shown["sentence"]:
        typer.echo(f"  {escaped(sentence)}")
    left = found.cells_count - int(shown["count"].sum())
    if left:
        typer.echo(f"  and {left:,} cells more.")
    if kept and loaded.copy_file is not None:
        typer.echo(f"The refused rows, their cells marked: {loaded.copy_file}")
        typer.echo(f"All that was found, as a list: {loaded.refused_file}")
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
    from rich.console import Console
    from rich.table import Table

    counts = loaded.counts.filter(pl.col("rows_read") > 0)
    if counts.is_empty():
        typer.echo("  no rows")
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
    Console(width=_WIDTH, markup=False, highlight=False).print(table)
