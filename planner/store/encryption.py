"""Encrypted database files: DuckDB's AES-GCM, with its signed extension from a package.

Reading needs no extension; writing does. It is loaded from the files of the package
duckdb-extension-httpfs, never from the network, and DuckDB checks its signature.
"""

from __future__ import annotations

import importlib.util
import os
from pathlib import Path
from typing import TYPE_CHECKING

import duckdb

from planner.errors import StoreError
from planner.messages import say
from planner.store.queries import read_query

if TYPE_CHECKING:
    from planner.store.keys import Key

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


def connect_encrypted(path: Path, key: Key, *, read_only: bool) -> duckdb.DuckDBPyConnection:
    """Open an encrypted file; a writable one is made where there is none.

    Raises
    ------
    StoreError
        The extension is missing.
    duckdb.Error
        The file cannot be opened; the text of the error may hold the key.
    """
    connection = duckdb.connect(config=settings(path, read_only=read_only))
    try:
        if not read_only:
            load_extension(connection)
        attach(connection, path, "store", key, read_only=read_only)
        connection.execute(read_query("use_attached").text)
    except BaseException:
        connection.close()
        raise
    return connection


def load_extension(connection: duckdb.DuckDBPyConnection) -> None:
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
        message = say("store.wrong_extension", path=str(path), package=PACKAGE)
        raise StoreError(message, path=str(path)) from error


def attach(
    connection: duckdb.DuckDBPyConnection,
    path: Path,
    alias: str,
    key: Key | None,
    *,
    read_only: bool = False,
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
