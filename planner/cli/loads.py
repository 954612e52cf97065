"""planner loads: list what was taken in."""

from __future__ import annotations

from pathlib import Path

import typer

from planner import run
from planner.cli.options import ProgramFolder, say

_WIDTH = 110
_COUNTS = ("new_count", "corrected_count", "refused_count")


def loads(program: ProgramFolder = Path()) -> None:
    """List every load: its file, its time, its rows, and whether it was taken back."""
    from rich.console import Console
    from rich.table import Table

    listed = run.loads(program)
    if listed.is_empty():
        typer.echo("No file has been taken in.")
        return
    table = Table(box=None, pad_edge=True)
    for name in ("load", "taken in (UTC)", "from"):
        table.add_column(name)
    for name in _COUNTS:
        table.add_column(name.removesuffix("_count"), justify="right")
    table.add_column("taken back (UTC)")
    for row in listed.iter_rows(named=True):
        counts = (f"{row[name]:,}" for name in _COUNTS)
        undone = f"{row['undone_at']:%Y-%m-%d %H:%M}" if row["undone_at"] else ""
        loaded = f"{row['loaded_at']:%Y-%m-%d %H:%M}"
        table.add_row(row["load_id"], loaded, row["file"], *counts, undone)
    Console(width=_WIDTH, markup=False, highlight=False).print(table)
    _print_readings(program)
    say("`planner undo LOAD` takes one back.")


def _print_readings(program: Path) -> None:
    """Say which columns of which load were read as a person would."""
    from planner.tables.readings import reading_notes

    readings = run.readings(program)
    for load_id, note in zip(readings["load_id"], reading_notes(readings), strict=True):
        typer.echo(f"{load_id}{note}")
