"""Every block of every table and key of a store's files is read before they are called whole.

DuckDB checks a block's checksum, or its tag where it is encrypted, when it reads the block and
not before; a count of rows reads hardly any.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import duckdb

from planner.errors import StoreError
from planner.paths import CONTACTS_FILE, STORE_FILE
from planner.store.connection import connect, count_changed, fetch, in_words
from planner.store.encryption import is_encrypted
from planner.store.keys import needed_key
from planner.store.queries import read_query

if TYPE_CHECKING:
    from pathlib import Path


def check_whole(stage: Path, folder: Path, named: Path) -> None:
    """Read all of the files of a store that lie in a folder of their own.

    Parameters
    ----------
    stage
        Folder with the files, which goes again: one is opened to be written.
    folder
        Program folder, whose key opens them.
    named
        Backup that an error names.

    Raises
    ------
    StoreError
        A block cannot be read, or an index does not hold the keys of its table.
    """
    for name in (STORE_FILE, CONTACTS_FILE):
        path = stage / name
        if not path.exists():
            continue
        key = needed_key(folder, named) if is_encrypted(path) else None
        try:
            with connect(path, read_only=False, key=key, named=named) as connection:
                _read_all(connection, named)
        except duckdb.Error as error:
            message = f"{in_words(named, str(error))} A part of {name} cannot be read."
            # the database's own words may hold the key
            raise StoreError(message, path=str(named)) from None


def _read_all(connection: duckdb.DuckDBPyConnection, named: Path) -> None:
    tables = fetch(connection, read_query("tables_and_keys").text)
    for table, has_key in tables.rows():
        fetch(connection, read_query("read_whole").fill(table=f'"{table}"'))
        if not has_key:
            continue
        # each row is looked up in the index; none may be found missing
        connection.begin()
        grown = count_changed(connection, read_query("look_up_keys").fill(table=f'"{table}"'))
        connection.rollback()
        if grown:
            message = f"{named}: damaged: the index of {table} lacks {grown:,} of its rows."
            raise StoreError(message, path=str(named))
