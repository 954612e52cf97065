"""Numbered migrations: bring a file to the newest form of its tables, or refuse it."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING

from planner.errors import StoreError
from planner.store.connection import change, fetch
from planner.store.queries import Query, folder_queries, read_query

if TYPE_CHECKING:
    from pathlib import Path

    import duckdb


def utc_now() -> dt.datetime:
    """Tell the time in UTC, to the second, as the store writes it."""
    return dt.datetime.now(dt.UTC).replace(tzinfo=None, microsecond=0)


def has_table(connection: duckdb.DuckDBPyConnection, table: str) -> bool:
    """Tell whether the file has a table of that name."""
    found = fetch(connection, read_query("has_table").text, {"table_name": table})
    return bool(found.item() > 0)


def version(connection: duckdb.DuckDBPyConnection) -> int:
    """Tell the last migration that the file has been through; 0 for a new file."""
    if not has_table(connection, "schema_versions"):
        return 0
    return int(fetch(connection, read_query("latest_version").text).item())


def check_version(connection: duckdb.DuckDBPyConnection, folder: str, path: Path) -> list[Query]:
    """List the migrations still to come.

    Raises
    ------
    StoreError
        The file was written by a newer planner.
    """
    reached = version(connection)
    migrations = folder_queries(folder)
    if reached > len(migrations):
        message = (
            f"{path}: found form {reached} of the store, expected {len(migrations)} or older. "
            "A newer planner wrote it; update this one."
        )
        raise StoreError(message, path=str(path))
    return list(migrations[reached:])


def migrate(
    connection: duckdb.DuckDBPyConnection, folder: str, path: Path, applied_at: dt.datetime
) -> bool:
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
    try:
        for migration in pending:
            _apply(connection, migration, applied_at)
        connection.commit()
    except BaseException:
        connection.rollback()
        raise
    return is_new


def _apply(
    connection: duckdb.DuckDBPyConnection, migration: Query, applied_at: dt.datetime
) -> None:
    change(connection, migration.text)
    number = int(migration.name.split("_", maxsplit=1)[0])
    noted = {"version": number, "file_name": migration.name, "applied_at": applied_at}
    change(connection, read_query("record_migration").text, noted)
