"""The project's queries: one SQL file each, with a header, and the parts for its open places.

Parts that name tables and columns are made from planner.tables alone.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import cache
from typing import TYPE_CHECKING

import dataframely as dy

from planner.paths import QUERIES
from planner.tables import TABLES

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

# A long list goes on in further lines, set in by four places or more.
_FIELD = re.compile(r"^-- (grain|params|reads|feeds):[ \t]*(.*(?:\n--[ \t]{4,}.*)*)$", re.MULTILINE)
_TITLE = re.compile(r"^-- (\w+): (.+)$", re.MULTILINE)
_PLACEHOLDER = re.compile(r"\{(\w+)\}")
_FIELDS = ("grain", "params", "reads", "feeds")


@dataclass(frozen=True)
class Query:
    """One statement and what its header says of it."""

    name: str  # name of the file without its ending
    folder: str  # folder of queries/ in which it lies
    title: str  # what one run gives, in a line
    grain: tuple[str, ...]  # what a row is
    params: tuple[str, ...]  # names of values
    reads: tuple[str, ...]  # tables or views read
    feeds: tuple[str, ...]  # who uses it
    text: str  # the whole file

    @property
    def unordered(self) -> str:
        """The text without its last ordering, which costs time where another query reads it."""
        return self.text.rpartition("\norder by ")[0] or self.text

    def fill(self, **parts: str) -> str:
        """Put names of tables and columns in the places that the text leaves open.

        Parts come from planner.tables alone, never from an officer's file.

        Raises
        ------
        KeyError
            The text has a place for which no part is given.
        """
        return _PLACEHOLDER.sub(lambda place: parts[place[1]], self.text)


def tables_of(name: str) -> frozenset[str]:
    """Name the record tables that a query reads, through the views that it reads.

    Examples
    --------
    >>> sorted(tables_of("costs_by_category"))
    ['costs']
    """
    found: set[str] = set()
    for read in read_query(name).reads:
        found |= tables_of(read) if read in _paths() else {read}
    return frozenset(found & set(TABLES))


@cache
def _paths() -> dict[str, Path]:
    return {path.stem: path for path in sorted(QUERIES.glob("*/*.sql"))}


@cache
def read_query(name: str) -> Query:
    """Read one query by its name.

    Raises
    ------
    KeyError
        No file of queries/ has that name.
    ValueError
        The header lacks a line.

    Examples
    --------
    >>> read_query("load_ids").reads
    ('loads', 'undone_loads')
    """
    path = _paths()[name]
    text = path.read_text(encoding="utf-8")
    title = _TITLE.search(text)
    fields = dict(_FIELD.findall(text))
    lacking = [field for field in _FIELDS if field not in fields]
    if title is None or title[1] != name or lacking:
        message = f"{path}: the header lacks {', '.join(lacking) or 'its own name'}"
        raise ValueError(message)
    grain, params, reads, feeds = (_names(fields[field]) for field in _FIELDS)
    return Query(name, path.parent.name, title[2], grain, params, reads, feeds, text)


def folder_queries(folder: str) -> tuple[Query, ...]:
    """Read the queries of one folder, in the order of their names."""
    return tuple(read_query(name) for name, path in _paths().items() if path.parent.name == folder)


def _names(listed: str) -> tuple[str, ...]:
    names = listed.replace("\n--", " ").split(",")
    return tuple(name.strip() for name in names if name.strip())


_SQL_TYPES = {
    dy.String: "varchar",
    dy.Enum: "varchar",
    dy.Date: "date",
    dy.Int64: "bigint",
    dy.Float64: "double",
    dy.Bool: "boolean",
}


def sql_type(table: str, column: str) -> str:
    """Name the type in which the store keeps a column.

    Examples
    --------
    >>> sql_type("households", "registered_date")
    'date'
    """
    return _SQL_TYPES[type(TABLES[table].columns()[column])]


def first_day(table: str) -> str:
    """Name the column that dates a record of a table, typed nothing where it has none.

    Examples
    --------
    >>> first_day("answers"), first_day("areas")
    ('answer_date', 'null::date')
    """
    columns = TABLES[table].columns()
    dated = (name for name, column in columns.items() if isinstance(column, dy.Date))
    return next(dated, "null::date")


@cache
def parts(table: str, columns: tuple[str, ...] | None = None) -> dict[str, str]:
    """Make the parts of the store's templates for a table.

    Parameters
    ----------
    columns
        Columns that are written; all of them unless said. Keys must be among them.

    Examples
    --------
    >>> parts("waves", ("wave_id", "closes_date"))["stored_columns"]
    'stored.wave_id, stored.closes_date'
    """
    schema = TABLES[table]
    named = columns or tuple(schema.column_names())
    key = schema.primary_key()
    changed = [name for name in named if name not in key]
    assignments = [f"{name} = incoming.{name}" for name in changed] + ["load_id = $load_id"]
    return {
        "table": table,
        "columns": _listed(named, "{}"),
        "key": _listed(key, "{}"),
        "incoming_columns": _listed(named, "incoming.{}"),
        "stored_columns": _listed(named, "stored.{}"),
        "day": first_day(table),
        "key_text": _listed(key, "cast({} as varchar)"),
        "stored_key_text": _listed(key, "cast(stored.{} as varchar)"),
        "stored_record": _listed(schema.column_names(), "{0} := stored.{0}"),
        "assignments": ", ".join(assignments),
        "key_match": " and ".join(f"stored.{name} = incoming.{name}" for name in key),
        "restored_columns": ", ".join(
            f"cast(record ->> '$.{name}' as {sql_type(table, name)}) as {name}"
            for name in schema.column_names()
        ),
    }


def record_key(key_parts: Sequence[str]) -> str:
    """Write a key as the history does, its parts joined.

    Examples
    --------
    >>> record_key(["F1", "H12"])
    'F1 | H12'
    """
    return " | ".join(key_parts)


def link_parts(table: str, column: str, parent: str) -> dict[str, str]:
    """Make the parts of a template about a column that refers to another table.

    Examples
    --------
    >>> link_parts("givebacks", "handover_id", "handovers")["parent_key"]
    'handover_id'
    """
    key = TABLES[parent].primary_key()[0]
    return {"table": table, "link": column, "parent": parent, "parent_key": key}


def _listed(names: tuple[str, ...] | list[str], form: str) -> str:
    return ", ".join(form.format(name) for name in names)
