"""Sheets of the officer's files, every cell as text with its true row number."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from typing import TYPE_CHECKING

import fastexcel
import polars as pl

from planner.errors import IntakeError
from planner.intake.archive import checked_archive, unreadable
from planner.intake.extents import check_extents
from planner.intake.formula_errors import with_formula_errors
from planner.intake.ods_extents import check_ods_extents
from planner.intake.text_files import read_text_cells

if TYPE_CHECKING:
    from pathlib import Path

SPREADSHEETS = (".xlsx", ".xlsm", ".ods")
TEXT_FILES = (".csv", ".tsv", ".txt")
GUIDE_SHEET = "Read me first"
LISTS_SHEET = "lists"
OWN_SHEETS = (GUIDE_SHEET, LISTS_SHEET)
"""Sheets of the officer's workbook that hold no records."""

HEAD_ROWS = 15
"""Headings stand within this many rows; what stands above them is for people."""


@dataclass(frozen=True)
class Sheet:
    """One sheet, or a whole text file.

    Attributes
    ----------
    file, name
        Name of the file; of the sheet, empty for a text file.
    label
        Name that may tell the table: the sheet's, or a text file's own.
    cells
        ``row_number`` and one text column for each column of the sheet; an empty cell
        is null.
    has_number_cells
        Numbers of number cells come with a point whatever the country writes.
    """

    file: str
    name: str
    label: str
    cells: pl.DataFrame
    has_number_cells: bool

    @property
    def place(self) -> str:
        """Name the sheet as messages do."""
        return f"{self.file}, sheet {self.name}" if self.name else self.file


def content_mark(path: Path) -> str:
    """Compute the SHA-256 of a file's content."""
    with path.open("rb") as content:
        return hashlib.file_digest(content, "sha256").hexdigest()


def read_sheets(path: Path) -> tuple[list[Sheet], list[str]]:
    """Read every visible sheet of a file, and note the hidden ones.

    Raises
    ------
    IntakeError
        The file is missing, of another kind, protected by a password, damaged, or made
        to harm a reader.
    """
    kind = path.suffix.lower()
    if path.is_dir():
        message = f"{path}: found a folder, expected a file. Name the files in it one by one."
        raise IntakeError(message, path=str(path))
    if not path.is_file():
        message = f"{path}: no such file. Check the name and the folder."
        raise IntakeError(message, path=str(path))
    try:
        if kind in SPREADSHEETS:
            return _spreadsheet(path)
        if kind in TEXT_FILES:
            cells = _numbered(read_text_cells(path))
            return [Sheet(path.name, "", path.stem, cells, has_number_cells=False)], []
    except OSError as error:
        message = f"{path}: cannot be read ({error.strerror}). Check that you may open it."
        raise IntakeError(message, path=str(path)) from error
    message = (
        f"{path.name}: found a {kind or 'nameless'} file, expected .xlsx, .ods or .csv. "
        "Open it in your spreadsheet program and save it so."
    )
    raise IntakeError(message, path=str(path))


def _spreadsheet(path: Path) -> tuple[list[Sheet], list[str]]:
    notes = []
    cells_by_sheet: dict[str, pl.DataFrame] = {}
    with checked_archive(path) as archive:
        check_ods_extents(archive) if path.suffix.lower() == ".ods" else check_extents(archive)
        try:
            book = fastexcel.read_excel(path)
            for name in book.sheet_names:
                loaded = book.load_sheet(name, header_row=None, skip_rows=0, dtypes="string")
                if loaded.visible == "visible":
                    cells_by_sheet[name] = loaded.to_polars()
                else:
                    notes.append(f"{path.name}, sheet {name}: hidden, not read.")
        except fastexcel.FastExcelError as error:
            raise unreadable(path) from error
        with_formula_errors(archive, cells_by_sheet)
    sheets = [
        Sheet(path.name, name, name, _numbered(cells), has_number_cells=True)
        for name, cells in cells_by_sheet.items()
    ]
    return sheets, notes


def _numbered(cells: pl.DataFrame) -> pl.DataFrame:
    """Add true row numbers, make blanks null, drop the blank rows at the end."""
    cells = cells.rename({name: f"cell_{number}" for number, name in enumerate(cells.columns)})
    trimmed = pl.all().cast(pl.String).str.replace_all("\u00a0", " ").str.strip_chars()
    cells = cells.select(trimmed).select(pl.when(pl.all() != "").then(pl.all()))
    cells = cells.with_row_index("row_number", offset=1).cast({"row_number": pl.Int64})
    if cells.width == 1:
        return cells
    filled = cells.filter(pl.any_horizontal(pl.exclude("row_number").is_not_null()))
    last = filled["row_number"].max() if filled.height else 0
    return cells.filter(pl.col("row_number") <= last)
