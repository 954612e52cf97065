"""The officer's spreadsheet of pairs: written for a decision, read back with it."""

from __future__ import annotations

from typing import TYPE_CHECKING

import polars as pl
from openpyxl import Workbook
from openpyxl.styles import Alignment, Font, PatternFill
from openpyxl.utils import get_column_letter

from planner.cells import put_record
from planner.errors import IntakeError
from planner.intake.sheets import read_sheets
from planner.messages import in_each_language, say
from planner.store.files import write_owned
from planner.workbooks import file_bytes, offer, set_landscape

if TYPE_CHECKING:
    from pathlib import Path

    from openpyxl.cell.cell import Cell
    from openpyxl.worksheet.worksheet import Worksheet

DECISIONS = ("same", "different")
MOST_PAIRS = 5000
"""More than an officer decides; the likeliest come first, the rest after them."""

HEADINGS = {
    "decision": ("duplicates.column.decision", 12),
    "score": ("duplicates.column.score", 11),
    "reasons": ("duplicates.column.reasons", 46),
    "household_id_kept": ("duplicates.column.household_id_kept", 18),
    "name_kept": ("duplicates.column.name", 24),
    "address_kept": ("duplicates.column.address", 32),
    "registered_kept": ("duplicates.column.registered", 12),
    "bins_kept": ("duplicates.column.bins", 6),
    "household_id_other": ("duplicates.column.household_id_other", 18),
    "name_other": ("duplicates.column.name", 24),
    "address_other": ("duplicates.column.address", 32),
    "registered_other": ("duplicates.column.registered", 12),
    "bins_other": ("duplicates.column.bins", 6),
}
HEADING_ROW = 2
READ = ("household_id_kept", "household_id_other", "decision")
"""Columns that are read back, under their headings in any language."""

TWO_LINES = 29.0
"""Height of a row, in points."""

SCORE_PLACE = list(HEADINGS).index("score") + 1
OTHER_PLACE = list(HEADINGS).index("household_id_other") + 1
HEADING_COLOUR, OTHER_COLOUR = "DDE5D3", "F1E4D6"


def write_pairs(path: Path, pairs: pl.DataFrame) -> None:
    """Write pairs for a decision, readable by their owner alone.

    Parameters
    ----------
    pairs
        Columns of HEADINGS but the decision; the likeliest first.
    """
    book = Workbook()
    sheet = book.active
    sheet.title = say("duplicates.sheet")
    _write_headings(sheet)
    shown = pairs.head(MOST_PAIRS).with_columns(decision=pl.lit(None, pl.String))
    for number, row in enumerate(shown.select(*HEADINGS).iter_rows(), HEADING_ROW + 1):
        for place, content in enumerate(row, 1):
            _put(sheet.cell(number, place), content)
        sheet.cell(number, SCORE_PLACE).number_format = "0%"
        sheet.row_dimensions[number].height = TWO_LINES
    below = range(HEADING_ROW + 1, HEADING_ROW + shown.height + 1)
    offer(sheet, 1, below, DECISIONS, say("duplicates.offered"))
    write_owned(path, file_bytes(book))


def _write_headings(sheet: Worksheet) -> None:
    """Write the note and the headings, and set the page for print: one page wide."""
    _put(sheet.cell(1, 1), say("duplicates.note"))
    sheet.merge_cells(start_row=1, start_column=1, end_row=1, end_column=len(HEADINGS))
    sheet.row_dimensions[1].height = sheet.row_dimensions[HEADING_ROW].height = TWO_LINES
    for place, (heading, width) in enumerate(HEADINGS.values(), 1):
        _put(sheet.cell(HEADING_ROW, place), say(heading))
        sheet.cell(HEADING_ROW, place).font = Font(bold=True)
        colour = OTHER_COLOUR if place >= OTHER_PLACE else HEADING_COLOUR
        sheet.cell(HEADING_ROW, place).fill = PatternFill("solid", fgColor=colour)
        sheet.column_dimensions[get_column_letter(place)].width = width
    set_landscape(sheet, HEADING_ROW)
    sheet.freeze_panes = sheet.cell(HEADING_ROW + 1, 2)


def read_decisions(path: Path) -> pl.DataFrame:
    """Read the pairs that the officer has decided.

    Returns
    -------
    DataFrame
        household_id_kept, household_id_other, decision.

    Raises
    ------
    IntakeError
        The file is not there, is no such spreadsheet, or a decision is neither of the two.
    """
    if not path.is_file():
        raise IntakeError(say("duplicates.fail.no_file", file=str(path)), path=str(path))
    sheets, _ = read_sheets(path)
    rows = sheets[0].cells.drop("row_number").rows() if sheets else []
    wanted = [in_each_language(HEADINGS[name][0]) for name in READ]
    heads = [[str(cell or "").strip().lower() for cell in row] for row in rows]
    start = next((n for n, row in enumerate(heads) if all(set(row) & set(w) for w in wanted)), None)
    if start is None:
        names = ", ".join(say(HEADINGS[name][0]) for name in READ)
        message = say("duplicates.fail.no_heading", file=str(path), names=names)
        raise IntakeError(message, path=str(path))
    places = [next(n for n, head in enumerate(heads[start]) if head in words) for words in wanted]
    cells = [[_text(row, place) for place in places] for row in rows[start + 1 :]]
    decided = pl.DataFrame(
        cells,
        schema=dict.fromkeys(READ, pl.String),
        orient="row",
    ).with_columns(pl.col("decision").str.to_lowercase(), row=pl.int_range(pl.len()) + start + 2)
    _check(path, decided)
    return decided.filter(pl.col("decision") != "").drop("row")


def _check(path: Path, decided: pl.DataFrame) -> None:
    is_known = pl.col("decision").is_in(["", *DECISIONS])
    has_ids = (pl.col("household_id_kept") != "") & (pl.col("household_id_other") != "")
    wrong = decided.filter(~is_known | ((pl.col("decision") != "") & ~has_ids))
    if wrong.is_empty():
        return
    lines = [say("duplicates.fail.decisions", wrong.height, file=str(path))]
    for row, found in wrong.select("row", "decision").head(20).iter_rows():
        lines.append("  " + say("duplicates.fail.decision", row=str(row), found=found))
    raise IntakeError("\n".join(lines), path=str(path))


def _put(cell: Cell, content: object) -> None:
    put_record(cell, content)
    beside = "left" if isinstance(content, str) else "center"
    cell.alignment = Alignment(wrap_text=True, vertical="top", horizontal=beside)


def _text(row: tuple[object, ...], place: int) -> str:
    return str(row[place]).strip() if place < len(row) and row[place] is not None else ""
