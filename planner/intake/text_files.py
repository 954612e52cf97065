"""Text files of records: their encoding, separator and width, told from the file itself."""

from __future__ import annotations

import codecs
import csv
import io
import re
from typing import TYPE_CHECKING

import polars as pl

from planner.errors import IntakeError
from planner.intake import limits

if TYPE_CHECKING:
    from pathlib import Path

SEPARATORS = (",", ";", "\t")
_MARKS = ((b"\xef\xbb\xbf", "utf-8-sig"), (b"\xff\xfe", "utf-16"), (b"\xfe\xff", "utf-16"))
_HEAD_LINES = 30
_HEAD_BYTES = 256 * 1024
_PIECE = 16 * limits.MIB
_ARCHIVE_SIGN = b"PK\x03\x04"


def read_text_cells(path: Path) -> pl.DataFrame:
    """Read a text file as text cells; the last column shows rows with too many cells.

    Raises
    ------
    IntakeError
        The file is too large, no text, or has a quote that is not closed.
    """
    if path.stat().st_size > limits.TEXT_BYTES_MOST:
        mib = limits.TEXT_BYTES_MOST // limits.MIB
        raise _refused(path, f"larger than {mib:,} MiB. Split it into several files")
    content = _as_utf8(path)
    head = content[:_HEAD_BYTES].decode("utf-8", errors="ignore").split("\n")[:_HEAD_LINES]
    separator, width = _layout(head)
    if width > limits.COLUMNS_MOST + 1:
        most = f"expected at most {limits.COLUMNS_MOST:,}"
        raise _refused(path, f"a row has {width - 1:,} cells, {most}")
    names = separator.join(f"cell_{number}" for number in range(width))
    try:
        return pl.read_csv(
            io.BytesIO(b"".join((names.encode(), b"\n", content))),
            separator=separator,
            infer_schema=False,
            truncate_ragged_lines=True,
        )
    except pl.exceptions.PolarsError as error:
        raise _refused(
            path,
            'a text in "quotes" is opened and not closed. Open the file in your spreadsheet '
            "program and save it again as CSV, or as .xlsx",
        ) from error


def _refused(path: Path, why: str) -> IntakeError:
    return IntakeError(f"{path.name}: {why}.", path=str(path))


def _as_utf8(path: Path) -> bytes:
    content = path.read_bytes()
    if content.startswith(_ARCHIVE_SIGN):
        raise _refused(path, "found a workbook under the name of a text file. Name it .xlsx")
    mark = next((encoding for sign, encoding in _MARKS if content.startswith(sign)), None)
    if mark == "utf-8-sig":
        content = content[len(_MARKS[0][0]) :]
    elif mark is not None:
        content = content.decode(mark, errors="replace").encode()
    if b"\x00" in content:
        raise _refused(path, "found bytes that are no text. Save it as CSV in UTF-8")
    if not _is_utf8(content):
        content = content.decode("cp1252", errors="replace").encode()
    if b"\n" not in content:
        content = content.replace(b"\r", b"\n")
    return content


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


def _layout(head: list[str]) -> tuple[str, int]:
    """Tell the separator that splits the first rows into most cells, and how many."""
    rows = {separator: _split(head, separator) for separator in SEPARATORS}
    best = max(SEPARATORS, key=lambda separator: _steadiness(rows[separator]))
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
        sum(bool(re.fullmatch(r"\s*[^\W\d][\w \-()/]*\s*", cell)) for cell in row)
        for row in several
    ]
    return max(words, default=0), sum(len(row) for row in several)
