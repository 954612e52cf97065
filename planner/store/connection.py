"""One DuckDB file, open or encrypted: connections to it, its faults in the officer's words.

Encryption is DuckDB's AES-GCM, with its signed extension from a package. Reading needs no
extension; writing does. It is loaded from the files of the package duckdb-extension-httpfs,
never from the network, and DuckDB checks its signature.
"""

from __future__ import annotations

import importlib.util
import os
import re
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any

import duckdb
import polars as pl

from planner.errors import PlannerError, StoreError
from planner.messages import say
from planner.store.files import fault_of, on_failure
from planner.store.queries import read_query

if TYPE_CHECKING:
    from collections.abc import Iterator

    from planner.store.keys import Key

Connection = duckdb.DuckDBPyConnection

PACKAGE = "duckdb_extension_httpfs"

_MAGIC, _MAGIC_AT = b"DUCK", 8
_FLAGS_AT, _IS_ENCRYPTED = 20, 1

_BLOCK_BYTES = 64 * 1024
"""Block of a new file: with DuckDB's own of 256 KB a program of a thousand households takes 19 MB
instead of 6, and every command copies it. Three million rows are read and written as fast."""


def settings(
    path: Path, *, read_only: bool = False
) -> dict[str, str | bool | int | float | list[str]]:
    """Make the settings of a connection to a file.

    None fetches or loads an extension by itself. What does not fit into memory is kept beside
    the file, where the next command clears it away; several that read each keep their own, which
    neither another's end nor a command that writes takes from them. An old file keeps the size of
    its blocks.
    """
    own = f".{os.getpid()}" if read_only else ""
    return {
        "autoinstall_known_extensions": False,
        "autoload_known_extensions": False,
        "temp_directory": f"{path}{own}.tmp",
        "temp_file_encryption": True,
        "default_block_size": _BLOCK_BYTES,
    }


def is_encrypted(path: Path) -> bool:
    """Tell from the head of a file whether it is an encrypted database."""
    with path.open("rb") as file:
        return is_encrypted_content(file.read(_FLAGS_AT + 1))


def is_encrypted_content(head: bytes) -> bool:
    """Tell the same from the bytes with which a file begins."""
    is_database = head[_MAGIC_AT : _MAGIC_AT + len(_MAGIC)] == _MAGIC
    return is_database and len(head) > _FLAGS_AT and bool(head[_FLAGS_AT] & _IS_ENCRYPTED)


def extension_path() -> Path:
    """Find the extension in the installed package.

    Raises
    ------
    StoreError
        The package is not installed, or is of another version than DuckDB.
    """
    package = importlib.util.find_spec(PACKAGE)
    folders = package.submodule_search_locations or [] if package else []
    version = f"v{duckdb.__version__}"
    for folder in folders:
        path = Path(folder) / "extensions" / version / "httpfs.duckdb_extension"
        if path.is_file():
            return path
    message = say(
        "store.no_extension",
        package=PACKAGE,
        name=PACKAGE.replace("_", "-"),
        version=duckdb.__version__,
    )
    raise StoreError(message)


def connect_encrypted(path: Path, key: Key, *, read_only: bool) -> Connection:
    """Open an encrypted file; a writable one is made where there is none.

    Raises
    ------
    StoreError
        The extension is missing.
    duckdb.Error
        The file cannot be opened; the text of the error may hold the key.
    """
    connection = duckdb.connect(config=settings(path, read_only=read_only))
    with on_failure(connection.close):
        if not read_only:
            load_extension(connection)
        attach(connection, path, "store", key, read_only=read_only)
        connection.execute(read_query("use_attached").text)
    return connection


def load_extension(connection: Connection) -> None:
    """Load the extension into a connection.

    Raises
    ------
    StoreError
        It is missing, or DuckDB does not take it.
    """
    path = extension_path()
    try:
        connection.execute(read_query("load_extension").fill(path=_quoted(str(path))))
    except duckdb.Error as error:
        raise fault_of(path, "store.wrong_extension", package=PACKAGE) from error


