"""planner load: take spreadsheets in."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer
from rich.console import Console
from rich.table import Table

from planner import run
from planner.cli.options import ProgramFolder, say
from planner.intake import sentences

if TYPE_CHECKING:
    from planner.loading import LoadedFile

SHOWN_PROBLEMS = 20
_WIDTH = 110
_COUNTS = ("rows_read", "new", "corrected", "unchanged", "repeated", "skipped", "refused")


def load(
    files: Annotated[
        list[Path],
        typer.Argument(metavar="FILES", help="Spreadsheets (.xlsx) or text files (.csv)."),
    ],
    program: ProgramFolder = Path(),
    *,
    dry_run: Annotated[
        bool, typer.Option("--dry-run", help="Check everything and take nothing in.")
    ] = False,
) -> None:
    """Take files into the records and list every row that cannot be taken in."""
    result = run.load(program, files, dry_run=dry_run, progress=say)
    for loaded in result.files:
        _print_file(loaded, kept=result.kept)
    refused = any(not loaded.problems.is_empty() for loaded in result.files)
    if not result.kept:
        say("Nothing was taken in, as asked. Next: run it again without --dry-run.")
    elif refused:
        say("Next: mend the rows named above in your file, then load it again.")
    else:
        say("Next: `planner report`, or load more files.")


def _print_file(loaded: LoadedFile, *, kept: bool) -> None:
    for note in loaded.notes:
        say(f"Note: {note}")
    typer.echo(f"{loaded.file}: {_standing(loaded, kept=kept)}")
    _print_counts(loaded)
    count = loaded.problems.height
    if not count:
        return
    rows = loaded.problems.select("table_name", "sheet", "row_number").n_unique()
    typer.echo(f"{rows} rows refused because of {count} cells:")
    for sentence in sentences(loaded.problems.head(SHOWN_PROBLEMS)):
        typer.echo(f"  {sentence}")
    if count > SHOWN_PROBLEMS:
        typer.echo(f"  and {count - SHOWN_PROBLEMS} more.")
    if loaded.refused_file is not None and kept:
        typer.echo(f"All of them are in {loaded.refused_file}.")


def _standing(loaded: LoadedFile, *, kept: bool) -> str:
    if not kept:
        return "checked"
    if loaded.load_id is None:
        return "loaded before, nothing new"
    again = ", rows that were refused before" if loaded.is_known else ""
    return f"taken in as load {loaded.load_id}{again}"


def _print_counts(loaded: LoadedFile) -> None:
    table = Table(box=None, pad_edge=True)
    table.add_column("sheet")
    table.add_column("table")
    for name in _COUNTS:
        table.add_column(name.replace("_", " "), justify="right")
    columns = ["rows_read", *(f"{name}_count" for name in _COUNTS[1:])]
    for row in loaded.counts.select("sheet", "table_name", *columns).iter_rows():
        table.add_row(*(f"{cell:,}" if isinstance(cell, int) else cell for cell in row))
    Console(width=_WIDTH, markup=False, highlight=False).print(table)
