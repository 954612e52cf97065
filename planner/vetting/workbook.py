"""One parser of spreadsheets, run in the process with limits: vetted, then read as text."""

from __future__ import annotations

import html
import io
import json
import re
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

from planner.vetting.archive import checked_archive, unreadable
from planner.vetting.extents import (
    check_extents,
    check_ods_extents,
    column_number,
    refuse_covered,
)

if TYPE_CHECKING:
    from collections.abc import Iterator

    from fastexcel import ExcelSheet

    from planner.vetting.archive import Archive

NO_RESULT = "#NO RESULT"
"""Stands for a formula that the program which wrote the file has not computed."""

ROWS_MOST = 1_048_576
"""Rows that a sheet can have in any program."""

_ROW_DIGITS = len(str(ROWS_MOST))
_BOOK, _BOOK_LINKS = "xl/workbook.xml", "xl/_rels/workbook.xml.rels"
_SHEET = re.compile(r'<sheet [^>]*?name="([^"]*)"[^>]*?r:id="([^"]*)"')
_TARGET = re.compile(r"<Relationship [^>]*>")
_ERROR_CELL = re.compile(
    rb'<c r="([A-Z]+)(\d+)"[^>]*\bt="e"[^>]*>(?:<f[^>]*/>|<f[^>]*>[^<]*</f>)?<v>([^<]*)</v>'
)
_UNCOMPUTED_CELL = re.compile(
    rb'<c r="([A-Z]+)(\d+)"(?![^>]*\bt="str")[^>]*>(?:<f[^>]*/>|<f[^>]*>[^<]*</f>)'
    rb"(?:<v></v>|<v ?/>)?</c>"
)
_FILLED_CELL = re.compile(
    rb'<c r="([A-Z]+)(\d+)"[^>]*>(?:<f[^>]*/>|<f[^>]*>[^<]*</f>)?<(?:v>[^<]|is)'
)
_MERGED = re.compile(
    rb'<(?:\w+:)?mergeCell\s[^>]*?ref="([A-Z]{1,3})(\d{1,7}):([A-Z]{1,3})(\d{1,7})"'
)
_MERGED_CELLS_MOST = 1_000_000
"""Cells that merged ones may cover; far more than anybody merges by hand."""

_LONGEST_CELL = 256 * 1024

Places = dict[int, dict[int, str]]
"""For each column from 1, texts by row from 1."""


class FormulaErrors(NamedTuple):
    """Errors of formulas, as ``#N/A``, where they stand on a sheet."""

    places: Places  # texts by column and row, both from 1
    first: int  # first column that holds anything, which the reader puts first


def read_workbook(file: str) -> Iterator[bytes]:
    """Vet and read a workbook; run in the process with limits.

    Yields
    ------
    bytes
        First JSON with ``sheets`` (for each visible sheet its name, and its formula errors)
        and ``hidden`` (names of others), then an Arrow stream of texts for each visible sheet.

    Raises
    ------
    IntakeError
        The file cannot be read, or passes a bound.
    """
    import fastexcel

    path = Path(file)
    with checked_archive(path) as archive:
        check_ods_extents(archive) if path.suffix.lower() == ".ods" else check_extents(archive)
        streams: dict[str, bytes] = {}
        hidden = []
        try:
            book = fastexcel.read_excel(path)
            for name in book.sheet_names:
                loaded = book.load_sheet(name, header_row=None, skip_rows=0, dtypes="string")
                if loaded.visible == "visible":
                    streams[name] = _arrow_stream(loaded)
                else:
                    hidden.append(name)
        except fastexcel.FastExcelError as error:
            raise unreadable(path) from error
        parts = _parts(archive)
        errors = [_formula_errors(archive, parts.get(name, "")) for name in streams]
    sheets = list(zip(streams, errors, strict=True))
    yield json.dumps({"sheets": sheets, "hidden": hidden}).encode()
    yield from streams.values()