def attach(
    connection: Connection, path: Path, alias: str, key: Key | None, *, read_only: bool = False
) -> None:
    """Attach a file under a name, with its key where it is encrypted.

    Raises
    ------
    duckdb.Error
        The file cannot be opened; the text of the error may hold the key.
    """
    options = [f"read_only {str(read_only).lower()}"]
    if key is not None:
        options += [f"encryption_key '{_quoted(key.secret)}'", "encryption_cipher 'GCM'"]
    named = {"path": _quoted(str(path)), "alias": alias, "options": ", ".join(options)}
    connection.execute(read_query("attach_file").fill(**named))


def _quoted(text: str) -> str:
    return text.replace("'", "''")


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
) -> Connection:
    """Open a DuckDB file; a writable one is made where there is none.

    Parameters
    ----------
    named
        File that an error names; the file itself unless said.

    Raises
    ------
    StoreError
        There is no file to read, another process holds it, the folder cannot be
        written, it is no DuckDB file, or the key is not its key.
    """
    if read_only and not path.exists():
        raise fault_of(path, "store.no_records")
    try:
        if key is not None:
            return connect_encrypted(path, key, read_only=read_only)
        return duckdb.connect(path, read_only=read_only, config=settings(path, read_only=read_only))
    except duckdb.Error as error:
        fault = disk_fault(named or path, str(error), key)
    # apart from the error, whose own words may hold the key
    raise fault


def disk_fault(path: Path, found: str, key: Key | None = None) -> PlannerError:
    """Say in the officer's words why a file cannot be opened or written."""
    holder = _HOLDER.search(found)
    if holder or "set lock" in found or "being used by another process" in found:
        who = f" ({say('store.process', id=holder[1])})" if holder else ""
        return fault_of(path, "store.in_use", who=who)
    if "Wrong encryption key" in found and key is not None:
        return fault_of(path, "store.other_key", origin=key.origin)
    told = (name for name, signs in _SIGNS.items() if any(sign in found for sign in signs))
    return fault_of(path, f"store.{next(told, 'closed')}")


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
        raise disk_fault(path, str(error)) from None


_FETCHED = "fetched_rows"
"""Name of the rows of a query while a frame is made of them."""


def fetch(connection: Connection, text: str, params: dict[str, Any] | None = None) -> pl.DataFrame:
    """Run a query and return its rows as a frame.

    Of a query with parameters DuckDB makes a list of values, from which a frame takes three times
    as long as from a table. The frame is a copy: DuckDB's pieces are up to three times as large.
    """
    if not params:
        with _enough_memory():
            return _copied(pl.DataFrame(connection.sql(text)))
    execute(connection, read_query("keep_rows").fill(name=_FETCHED, query=text), params)
    try:
        return _copied(pl.DataFrame(connection.table(_FETCHED)))
    finally:
        connection.execute(read_query("drop_rows").fill(name=_FETCHED))


def _copied(rows: pl.DataFrame) -> pl.DataFrame:
    return rows.select(pl.all().gather(pl.int_range(pl.len())))


def execute(connection: Connection, text: str, params: dict[str, Any] | None = None) -> None:
    """Run a statement that returns no rows."""
    with _enough_memory():
        connection.execute(text, params or {})


@contextmanager
def _enough_memory() -> Iterator[None]:
    """Say where a statement needs more memory than it may have, even with the rest on the disk."""
    try:
        yield
    except duckdb.OutOfMemoryException:
        raise StoreError(say("store.no_memory")) from None


def count_changed(connection: Connection, text: str, params: dict[str, Any] | None = None) -> int:
    """Run a statement that changes rows and tell how many."""
    return int(connection.execute(text, params or {}).fetchall()[0][0])


def offer_rows(connection: Connection, frame: pl.DataFrame) -> None:
    """Let the next statements read the frame under the name ``incoming``."""
    connection.register("incoming", _Stream(frame))
