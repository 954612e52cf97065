"""Personal details: a file of their own, brought in step with the program's loads.

DuckDB cannot commit two files at once. Contacts are therefore written first, each row
stamped with its load, and the program's file last: a load has happened when it stands in
``loads``. What a load that never ended left here is undone when the store opens next.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from planner.errors import StoreError
from planner.paths import CONTACTS_FILE, STORE_FILE
from planner.store.connection import change, connect, fetch
from planner.store.migrations import check_version, migrate, utc_now
from planner.store.naming import parts
from planner.store.queries import read_query

if TYPE_CHECKING:
    from pathlib import Path

    import duckdb
    import polars as pl

MIGRATIONS = "schema_contacts"


def open_contacts(
    folder: Path, store_id: str, *, read_only: bool
) -> duckdb.DuckDBPyConnection | None:
    """Open the contacts of a program; None where there are none and nothing is written.

    Raises
    ------
    StoreError
        The file cannot be opened, is newer, or belongs to another store.
    """
    path = folder / CONTACTS_FILE
    if read_only and not path.exists():
        return None
    connection = connect(path, read_only=read_only)
    try:
        if read_only:
            check_version(connection, MIGRATIONS, path)
        elif migrate(connection, MIGRATIONS, path, utc_now()):
            change(connection, read_query("write_identity").text, {"store_id": store_id})
        _check_identity(connection, store_id, path)
    except BaseException:
        connection.close()
        raise
    return connection


def _check_identity(connection: duckdb.DuckDBPyConnection, store_id: str, path: Path) -> None:
    marks = fetch(connection, read_query("read_identity").text)["store_id"].to_list()
    if marks == [store_id]:
        return
    message = (
        f"{path}: these contacts belong to another {STORE_FILE}. "
        "Restore both files from one backup, or put this one elsewhere."
    )
    raise StoreError(message, path=str(path))


def undo_unfinished(connection: duckdb.DuckDBPyConnection, known_load_ids: list[str]) -> int:
    """Undo what loads that never ended left in the contacts; tell how many rows it was."""
    known = {"known_load_ids": known_load_ids}
    left_behind = int(fetch(connection, read_query("count_unfinished").text, known).item())
    if left_behind:
        connection.begin()
        change(connection, read_query("drop_unfinished").text, known)
        change(connection, read_query("restore_replaced").fill(**parts("contacts")), known)
        change(connection, read_query("forget_unfinished").text, known)
        connection.commit()
    return left_behind


def committed_contacts(
    connection: duckdb.DuckDBPyConnection, known_load_ids: list[str]
) -> pl.DataFrame:
    """Read the contacts as the last load that ended left them."""
    text = read_query("contacts_as_committed").fill(**parts("contacts"))
    return fetch(connection, text, {"known_load_ids": known_load_ids})