def _arrow_stream(sheet: ExcelSheet) -> bytes:
    from arro3.io import write_ipc_stream

    out = io.BytesIO()
    write_ipc_stream(sheet, out, compression=None)
    return out.getvalue()


def _parts(archive: Archive) -> dict[str, str]:
    """Tell the part of the file in which each sheet lies."""
    if not {_BOOK, _BOOK_LINKS} <= set(archive.parts):
        return {}
    targets = {}
    for link in _TARGET.findall(archive.text(_BOOK_LINKS)):
        fields = dict(re.findall(r'(\w+)="([^"]*)"', link))
        target = fields.get("Target", "").removeprefix("/xl/").removeprefix("xl/")
        targets[fields.get("Id", "")] = f"xl/{target}"
    sheets = _SHEET.findall(archive.text(_BOOK))
    return {html.unescape(name): targets.get(key, "") for name, key in sheets}


def _formula_errors(archive: Archive, part: str) -> FormulaErrors:
    """Collect the cells to name, and the first column that holds anything."""
    found: Places = {}
    if part not in archive.parts:
        return FormulaErrors(found, 1)
    columns: set[bytes] = set()
    merged = _merged(archive, part)
    for piece in _pieces(archive, part):
        filled = _FILLED_CELL.findall(piece)
        columns.update(letters for letters, _ in filled)
        _check_covered(archive, merged, filled)
        for letters, row, text in _ERROR_CELL.findall(piece) if b't="e"' in piece else ():
            _note(found, letters, row, text.decode(errors="replace"))
        for letters, row in _UNCOMPUTED_CELL.findall(piece) if b"<f" in piece else ():
            _note(found, letters, row, NO_RESULT)
    return FormulaErrors(found, min((column_number(letters) for letters in columns), default=1))


def _merged(archive: Archive, part: str) -> dict[int, set[int]]:
    """List the cells, by row, that merged ones cover; each one's first cell is to be seen."""
    covered: dict[int, set[int]] = {}
    count = 0
    for first, top, last, bottom in _MERGED.findall(b"".join(_tails(archive, part))):
        columns = range(column_number(first), column_number(last) + 1)
        rows = range(int(top), int(bottom) + 1)
        count += len(columns) * len(rows)
        if count > _MERGED_CELLS_MOST:
            archive.refuse("merged", "unmerge", most=_MERGED_CELLS_MOST)
        for row in rows:
            covered.setdefault(row, set()).update(columns[row == rows[0] :])
    return covered


def _tails(archive: Archive, part: str) -> Iterator[bytes]:
    """Unpack what stands under the rows of a sheet, where it names merged cells."""
    is_under = False
    before = b""
    for chunk in archive.chunks(part):
        piece = before + chunk
        place = 0 if is_under else piece.find(b"sheetData>")
        is_under |= place >= 0
        yield piece[place:] if is_under else b""
        before = b"" if is_under else chunk[-len(b"sheetData>") :]


def _check_covered(
    archive: Archive, covered: dict[int, set[int]], filled: list[tuple[bytes, bytes]]
) -> None:
    for letters, row in filled if covered else ():
        if column_number(letters) in covered.get(int(row[:_ROW_DIGITS]), ()):
            refuse_covered(archive, letters.decode(), int(row))


def _note(found: Places, letters: bytes, row: bytes, text: str) -> None:
    # a place beyond any sheet would have the planner lay out rows up to it
    if len(row) <= _ROW_DIGITS and 0 < int(row) <= ROWS_MOST:
        found.setdefault(column_number(letters), {})[int(row)] = text


def _pieces(archive: Archive, part: str) -> Iterator[bytes]:
    """Unpack a part in pieces that end between two cells."""
    carried = b""
    for chunk in archive.chunks(part):
        piece = carried + chunk
        cut = piece.rfind(b"<c ")
        whole = cut > 0 and len(piece) - cut < _LONGEST_CELL
        piece, carried = (piece[:cut], piece[cut:]) if whole else (piece, b"")
        yield piece
    yield carried
