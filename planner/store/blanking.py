"""Take personal details out of the records, and out of copies of officers' rows in the folder.

`text_columns.csv` says what every text column of a store may hold;
`tests/unit/store/test_free_text.py` fails where a column of a new table is not named there.
"""

from __future__ import annotations

import csv
import json
import re
from enum import Enum
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING

import polars as pl

from planner.errors import ARCHIVE_FAULTS
from planner.paths import COPY_FOLDERS, OWNER_ONLY
from planner.store.connection import Connection, execute, fetch, offer_rows
from planner.store.files import NEW, put_in_place, write_whole
from planner.store.queries import read_query
from planner.store.scanning import remaining

if TYPE_CHECKING:
    from openpyxl.worksheet.worksheet import Worksheet

    from planner.store.matching import Details


class TextKind(Enum):
    """What a text column may hold of a person."""

    DETAIL = "personal details, deleted with the household"
    NOTE = "words that somebody typed, searched when a household is erased"
    KEY = "numbers and codes by which records are known, which stay"
    WORDS = "the planner's own words, which stay"


@cache
def text_columns() -> dict[str, dict[str, TextKind]]:
    """Read, for each table of either file of the store, what its columns of text hold.

    Closed lists are not among them.
    """
    found: dict[str, dict[str, TextKind]] = {}
    with Path(__file__).with_name("text_columns.csv").open(encoding="utf-8", newline="") as file:
        for row in csv.DictReader(file):
            found.setdefault(row["table"], {})[row["column"]] = TextKind[row["holds"].upper()]
    return found


def notes() -> list[tuple[str, str]]:
    """List the columns that are searched when a household is erased, with their tables."""
    return [
        (table, name)
        for table, columns in text_columns().items()
        for name, holds in columns.items()
        if holds is TextKind.NOTE
    ]


ERASED = "(erased)"
"""Stands where a text was that may not be empty."""

_FORMER = ("history", "record")
_KEYS = {"refusals": "record_key"}
_HOUSEHOLD = "household_id"


def blank_records(program: Connection, households: list[str], details: Details) -> None:
    """Blank the texts that hold details of households, in one transaction.

    A text is blanked whole: what stands round a name may tell who it is.

    Parameters
    ----------
    program
        Connection to the program's file, which may be of an older planner.
    households
        Their keys; in their own rows a part of a name is enough.
    """
    there = fetch(program, read_query("text_columns").text)
    nullable = {(table, name): is_nullable for table, name, is_nullable in there.rows()}
    program.begin()
    for table, name in notes():
        if (table, name) == _FORMER or (table, name) not in nullable:
            continue
        place = {"table": table, "column": name}
        blank = "null" if nullable[table, name] else f"'{ERASED}'"
        _blank(program, place, details, blank)
        household = _KEYS.get(table, _HOUSEHOLD)
        if (table, household) in nullable:
            own = {**place, "household": household}
            _blank_own(program, own, households, details, blank)
    if _FORMER in nullable:
        _blank_former(program, details)
    program.commit()


def _blank(program: Connection, place: dict[str, str], details: Details, blank: str) -> None:
    texts = fetch(program, read_query("distinct_texts").fill(**place))
    held = texts.filter(details.found_in(texts["text"]))
    if held.height:
        offer_rows(program, held)
        execute(program, read_query("blank_texts").fill(**place, blank=blank))


def _blank_own(
    program: Connection, place: dict[str, str], households: list[str], details: Details, blank: str
) -> None:
    given = {"households": households}
    texts = fetch(program, read_query("household_texts").fill(**place), given)
    # of a refused row nobody knows which cell holds what: it goes whole
    is_refused = place["column"] == "value"
    held = texts if is_refused else texts.filter(details.found_in_own_rows(texts["text"]))
    if held.height:
        offer_rows(program, held)
        execute(program, read_query("blank_household_texts").fill(**place, blank=blank), given)


def _blank_former(program: Connection, details: Details) -> None:
    former = fetch(program, read_query("former_records").text)
    held = former.filter(details.found_in(former["record"]) | _is_of(former["record"], details))
    cleaned = [
        {"table_name": table, "record": record, "cleaned": _cleaned(table, record, details)}
        for table, record in held.rows()
    ]
    if cleaned:
        offer_rows(program, pl.DataFrame(cleaned))
        execute(program, read_query("replace_former").text)


def _is_of(records: pl.Series, details: Details) -> pl.Series:
    keys = records.str.extract(rf'"{_HOUSEHOLD}":"([^"]*)"').str.to_lowercase()
    return keys.is_in(details.households).fill_null(value=False)


def _cleaned(table: str, record: str, details: Details) -> str:
    fields = json.loads(record)
    is_own = str(fields.get(_HOUSEHOLD, "")).casefold() in details.households
    find = details.found_in_own_rows if is_own else details.found_in
    kept = {name for name, holds in text_columns().get(table, {}).items() if holds is TextKind.KEY}
    for name, value in fields.items():
        if isinstance(value, str) and name not in kept and find(pl.Series([value])).item():
            fields[name] = None
    return json.dumps(fields, ensure_ascii=False, separators=(",", ":"))


_HEADING_ROWS = 15
_KEY_HEADS = ("householdid", "recordkey")
_BOOKS = (".xlsx", ".xlsm")


def _holding(details: Details, cells: pl.DataFrame) -> pl.Series:
    """Mark the rows of texts of which a cell, or several together, hold a detail."""
    texts = cells.select(pl.all().cast(pl.String))
    keyed = [name for name in texts.columns if _is_of_keys(name, texts[name].str.to_lowercase())]
    joined = texts.select(pl.concat_str(pl.all(), separator=" ", ignore_nulls=True))
    marks = [
        details.found_in(joined.to_series()),
        *(details.is_whole(texts[name]) | details.found_in(texts[name]) for name in texts.columns),
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
