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
from planner.store.files import write_owned
from planner.workbooks import file_bytes, offer, set_landscape

if TYPE_CHECKING:
    from collections.abc import Iterable
    from pathlib import Path

    from openpyxl.cell.cell import Cell
    from openpyxl.worksheet.worksheet import Worksheet

DECISIONS = ("same", "different")
MOST_PAIRS = 5000
"""More than an officer decides; the likeliest come first, the rest after them."""

HEADINGS = {
    "decision": ("decision", 12),
    "score": ("likely one household", 11),
    "reasons": ("why", 46),
    "household_id_kept": ("household_id kept", 18),
    "name_kept": ("name", 24),
    "address_kept": ("address", 32),
    "registered_kept": ("registered", 12),
    "bins_kept": ("bins", 6),
    "household_id_other": ("household_id other", 18),
    "name_other": ("name", 24),
    "address_other": ("address", 32),
    "registered_other": ("registered", 12),
    "bins_other": ("bins", 6),
}
NOTE = (
    "Write same or different next to each pair you have decided; leave the others empty. Same "
    "moves the records of the household on the right to the one on the left. This file holds "
    "personal details: keep it in this folder."
)
HEADING_ROW = 2
KEPT, OTHER = HEADINGS["household_id_kept"][0], HEADINGS["household_id_other"][0]
TWO_LINES = 29.0
"""Height of a row, in points."""

SCORE_PLACE = list(HEADINGS).index("score") + 1
OTHER_PLACE = list(HEADINGS).index("household_id_other") + 1
HEADING_COLOUR, OTHER_COLOUR = "DDE5D3", "F1E4D6"


def write_pairs(path: Path, pairs: pl.DataFrame) -> None:
    """Write pairs for a decision, readable by their owner alone.

    Parameters
    ----------
    path
        File to write.
    pairs
        Columns of HEADINGS but the decision; the likeliest first.
    """
    book = Workbook()
    sheet = book.active
    sheet.title = "Duplicates"
    _write_headings(sheet)
    shown = pairs.head(MOST_PAIRS).with_columns(decision=pl.lit(None, pl.String))
    for number, row in enumerate(shown.select(*HEADINGS).iter_rows(), HEADING_ROW + 1):
        for place, content in enumerate(row, 1):
            _put(sheet.cell(number, place), content)
        sheet.cell(number, SCORE_PLACE).number_format = "0%"
        sheet.row_dimensions[number].height = TWO_LINES
    below = range(HEADING_ROW + 1, HEADING_ROW + shown.height + 1)
    offer(sheet, 1, below, DECISIONS, "Write same or different.")
    write_owned(path, file_bytes(book))


def _write_headings(sheet: Worksheet) -> None:
    """Write the note and the headings, and set the page for print: one page wide."""
    _put(sheet.cell(1, 1), NOTE)
    sheet.merge_cells(start_row=1, start_column=1, end_row=1, end_column=len(HEADINGS))
    sheet.row_dimensions[1].height = sheet.row_dimensions[HEADING_ROW].height = TWO_LINES
    for place, (heading, width) in enumerate(HEADINGS.values(), 1):
        _put(sheet.cell(HEADING_ROW, place), heading)
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
        message = f"{path}: no such file. `planner duplicates` writes one."
        raise IntakeError(message, path=str(path))
    sheets, _ = read_sheets(path)
    rows = sheets[0].cells.drop("row_number").rows() if sheets else []
    wanted = (KEPT, OTHER, HEADINGS["decision"][0])
    heads = [[str(cell or "").strip().lower() for cell in row] for row in rows]
    start = next((n for n, row in enumerate(heads) if set(wanted) <= set(row)), None)
    if start is None:
        message = (
            f"{path}: found no heading row with {', '.join(wanted)}. Take the file that "
            "`planner duplicates` wrote, and leave its headings as they are."
        )
        raise IntakeError(message, path=str(path))
    places = [heads[start].index(name) for name in wanted]
    cells = [[_text(row, place) for place in places] for row in rows[start + 1 :]]
    decided = pl.DataFrame(
        cells,
        schema=dict.fromkeys(("household_id_kept", "household_id_other", "decision"), pl.String),
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
    lines = _named(wrong.select("row", "decision").head(20).iter_rows())
    message = f"{path}: {wrong.height:,} decisions need fixing; nothing was merged.\n{lines}"
    raise IntakeError(message, path=str(path))


def _named(rows: Iterable[tuple[int, str]]) -> str:
    return "\n".join(
        f'  row {row}, decision: found "{found}", expected same, different or nothing, '
        "beside two household ids"
        for row, found in rows
    )


def _put(cell: Cell, content: object) -> None:
    put_record(cell, content)
    beside = "left" if isinstance(content, str) else "center"
    cell.alignment = Alignment(wrap_text=True, vertical="top", horizontal=beside)


def _text(row: tuple[object, ...], place: int) -> str:
    return str(row[place]).strip() if place < len(row) and row[place] is not None else ""
