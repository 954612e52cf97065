"""Numbered migrations: bring a file to the newest form of its tables, or refuse it."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING

from planner.store.connection import Connection, execute, fetch
from planner.store.files import fault_of, on_failure
from planner.store.queries import Query, folder_queries, read_query

if TYPE_CHECKING:
    from pathlib import Path


def utc_now() -> dt.datetime:
    """Tell the time in UTC, to the second, as the store writes it."""
    return dt.datetime.now(dt.UTC).replace(tzinfo=None, microsecond=0)


def has_table(connection: Connection, table: str) -> bool:
    """Tell whether the file has a table of that name."""
    found = fetch(connection, read_query("has_table").text, {"table_name": table})
    return bool(found.item() > 0)


def applied(connection: Connection) -> list[int]:
    """List the numbers of the migrations that the file has been through."""
    if not has_table(connection, "schema_versions"):
        return []
    return fetch(connection, read_query("applied_versions").text)["version"].to_list()


def number(migration: Query) -> int:
    """Tell the number of a migration, the first part of its name."""
    return int(migration.name.split("_", maxsplit=1)[0])


def check_version(connection: Connection, folder: str, path: Path) -> list[Query]:
    """List the migrations still to come.

    Raises
    ------
    StoreError
        The file was written by a newer planner.
    """
    reached = applied(connection)
    migrations = folder_queries(folder)
    unknown = set(reached) - {number(migration) for migration in migrations}
    if unknown:
        raise fault_of(path, "store.newer", version=str(max(unknown)))
    return [migration for migration in migrations if number(migration) not in reached]


def migrate(connection: Connection, folder: str, path: Path, applied_at: dt.datetime) -> bool:
    """Apply all pending migrations in one transaction; tell whether the file was new.

    Raises
    ------
    StoreError
        The file was written by a newer planner.
    """
    pending = check_version(connection, folder, path)
    is_new = len(pending) == len(folder_queries(folder))
    if not pending:
        return False
    connection.begin()
    with on_failure(connection.rollback):
        for migration in pending:
            _apply(connection, migration, applied_at)
        connection.commit()
    return is_new


def _apply(connection: Connection, migration: Query, applied_at: dt.datetime) -> None:
    execute(connection, migration.text)
    noted = {"version": number(migration), "file_name": migration.name, "applied_at": applied_at}
    execute(connection, read_query("record_migration").text, noted)
