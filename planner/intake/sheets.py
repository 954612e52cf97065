"""Sheets of the officer's files, every cell as text with its true row number."""

from __future__ import annotations

import codecs
import csv
import hashlib
import io
import json
import re
from dataclasses import dataclass
from functools import reduce
from typing import TYPE_CHECKING

import polars as pl

from planner.errors import IntakeError
from planner.messages import say
from planner.vetting.archive import COLUMNS_MOST, MIB, TEXT_BYTES_MOST
from planner.vetting.guard import guarded, missing_limits
from planner.vetting.workbook import read_workbook

if TYPE_CHECKING:
    from pathlib import Path

SEPARATORS = (",", ";", "\t")
_MARKS = ((b"\xef\xbb\xbf", "utf-8-sig"), (b"\xff\xfe", "utf-16"), (b"\xfe\xff", "utf-16"))
TEXT_CELLS_MOST = 200_000_000
"""Cells of a text file as it is laid out, 16 bytes each: 10⁷ households of 15 columns fit."""

_NAMED_SEPARATOR = re.compile(rb'"?sep=([,;|:\t])"?[,;|:\t]*(?:\r\n?|\n|$)', re.IGNORECASE)
"""A first line by which spreadsheet programs are told the separator (common practice)."""

_HEAD_LINES = 30
_HEAD_BYTES = 256 * 1024
_PIECE = 16 * MIB
_ARCHIVE_SIGN = b"PK\x03\x04"


