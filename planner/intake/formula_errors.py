"""Errors of formulas in .xlsx files, which the fast reader gives as empty cells."""

from __future__ import annotations

import html
import re
import zipfile
from typing import TYPE_CHECKING

import polars as pl

if TYPE_CHECKING:
    from pathlib import Path

ERROR_TEXT = r"^#(N/A|DIV/0!|REF!|VALUE!|NAME\?|NUM!|NULL!|SPILL!|CALC!)$"

_SHEET = re.compile(r'<sheet [^>]*?name="([^"]*)"[^>]*?r:id="([^"]*)"')
_TARGET = re.compile(r"<Relationship [^>]*>")
_ERROR_CELL = re.compile(
    rb'<c r="([A-Z]+)(\d+)"[^>]*\bt="e"[^>]*>(?:<f[^>]*/>|<f[^>]*>.*?</f>)?<v>([^<]*)</v>',
    re.DOTALL,
)
_COLUMN = re.compile(rb'<c r="([A-Z]+)')


def with_formula_errors(path: Path, cells_by_sheet: dict[str, pl.DataFrame]) -> None:
    """Put the errors of formulas, as ``#N/A``, back where they stand.

    Parameters
    ----------
    path
        An .xlsx or .xlsm file; others are left as they are.
    cells_by_sheet
        For each sheet its cells as text, from row 1 and the first used column; changed
        in place.
    """
    if not zipfile.is_zipfile(path):
        return
    with zipfile.ZipFile(path) as archive:
        parts = set(archive.namelist())
        for name, part in _parts(archive).items():
            if name not in cells_by_sheet or part not in parts:
                continue
            content = archive.read(part)
            if b't="e"' in content:
                cells_by_sheet[name] = _with_errors(cells_by_sheet[name], content)


def _parts(archive: zipfile.ZipFile) -> dict[str, str]:
    """Tell the part of the file in which each sheet lies."""
    names = ("xl/workbook.xml", "xl/_rels/workbook.xml.rels")
    if not set(names) <= set(archive.namelist()):
        return {}
    book, links = (archive.read(name).decode("utf-8") for name in names)
    targets = {}
    for link in _TARGET.findall(links):
        fields = dict(re.findall(r'(\w+)="([^"]*)"', link))
        target = fields.get("Target", "").removeprefix("/xl/").removeprefix("xl/")
        targets[fields.get("Id", "")] = f"xl/{target}"
    return {html.unescape(name): targets.get(key, "") for name, key in _SHEET.findall(book)}


def _with_errors(cells: pl.DataFrame, content: bytes) -> pl.DataFrame:
    first = min(_number(letters) for letters in set(_COLUMN.findall(content)))
    found: dict[int, dict[int, str]] = {}
    for letters, row, text in _ERROR_CELL.findall(content):
        found.setdefault(_number(letters) - first, {})[int(row) - 1] = text.decode()
    changed = []
    for place, errors in found.items():
        column = cells.to_series(place)
        changed.append(column.scatter(list(errors), list(errors.values())))
    return cells.with_columns(changed)


def _number(letters: bytes) -> int:
    """Count a column's letters from 1.

    Examples
    --------
    >>> _number(b"A"), _number(b"AB")
    (1, 28)
    """
    number = 0
    for letter in letters:
        number = number * 26 + letter - ord("A") + 1
    return number
