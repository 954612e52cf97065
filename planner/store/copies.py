"""Copies of officers' rows in the program folder: find personal details and take them out."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

import polars as pl

from planner.errors import ARCHIVE_FAULTS
from planner.paths import COPY_FOLDERS, OWNER_ONLY
from planner.store.files import NEW, put_in_place, write_whole
from planner.store.scanning import remaining

if TYPE_CHECKING:
    from pathlib import Path

    from openpyxl.worksheet.worksheet import Worksheet

    from planner.store.matching import Details

_HEADING_ROWS = 15
_KEY_HEADS = ("householdid", "recordkey")
_BOOKS = (".xlsx", ".xlsm")


def _holding(details: Details, cells: pl.DataFrame) -> pl.Series:
    """Mark the rows of texts of which a cell, or several together, hold a detail."""
    texts = cells.select(pl.all().cast(pl.String))
    keyed = [name for name in texts.columns if _is_of_keys(name, texts[name].str.to_lowercase())]
    joined = texts.select(pl.concat_str(pl.all(), separator=" ", ignore_nulls=True))
    marks = [
        details.held(joined.to_series()),
        *(details.is_whole(texts[name]) | details.held(texts[name]) for name in texts.columns),
        *(
            texts[name].str.strip_chars().str.to_lowercase().is_in(details.households)
            for name in keyed
        ),
    ]
    return pl.DataFrame([mark.alias(str(n)) for n, mark in enumerate(marks)]).select(
        pl.any_horizontal(pl.all().fill_null(value=False)).alias("held")
    )["held"]


def _is_of_keys(name: str, cells: pl.Series) -> bool:
    """Tell whether a column holds keys of households, by its heading in the first rows."""
    heads = [name, *cells.head(_HEADING_ROWS).drop_nulls()]
    return any(re.sub(r"\W|_", "", head).startswith(_KEY_HEADS) for head in heads)


def copies(folder: Path) -> list[Path]:
    """List the copies of officers' rows that the planner wrote into a program folder.

    A link is none: a cleaned file would replace it, and the one to which it leads stay as it is.
    """
    own = [folder / name for name in COPY_FOLDERS if not (folder / name).is_symlink()]
    found = [path for place in own for path in place.rglob("*")]
    return sorted(path for path in found if path.is_file() and not path.is_symlink())


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
            had = bool(remaining(folder, [path], details))
            if had and keep:
                path.unlink()
        if had:
            changed.append(path)
    return changed


def _clean_text(path: Path, details: Details, *, keep: bool) -> bool:
    try:
        rows = pl.read_csv(path, infer_schema=False, has_header=True, truncate_ragged_lines=True)
    except pl.exceptions.PolarsError:
        # what cannot be read row by row goes whole
        if keep:
            path.unlink()
        return True
    holds = _holding(details, rows)
    if holds.any() and keep:
        text = rows.filter(~holds).write_csv()
        write_whole(path, text.encode("utf-8-sig"), mode=OWNER_ONLY)
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
        # a new file is open to whoever the machine lets read; these are their owner's alone
        fresh.chmod(OWNER_ONLY)
        put_in_place(fresh, path)
    return any(had)


def _clear_rows(sheet: Worksheet, details: Details, *, keep: bool) -> bool:
    texts = [[_text(cell.value) for cell in row] for row in sheet.iter_rows()]
    if not texts:
        return False
    holds = _holding(details, pl.DataFrame(texts, orient="row", infer_schema_length=None))
    if keep:
        for number in (holds.arg_true() + 1).to_list():
            for cell in sheet[number]:
                cell.value = None
                cell.comment = None
                cell.hyperlink = None
    return bool(holds.any())


def _text(value: object) -> str:
    return "" if value is None else str(value)
