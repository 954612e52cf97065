"""Take personal details out of every text column of the program's file."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING

import polars as pl

from planner.store.connection import change, fetch, offer
from planner.store.free_text import COLUMNS, Holds, notes
from planner.store.queries import read_query

if TYPE_CHECKING:
    import duckdb

    from planner.store.matching import Details

ERASED = "(erased)"
"""Stands where a text was that may not be empty."""

_FORMER = ("history", "record")
_KEYS = {"refusals": "record_key"}
_HOUSEHOLD = "household_id"


def blank_records(
    program: duckdb.DuckDBPyConnection, households: list[str], details: Details
) -> None:
    """Blank the texts that hold details of households, in one transaction.

    A text is blanked whole: what stands round a name may tell who it is.

    Parameters
    ----------
    program
        Connection to the program's file, which may be of an older planner.
    households
        Their keys; in their own rows a part of a name is enough.
    details
        What is to be found.
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


def _blank(
    program: duckdb.DuckDBPyConnection, place: dict[str, str], details: Details, blank: str
) -> None:
    texts = fetch(program, read_query("distinct_texts").fill(**place))
    held = texts.filter(details.held(texts["text"]))
    if held.height:
        offer(program, held)
        change(program, read_query("blank_texts").fill(**place, blank=blank))


def _blank_own(
    program: duckdb.DuckDBPyConnection,
    place: dict[str, str],
    households: list[str],
    details: Details,
    blank: str,
) -> None:
    given = {"households": households}
    texts = fetch(program, read_query("household_texts").fill(**place), given)
    # of a refused row nobody knows which cell holds what: it goes whole
    is_refused = place["column"] == "value"
    held = texts if is_refused else texts.filter(details.held_by_own(texts["text"]))
    if held.height:
        offer(program, held)
        change(program, read_query("blank_household_texts").fill(**place, blank=blank), given)


def _blank_former(program: duckdb.DuckDBPyConnection, details: Details) -> None:
    former = fetch(program, read_query("former_records").text)
    held = former.filter(details.held(former["record"]) | _is_of(former["record"], details))
    cleaned = [
        {"table_name": table, "record": record, "cleaned": _cleaned(table, record, details)}
        for table, record in held.rows()
    ]
    if cleaned:
        offer(program, pl.DataFrame(cleaned))
        change(program, read_query("replace_former").text)


def _is_of(records: pl.Series, details: Details) -> pl.Series:
    keys = records.str.extract(rf'"{_HOUSEHOLD}":"([^"]*)"').str.to_lowercase()
    return keys.is_in(details.households).fill_null(value=False)


def _cleaned(table: str, record: str, details: Details) -> str:
    fields = json.loads(record)
    is_own = str(fields.get(_HOUSEHOLD, "")).casefold() in details.households
    find = details.held_by_own if is_own else details.held
    kept = {name for name, holds in COLUMNS.get(table, {}).items() if holds is Holds.KEY}
    for name, value in fields.items():
        if isinstance(value, str) and name not in kept and find(pl.Series([value])).item():
            fields[name] = None
    return json.dumps(fields, ensure_ascii=False, separators=(",", ":"))
