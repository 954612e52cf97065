"""One DuckDB file: opened with errors in the officer's words, read and written as frames."""

from __future__ import annotations

import re
from contextlib import contextmanager
from typing import TYPE_CHECKING, Any

import duckdb
import polars as pl

from planner.errors import StoreError
from planner.messages import say
from planner.store.encryption import connect_encrypted, settings

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from planner.store.keys import Key

_FULL = ("No space left", "Disk quota", "File too large")
_DAMAGE = ("AES tag", "Corrupt database", "computed checksum", "Could not read enough bytes")
_SIGNS = {
    "disk_full": _FULL,
    "damaged": _DAMAGE,
    "not_ours": ("not a valid DuckDB", "magic bytes"),
    "other_version": ("newer version", "version number"),
}
"""What the database or the disk says, by the key of what the officer is told."""
_HOLDER = re.compile(r"\(PID (\d+)\)")


class _Stream:
    """Hand a frame to DuckDB through the Arrow stream protocol, without a copy."""

    def __init__(self, frame: pl.DataFrame) -> None:
        self._frame = frame

    def __arrow_c_stream__(self, requested_schema: object = None) -> object:
        return self._frame.__arrow_c_stream__(requested_schema)


def connect(
    path: Path, *, read_only: bool, key: Key | None = None, named: Path | None = None
) -> duckdb.DuckDBPyConnection:
    """Open a DuckDB file; a writable one is made where there is none.

    Parameters
    ----------
    path
        Database file.
    read_only
        Only read.
    key
        Key of an encrypted file; None for an open one.
    named
        File that an error names; the file itself unless said.

    Raises
    ------
    StoreError
        There is no file to read, another process holds it, the folder cannot be
        written, it is no DuckDB file, or the key is not its key.
    """
    if read_only and not path.exists():
        raise no_records(path)
    try:
        if key is not None:
            return connect_encrypted(path, key, read_only=read_only)
        return duckdb.connect(path, read_only=read_only, config=settings(path, read_only=read_only))
    except duckdb.Error as error:
        message = in_words(named or path, str(error), key)
    # apart from the error, whose own words may hold the key
    raise StoreError(message, path=str(named or path))


def no_records(path: Path) -> StoreError:
    """Say that a folder holds no records."""
    return StoreError(say("store.no_records", path=str(path)), path=str(path))


def in_words(path: Path, found: str, key: Key | None = None) -> str:
    """Say in the officer's words why a file cannot be opened or written."""
    holder = _HOLDER.search(found)
    if holder or "set lock" in found or "being used by another process" in found:
        who = f" ({say('store.process', id=holder[1])})" if holder else ""
        return say("store.in_use", path=str(path), who=who)
    if "Wrong encryption key" in found and key is not None:
        return say("store.other_key", path=str(path), origin=key.origin)
    for name, signs in _SIGNS.items():
        if any(sign in found for sign in signs):
            return say(f"store.{name}", path=str(path))
    return say("store.closed", path=str(path))


def is_fault_of_file(error: duckdb.Error) -> bool:
    """Tell a fault of the disk or the file from one of the statement."""
    is_of_disk = isinstance(error, duckdb.IOException | duckdb.FatalException)
    return is_of_disk or any(sign in str(error) for sign in (*_FULL, *_DAMAGE, "Could not write"))


@contextmanager
def disk_errors(path: Path) -> Iterator[None]:
    """Say a fault of the disk in the officer's words.

    Raises
    ------
    StoreError
        The disk is full, or the files cannot be written.
    """
    try:
        yield
    except duckdb.Error as error:
        if not is_fault_of_file(error):
            raise
        message = in_words(path, str(error))
        raise StoreError(message, path=str(path)) from None


def fetch(
    connection: duckdb.DuckDBPyConnection, text: str, params: dict[str, Any] | None = None
) -> pl.DataFrame:
    """Run a query and return its rows as a frame."""
    return pl.DataFrame(connection.sql(text, params=params or {}))


def change(
    connection: duckdb.DuckDBPyConnection, text: str, params: dict[str, Any] | None = None
) -> None:
    """Run a statement that returns no rows."""
    connection.execute(text, params or {})


def count_changed(
    connection: duckdb.DuckDBPyConnection, text: str, params: dict[str, Any] | None = None
) -> int:
    """Run a statement that changes rows and tell how many."""
    return int(connection.execute(text, params or {}).fetchall()[0][0])


def offer(connection: duckdb.DuckDBPyConnection, frame: pl.DataFrame) -> None:
    """Let the next statements read the frame under the name ``incoming``."""
    connection.register("incoming", _Stream(frame))
