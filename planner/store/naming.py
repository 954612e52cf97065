"""Parts of query texts that name tables and columns, made from planner.tables alone."""

from __future__ import annotations

from typing import TYPE_CHECKING

import dataframely as dy

from planner.tables import TABLES

if TYPE_CHECKING:
    from collections.abc import Sequence

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


def parts(table: str, columns: tuple[str, ...] | None = None) -> dict[str, str]:
    """Make the parts of the store's templates for a table.

    Parameters
    ----------
    table
        Name of a record table.
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
