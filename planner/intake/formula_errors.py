"""Formulas without a usable result in .xlsx files, which the fast reader gives as empty."""

from __future__ import annotations

import html
import re
from typing import TYPE_CHECKING

import polars as pl

from planner.intake.extents import column_number

if TYPE_CHECKING:
    from collections.abc import Iterator

    from planner.intake.archive import Archive

NO_RESULT = "#NO RESULT"
"""Stands for a formula that the program which wrote the file has not computed."""

ERROR_TEXT = r"^#(N/A|DIV/0!|REF!|VALUE!|NAME\?|NUM!|NULL!|SPILL!|CALC!|NO RESULT)$"

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
    rb'<c r="([A-Z]+)\d+"[^>]*>(?:<f[^>]*/>|<f[^>]*>[^<]*</f>)?<(?:v>[^<]|is)'
)
_LONGEST_CELL = 256 * 1024

Places = dict[int, dict[int, str]]
"""For each column from 1, texts by row from 1."""


def with_formula_errors(archive: Archive, cells_by_sheet: dict[str, pl.DataFrame]) -> None:
    """Put the errors of formulas, as ``#N/A``, back where they stand.

    Parameters
    ----------
    archive
        An .xlsx or .xlsm file; one of another kind has no such parts.
    cells_by_sheet
        For each sheet its cells as text, from row 1 and the first filled column;
        changed in place.
    """
    for name, part in _parts(archive).items():
        if name not in cells_by_sheet or part not in archive.parts:
            continue
        found, first = _found(archive, part)
        if found:
            cells_by_sheet[name] = _with_texts(cells_by_sheet[name], found, first)


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


def _found(archive: Archive, part: str) -> tuple[Places, int]:
    """Collect the cells to name, and the first column that holds anything."""
    found: Places = {}
    columns: set[bytes] = set()
    for piece in _pieces(archive, part):
        columns.update(_FILLED_CELL.findall(piece))
        for letters, row, text in _ERROR_CELL.findall(piece) if b't="e"' in piece else ():
            found.setdefault(column_number(letters), {})[int(row)] = text.decode()
        for letters, row in _UNCOMPUTED_CELL.findall(piece) if b"<f" in piece else ():
            found.setdefault(column_number(letters), {})[int(row)] = NO_RESULT
    return found, min((column_number(letters) for letters in columns), default=1)


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


def _with_texts(cells: pl.DataFrame, found: Places, first: int) -> pl.DataFrame:
    last = max(max(texts) for texts in found.values())
    if last > cells.height:
        more = pl.DataFrame(schema=cells.schema).clear(last - cells.height)
        cells = pl.concat([cells, more])
    changed = []
    for place, texts in found.items():
        if first <= place < first + cells.width:
            column = cells.to_series(place - first)
            rows = [row - 1 for row in texts if row > 0]
            changed.append(column.scatter(rows, [texts[row + 1] for row in rows]))
    return cells.with_columns(changed)
