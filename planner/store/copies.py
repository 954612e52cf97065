"""Copies of officers' rows in the program folder: find personal details and take them out."""

from __future__ import annotations

import html
import re
import zipfile
from typing import TYPE_CHECKING

import polars as pl

from planner.errors import ARCHIVE_FAULTS
from planner.paths import CONTACTS_FILE, COPY_FOLDERS, STORE_FILE
from planner.store.files import NEW, put_in_place, write_whole

if TYPE_CHECKING:
    from collections.abc import Iterable
    from pathlib import Path

    from openpyxl.worksheet.worksheet import Worksheet

_SHORTEST_INSIDE = 6
_HEADING_ROWS = 15
_KEY_HEADS = ("householdid", "recordkey")
_BOOKS = (".xlsx", ".xlsm")
_TEXTS = (".csv", ".tsv", ".txt", ".json", ".toml", ".html")
_SEARCHED = (*_BOOKS, *_TEXTS, ".ods", ".docx")


class Details:
    """What is to be found: texts that a cell holds, and keys that a whole cell is.

    Parameters
    ----------
    texts
        Names, addresses, mails, numbers. One shorter than six letters counts only as a
        whole cell, for it may be part of another's.
    households
        Keys of the households.
    """

    def __init__(self, texts: Iterable[str], households: Iterable[str]) -> None:
        folded = {text.strip().lower() for text in texts if text.strip()}
        self.inside = sorted(text for text in folded if len(text) >= _SHORTEST_INSIDE)
        self.whole = sorted(folded)
        self.households = sorted({key.lower() for key in households})

    def rows(self, cells: pl.DataFrame) -> pl.Series:
        """Tell for each row of texts whether one of its cells holds a detail."""
        folded = cells.select(pl.all().cast(pl.String).str.to_lowercase().str.strip_chars())
        keyed = [name for name in folded.columns if _is_of_keys(name, folded[name])]
        holds = [
            pl.all().is_in(self.whole),
            *([pl.all().str.contains_any(self.inside)] if self.inside else []),
            *(pl.col(name).is_in(self.households) for name in keyed),
        ]
        is_held = pl.any_horizontal(holds).fill_null(value=False)
        return folded.select(is_held.alias("holds"))["holds"]

    def in_text(self, text: str) -> bool:
        """Tell whether a text holds a name, address, mail or number."""
        folded = text.lower()
        return any(found in folded or html.escape(found) in folded for found in self.inside)

    def patterns(self, most: int) -> list[str]:
        """Make regular expressions of at most so many texts; of none, one matches nothing."""
        starts = range(0, len(self.inside), most)
        groups = (self.inside[start : start + most] for start in starts)
        found = ["|".join(re.escape(text) for text in group) for group in groups]
        return found or [r"[^\s\S]"]


def _is_of_keys(name: str, cells: pl.Series) -> bool:
    """Tell whether a column holds keys of households, by its heading in the first rows."""
    heads = [name, *cells.head(_HEADING_ROWS).drop_nulls()]
    return any(re.sub(r"\W|_", "", head).startswith(_KEY_HEADS) for head in heads)


def copies(folder: Path) -> list[Path]:
    """List the copies of officers' rows that the planner wrote into a program folder."""
    found = [path for name in COPY_FOLDERS for path in (folder / name).rglob("*")]
    return sorted(path for path in found if path.is_file())


def clean_copies(folder: Path, details: Details, *, keep: bool = True) -> list[Path]:
    """Take rows with personal details out of every copy; list the copies that had some.

    A copy that cannot be read row by row is deleted when it holds any.
    """
    changed = []
    for path in copies(folder):
        if path.suffix == ".csv":
            had = _clean_text(path, details, keep=keep)
        elif path.suffix in _BOOKS:
            had = _clean_book(path, details, keep=keep)
        else:
            had = _holds(path, details)
            if had and keep:
                path.unlink()
        if had:
            changed.append(path)
    return changed


def still_holding(folder: Path, details: Details) -> list[Path]:
    """List other files in the folder that hold personal details: the officer's own."""
    ours = {folder / STORE_FILE, folder / CONTACTS_FILE, *copies(folder)}
    others = (path for path in folder.rglob("*") if path.is_file() and path not in ours)
    return sorted(path for path in others if path.suffix in _SEARCHED and _holds(path, details))


def _clean_text(path: Path, details: Details, *, keep: bool) -> bool:
    rows = pl.read_csv(path, infer_schema=False, has_header=True, truncate_ragged_lines=True)
    if rows.width == 0:
        return False
    holds = details.rows(rows)
    if holds.any() and keep:
        text = rows.filter(~holds).write_csv()
        write_whole(path, text.encode("utf-8-sig"))
    return bool(holds.any())


def _clean_book(path: Path, details: Details, *, keep: bool) -> bool:
    import openpyxl  # for erasing alone: no other command on the records waits for it

    try:
        book = openpyxl.load_workbook(path, keep_vba=path.suffix == ".xlsm")
    except ARCHIVE_FAULTS:
        if keep:
            path.unlink()
        return True
    had = [_clear_rows(sheet, details, keep=keep) for sheet in book.worksheets]
    if any(had) and keep:
        fresh = path.with_name(path.name + NEW)
        book.save(fresh)
        put_in_place(fresh, path)
    return any(had)


def _clear_rows(sheet: Worksheet, details: Details, *, keep: bool) -> bool:
    texts = [[_text(cell.value) for cell in row] for row in sheet.iter_rows()]
    if not texts:
        return False
    holds = details.rows(pl.DataFrame(texts, orient="row", infer_schema_length=None))
    if keep:
        for number in (holds.arg_true() + 1).to_list():
            for cell in sheet[number]:
                cell.value = None
                cell.comment = None
                cell.hyperlink = None
    return bool(holds.any())


def _text(value: object) -> str:
    return "" if value is None else str(value)


def _holds(path: Path, details: Details) -> bool:
    if not zipfile.is_zipfile(path):
        return details.in_text(path.read_bytes().decode("utf-8", errors="ignore"))
    with zipfile.ZipFile(path) as archive:
        return any(
            details.in_text(archive.read(name).decode("utf-8", errors="ignore"))
            for name in archive.namelist()
        )