def read_text_cells(path: Path) -> pl.DataFrame:
    """Read a text file as text cells; the last column shows rows with too many cells.

    Raises
    ------
    IntakeError
        The file is too large, no text, or has a quote that is not closed.
    """
    if path.stat().st_size > TEXT_BYTES_MOST:
        raise _refused(path, say("file.too_large", most=TEXT_BYTES_MOST // MIB))
    content = _as_utf8(path)
    head = re.split(r"\r\n?|\n", content[:_HEAD_BYTES].decode("utf-8", errors="ignore"))
    named = _NAMED_SEPARATOR.match(content)
    if named:
        # the line is no row, and keeps its place so that rows are numbered as they stand
        content, head[0] = content[named.end() :], ""
        content = b"\n" + content
    separator, width = _layout(head[:_HEAD_LINES], named[1].decode() if named else "")
    if content.count(b"\r") > content.count(b"\r\n"):
        content = _with_one_line_end(content, separator)
    if width > COLUMNS_MOST + 1:
        raise _refused(path, say("file.too_wide", count=width - 1, most=COLUMNS_MOST))
    lines = content.count(b"\n") + 1
    if lines * width > TEXT_CELLS_MOST:
        most = {"lines": lines, "width": width - 1, "most": TEXT_CELLS_MOST}
        raise _refused(path, say("file.too_many_cells", **most))
    names = separator.join(f"cell_{number}" for number in range(width))
    try:
        return pl.read_csv(
            io.BytesIO(b"".join((names.encode(), b"\n", content))),
            separator=separator,
            infer_schema=False,
            truncate_ragged_lines=True,
        )
    except pl.exceptions.PolarsError as error:
        raise _refused(path, say("file.open_quote")) from error


def _refused(path: Path, why: str) -> IntakeError:
    return IntakeError(say("file.refused", file=path.name, why=why), path=str(path))


def _as_utf8(path: Path) -> bytes:
    content = path.read_bytes()
    if content.startswith(_ARCHIVE_SIGN):
        raise _refused(path, say("file.is_workbook"))
    mark = next((encoding for sign, encoding in _MARKS if content.startswith(sign)), None)
    if mark == "utf-8-sig":
        content = content[len(_MARKS[0][0]) :]
    elif mark is not None:
        content = content.decode(mark, errors="replace").encode()
    if b"\x00" in content:
        raise _refused(path, say("file.no_text"))
    if not _is_utf8(content):
        content = content.decode("cp1252", errors="replace").encode()
    return content


def _with_one_line_end(content: bytes, separator: str) -> bytes:
    """End every row with a line feed; what stands in quotes stays as it is.

    The reader knows no carriage return alone as the end of a row, as spreadsheet programs do:
    in a file put together from two systems it would read two rows as one.
    """
    ends = re.compile(rb'((?<![^\n\r%b])"[^"]*"(?:"[^"]*")*)|\r\n?' % separator.encode())
    return ends.sub(lambda found: found[1] or b"\n", content)


def _is_utf8(content: bytes) -> bool:
    decoder = codecs.getincrementaldecoder("utf-8")()
    view = memoryview(content)
    try:
        for start in range(0, len(view), _PIECE):
            decoder.decode(view[start : start + _PIECE])
        decoder.decode(b"", True)
    except UnicodeDecodeError:
        return False
    return True


def _layout(head: list[str], named: str) -> tuple[str, int]:
    """Tell the separator, named or that splits the first rows into most cells; and how many."""
    rows = {separator: _split(head, separator) for separator in named or SEPARATORS}
    best = max(rows, key=lambda separator: _steadiness(rows[separator]))
    width = max((len(row) for row in rows[best]), default=1)
    return best, max(width, 1) + 1  # one more shows a row with too many cells


def _split(head: list[str], separator: str) -> list[list[str]]:
    try:
        return list(csv.reader(head, delimiter=separator))
    except csv.Error:
        return [line.split(separator) for line in head]


def _steadiness(rows: list[list[str]]) -> tuple[int, int]:
    """Rate a separator: cells of words on the row that has most of them, then in all."""
    several = [row for row in rows if len(row) > 1]
    words = [
        sum(bool(re.fullmatch(r"[^\W\d][\w \-()/]*", cell.strip())) for cell in row)
        for row in several
    ]
    return max(words, default=0), sum(len(row) for row in several)


ERROR_TEXT = r"^#(N/A|DIV/0!|REF!|VALUE!|NAME\?|NUM!|NULL!|SPILL!|CALC!|NO RESULT)$"


def _with_texts(cells: pl.DataFrame, found: dict[str, dict[str, str]], first: int) -> pl.DataFrame:
    """Put the errors of formulas, as ``#N/A``, back where they stand."""
    places = {
        int(place): {int(row): text for row, text in texts.items()}
        for place, texts in found.items()
    }
    last = max(max(texts) for texts in places.values())
    if last > cells.height:
        more = pl.DataFrame(schema=cells.schema).clear(last - cells.height)
        cells = pl.concat([cells, more])
    changed = []
    for place, texts in places.items():
        if first <= place < first + cells.width:
            column = cells.to_series(place - first)
            changed.append(column.scatter([row - 1 for row in texts], list(texts.values())))
    return cells.with_columns(changed)


SPREADSHEETS = (".xlsx", ".xlsm", ".ods")
TEXT_FILES = (".csv", ".tsv", ".txt")
GUIDE_SHEETS = {"en": "Read me first", "fr": "À lire en premier", "es": "Léame primero"}
"""Name of the guide by language: a load knows each, whatever the program's language is now."""

LISTS_SHEET = "lists"
GUIDING_SHEETS = (*GUIDE_SHEETS.values(), LISTS_SHEET)
"""Sheets of the officer's workbook that hold no records."""

HEAD_ROWS = 15
"""Headings stand within this many rows; what stands above them is for people."""


@dataclass(frozen=True)
class Sheet:
    """One sheet, or a whole text file."""

    # name of the file; of the sheet, empty for a text file
    file: str
    name: str
    label: str  # name that may tell the table: the sheet's, or a text file's own
    # ``row_number`` and one text column for each column of the sheet; an empty cell is null
    cells: pl.DataFrame
    has_number_cells: bool  # numbers of number cells come with a point whatever the country writes

    @property
    def place(self) -> str:
        """Name the sheet as messages do."""
        return say("place.sheet", file=self.file, sheet=self.name) if self.name else self.file

    @property
    def address(self) -> str:
        """Name the sheet as the program file does, in every language: the file and its sheet."""
        return f"{self.file}, {self.name}" if self.name else self.file

    def row(self, number: int) -> str:
        """Name a row of the sheet as messages do."""
        return say("place.row", place=self.place, row=str(number))


def content_mark(path: Path) -> str:
    """Compute the SHA-256 of a file's content."""
    with path.open("rb") as content:
        return hashlib.file_digest(content, "sha256").hexdigest()


def read_sheets(path: Path) -> tuple[list[Sheet], list[str]]:
    """Read every visible sheet of a file, and note hidden ones that may hold records.

    Raises
    ------
    IntakeError
        The file is missing, of another kind, protected by a password, damaged, or made
        to harm a reader.
    """
    kind = path.suffix.lower()
    if path.is_dir():
        raise IntakeError(say("file.folder", path=str(path)), path=str(path))
    if not path.is_file():
        raise IntakeError(say("file.missing", path=str(path)), path=str(path))
    try:
        if kind in SPREADSHEETS:
            return _spreadsheet(path)
        if kind in TEXT_FILES:
            cells = _numbered(read_text_cells(path))
            return [Sheet(path.name, "", path.stem, cells, has_number_cells=False)], []
    except OSError as error:
        message = say("file.closed", path=str(path), why=error.strerror or "")
        raise IntakeError(message, path=str(path)) from error
    message = say("file.other_kind", file=path.name, kind=kind or say("file.nameless"))
    raise IntakeError(message, path=str(path))


def _spreadsheet(path: Path) -> tuple[list[Sheet], list[str]]:
    head, *streams = guarded(
        path, read_workbook, (str(path),), lambda sentence: IntakeError(sentence, path=str(path))
    )
    description = json.loads(head)
    sheets = []
    for (name, (places, first)), stream in zip(description["sheets"], streams, strict=True):
        cells = pl.read_ipc_stream(io.BytesIO(stream))
        if places:
            cells = _with_texts(cells, places, first)
        sheets.append(Sheet(path.name, name, name, _numbered(cells), has_number_cells=True))
    notes = [
        say("file.hidden", place=say("place.sheet", file=path.name, sheet=name))
        for name in description["hidden"]
        if name not in GUIDING_SHEETS
    ]
    return sheets, [*notes, *_unlimited(path)]


def _unlimited(path: Path) -> list[str]:
    """Say what a hostile file could take on this system."""
    missing = missing_limits()
    if not missing:
        return []
    named = [say(f"file.{one}") for one in missing]
    listed = reduce(lambda one, other: say("file.or", one=one, other=other), named)
    return [say("file.unlimited", file=path.name, limits=listed)]


def _numbered(cells: pl.DataFrame) -> pl.DataFrame:
    """Add true row numbers, make blanks null, drop the blank rows at the end."""
    cells = cells.rename({name: f"cell_{number}" for number, name in enumerate(cells.columns)})
    trimmed = pl.all().cast(pl.String).str.replace_all("\u00a0", " ").str.strip_chars()
    # what keeps a spreadsheet from running a text, or from reading a number, is no part of it
    trimmed = trimmed.str.replace(r"^'([=+@\d-])", "$1")
    cells = cells.select(trimmed).select(pl.when(pl.all() != "").then(pl.all()))
    cells = cells.with_row_index("row_number", offset=1).cast({"row_number": pl.Int64})
    if cells.width == 1:
        return cells
    filled = cells.filter(pl.any_horizontal(pl.exclude("row_number").is_not_null()))
    last = filled["row_number"].max() if filled.height else 0
    return cells.filter(pl.col("row_number") <= last)
