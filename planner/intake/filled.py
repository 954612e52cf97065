"""A workbook that is to be written anew: kept aside where records stand in it."""

from __future__ import annotations

from itertools import count
from typing import TYPE_CHECKING

import polars as pl

from planner.errors import IntakeError
from planner.intake.headings import find_headings
from planner.intake.passed_over import pass_over
from planner.intake.sheets import OWN_SHEETS, Sheet, read_sheets
from planner.intake.vocabulary import Vocabulary

if TYPE_CHECKING:
    import datetime as dt
    from pathlib import Path


def keep_filled_workbook(path: Path, day: dt.date | None) -> Path | None:
    """Rename a workbook that holds any row beyond the examples.

    Parameters
    ----------
    path
        Workbook that is about to be written anew.
    day
        Day that its new name carries, as ``intake-before-2026-07-01.xlsx``.

    Returns
    -------
    Path or None
        Where it is kept; None where there is none, or nothing in it.
    """
    if not path.exists() or not _is_filled(path):
        return None
    stem = f"{path.stem}-before-{day}" if day else f"{path.stem}-before"
    names = (path.with_name(f"{stem}{'' if n == 1 else f'-{n}'}{path.suffix}") for n in count(1))
    kept = next(name for name in names if not name.exists())
    path.rename(kept)
    return kept


def _is_filled(path: Path) -> bool:
    """Tell whether anything was typed in; what cannot be read may hold anything."""
    try:
        sheets, notes = read_sheets(path)
        hidden = [
            note for note in notes if not any(f"sheet {name}:" in note for name in OWN_SHEETS)
        ]
        return bool(hidden) or any(_holds_rows(sheet) for sheet in sheets)
    except IntakeError:
        return True
    own = tuple(f"sheet {name}:" for name in OWN_SHEETS)
    hidden = [note for note in notes if not any(name in note for name in own)]
    return bool(hidden) or any(_holds_rows(sheet) for sheet in sheets)


def _holds_rows(sheet: Sheet) -> bool:
    if sheet.name in OWN_SHEETS:
        return False
    headings = find_headings(sheet, Vocabulary({}, {}))
    if headings is None:
        return sheet.cells.height > 0
    below = sheet.cells.filter(pl.col("row_number") > headings.row_number)
    blank = below.filter(pl.all_horizontal(pl.exclude("row_number").is_null())).height
    return below.height - blank > pass_over(sheet, headings, below).example_count
