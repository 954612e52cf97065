"""Write a database file again and put it in the place of the old one in one step.

A file grows pages that hold what was deleted; only a new file has none of them. The same
way brings an open file under a key.
"""

from __future__ import annotations

import shutil
from typing import TYPE_CHECKING

import duckdb

from planner.errors import StoreError
from planner.store.connection import fetch, in_words
from planner.store.drafts import log_of
from planner.store.encryption import attach, load_extension, settings
from planner.store.files import NEW, put_in_place
from planner.store.queries import read_query

if TYPE_CHECKING:
    from pathlib import Path

    from planner.store.keys import Key


def rewrite(path: Path, key: Key | None, new_key: Key | None) -> None:
    """Copy a database to a new file and replace the old one with it.

    Killed at any point, the old file or the new one is there, whole. The caller holds the
    folder and has no connection to the file.

    Parameters
    ----------
    path
        Database file.
    key, new_key
        Its key now and afterwards; None for an open file.

    Raises
    ------
    StoreError
        The file stays as it was.
    """
    fresh = path.with_name(path.name + NEW)
    remove_left_over(path)
    try:
        _copy(path, fresh, key, new_key)
    except duckdb.Error as error:
        message = in_words(path, str(error))
        remove_left_over(path)
        # the database's own words may hold the key
        raise StoreError(message, path=str(path)) from None
    except BaseException:
        remove_left_over(path)
        raise
    put_in_place(fresh, path)


def remove_left_over(path: Path) -> None:
    """Remove what a rewriting that was killed had begun."""
    fresh = path.with_name(path.name + NEW)
    fresh.unlink(missing_ok=True)
    log_of(fresh).unlink(missing_ok=True)
    shutil.rmtree(fresh.with_name(f"{fresh.name}.tmp"), ignore_errors=True)


def _copy(path: Path, fresh: Path, key: Key | None, new_key: Key | None) -> None:
    with duckdb.connect(config=settings(fresh)) as connection:
        if key or new_key:
            load_extension(connection)
        attach(connection, path, "store", key, read_only=True)
        attach(connection, fresh, "fresh", new_key)
        connection.execute(read_query("copy_tables").text)
        connection.execute(read_query("copy_rows").text)
        old, new = (_counts(connection, alias) for alias in ("store", "fresh"))
        for alias in ("fresh", "store"):
            connection.execute(read_query("detach_file").fill(alias=alias))
    if old != new or log_of(fresh).exists():
        message = f"{path}: could not be copied whole; it stays as it was."
        raise StoreError(message, path=str(path))


def _counts(connection: duckdb.DuckDBPyConnection, alias: str) -> dict[str, int]:
    named = fetch(connection, read_query("list_tables").text, {"file_name": alias})
    count = read_query("count_rows")
    return {
        table: int(fetch(connection, count.fill(alias=alias, table=table)).item())
        for table in named["table_name"]
    }
