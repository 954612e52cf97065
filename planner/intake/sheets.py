"""Sheets of the officer's files, every cell as text with its true row number."""

from __future__ import annotations

import csv
import hashlib
import io
import re
from dataclasses import dataclass
from typing import TYPE_CHECKING

import fastexcel
import polars as pl

from planner.errors import IntakeError
from planner.intake.formula_errors import with_formula_errors

if TYPE_CHECKING:
    from pathlib import Path

SPREADSHEETS = (".xlsx", ".xlsm", ".xlsb", ".xls", ".ods")
TEXT_FILES = (".csv", ".tsv", ".txt")
SEPARATORS = (",", ";", "\t")
GUIDE_SHEET = "Read me first"
LISTS_SHEET = "lists"
OWN_SHEETS = (GUIDE_SHEET, LISTS_SHEET)
"""Sheets of the officer's workbook that hold no records."""

HEAD_ROWS = 15
"""Headings stand within this many rows; what stands above them is for people."""

_MARKS = ((b"\xef\xbb\xbf", "utf-8-sig"), (b"\xff\xfe", "utf-16"), (b"\xfe\xff", "utf-16"))


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
        The file is missing, of another kind, protected by a password, or damaged.
    """
    kind = path.suffix.lower()
    if not path.is_file():
        message = f"{path}: no such file. Check the name and the folder."
        raise IntakeError(message, path=str(path))
    if kind in SPREADSHEETS:
        return _spreadsheet(path)
    if kind in TEXT_FILES:
        return [_text_file(path)], []
    message = f"{path.name}: found a {kind or 'nameless'} file, expected .xlsx or .csv. Save it so."
    raise IntakeError(message, path=str(path))


def _spreadsheet(path: Path) -> tuple[list[Sheet], list[str]]:
    notes = []
    cells_by_sheet: dict[str, pl.DataFrame] = {}
    try:
        book = fastexcel.read_excel(path)
        for name in book.sheet_names:
            loaded = book.load_sheet(name, header_row=None, skip_rows=0, dtypes="string")
            if loaded.visible == "visible":
                cells_by_sheet[name] = loaded.to_polars()
            else:
                notes.append(f"{path.name}, sheet {name}: hidden, not read.")
    except (fastexcel.FastExcelError, OSError) as error:
        message = (
            f"{path.name}: cannot be read as a spreadsheet. Open it in your spreadsheet program, "
            "take off any password and save it again as .xlsx."
        )
        raise IntakeError(message, path=str(path)) from error
    with_formula_errors(path, cells_by_sheet)
    sheets = [
        Sheet(path.name, name, name, _numbered(cells), has_number_cells=True)
        for name, cells in cells_by_sheet.items()
    ]
    return sheets, notes


def _text_file(path: Path) -> Sheet:
    text = _decoded(path.read_bytes())
    separator, width = _layout(text)
    names = separator.join(f"cell_{number}" for number in range(width))
    try:
        cells = pl.read_csv(
            io.BytesIO(f"{names}\n{text}".encode()),
            separator=separator,
            infer_schema=False,
            truncate_ragged_lines=True,
        )
    except pl.exceptions.ComputeError as error:
        message = (
            f'{path.name}: a text in "quotes" is opened and not closed. Open the file in your '
            "spreadsheet program and save it again as CSV, or as .xlsx."
        )
        raise IntakeError(message, path=str(path)) from error
    return Sheet(path.name, "", path.stem, _numbered(cells), has_number_cells=False)


def _decoded(content: bytes) -> str:
    encodings = [encoding for mark, encoding in _MARKS if content.startswith(mark)]
    for encoding in (*encodings, "utf-8"):
        try:
            return content.decode(encoding)
        except UnicodeDecodeError:
            continue
    return content.decode("cp1252", errors="replace")


def _layout(text: str) -> tuple[str, int]:
    """Tell the separator that splits the first rows into most cells, and how many."""
    head = text.splitlines()[: 2 * HEAD_ROWS]
    widths = {}
    for separator in SEPARATORS:
        rows = list(csv.reader(head, delimiter=separator))
        widths[separator] = max((len(row) for row in rows), default=1)
    best = max(SEPARATORS, key=lambda separator: _steadiness(head, separator))
    return best, max(widths[best], 1) + 1  # one more shows a row with too many cells


def _steadiness(head: list[str], separator: str) -> tuple[int, int]:
    """Rate a separator: cells of words on the row that has most of them, then in all."""
    rows = [row for row in csv.reader(head, delimiter=separator) if len(row) > 1]
    words = [
        sum(bool(re.fullmatch(r"\s*[^\W\d][\w \-]*\s*", cell)) for cell in row) for row in rows
    ]
    return max(words, default=0), sum(len(row) for row in rows)


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
