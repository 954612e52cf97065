"""One DuckDB file: opened with errors in the officer's words, read and written as frames."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Any

import duckdb
import polars as pl

from planner.errors import StoreError

if TYPE_CHECKING:
    from pathlib import Path

_HOLDER = re.compile(r"\(PID (\d+)\)")


class _Stream:
    """Hand a frame to DuckDB through the Arrow stream protocol, without a copy."""

    def __init__(self, frame: pl.DataFrame) -> None:
        self._frame = frame

    def __arrow_c_stream__(self, requested_schema: object = None) -> object:
        return self._frame.__arrow_c_stream__(requested_schema)


def connect(path: Path, *, read_only: bool) -> duckdb.DuckDBPyConnection:
    """Open a DuckDB file; a writable one is made where there is none.

    Raises
    ------
    StoreError
        There is no file to read, another process holds it, the folder cannot be
        written, or it is no DuckDB file.
    """
    if read_only and not path.exists():
        message = f"{path}: no records yet. Take files in with `planner load FILES`."
        raise StoreError(message, path=str(path))
    try:
        return duckdb.connect(path, read_only=read_only)
    except (duckdb.IOException, duckdb.SerializationException, duckdb.FatalException) as error:
        raise StoreError(_in_words(path, str(error)), path=str(path)) from error


def _in_words(path: Path, found: str) -> str:
    holder = _HOLDER.search(found)
    if holder or "set lock" in found or "being used by another process" in found:
        who = f" (process {holder[1]})" if holder else ""
        return (
            f"{path}: another planner command{who} is using it. "
            "Wait until it has ended, then run this command again."
        )
    if "not a valid DuckDB" in found or "magic bytes" in found:
        return f"{path}: not a store of this program. Put it elsewhere and restore your backup."
    if "newer version" in found or "version number" in found:
        return f"{path}: written by another version of the database. Update the planner."
    return f"{path}: cannot be opened or written. Check that you may write in its folder."


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
