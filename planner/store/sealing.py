"""What proves a backup: its seal, and that every block of it can be read.

Checksums show what went wrong by itself; anyone who changes a backup can make them again.
The seal is an HMAC-SHA-256 (RFC 2104, FIPS 198-1) over the list of checksums: whoever made it held
the program's key. DuckDB checks a block's checksum, or its tag where it is encrypted, when it reads
the block and not before, and a count of rows reads hardly any: so every block is read.
"""

from __future__ import annotations

import hashlib
import hmac
from enum import Enum
from typing import TYPE_CHECKING

import duckdb

from planner.errors import StoreError
from planner.messages import say
from planner.paths import CONTACTS_FILE, STORE_FILE
from planner.store.connection import Connection, connect, count_changed, disk_fault, fetch
from planner.store.files import fault_of
from planner.store.keys import key_of
from planner.store.queries import read_query

if TYPE_CHECKING:
    from pathlib import Path

    from planner.store.keys import Key


# apart from the use of the key for encryption, so that neither tells of the other
_USE = b"wormbin-planner: seal of a backup, 1"


class Seal(Enum):
    """What the seal of a backup says; the value is its key among the words."""

    HOLDS = "holds"
    ABSENT = "absent"
    UNKNOWN = "unknown"
    BROKEN = "broken"


def seal_of(manifest: bytes, key: Key) -> str:
    """Work out the seal of a manifest, in hexadecimal."""
    own = hmac.digest(key.secret.encode(), _USE, hashlib.sha256)
    return hmac.digest(own, manifest, hashlib.sha256).hex()


def check_seal(manifest: bytes, seal: str | None, key: Key | None) -> Seal:
    """Tell what a seal proves of a manifest.

    Examples
    --------
    >>> from planner.store.keys import Key
    >>> mine, other = Key("a" * 16, "mine"), Key("b" * 16, "other")
    >>> check_seal(b"{}", seal_of(b"{}", mine), mine).name, check_seal(b"{}", None, mine).name
    ('HOLDS', 'ABSENT')
    >>> check_seal(b"{}", seal_of(b"{}", other), mine).name, check_seal(b"{}", "00", None).name
    ('BROKEN', 'UNKNOWN')
    """
    if seal is None:
        return Seal.ABSENT
    if key is None:
        return Seal.UNKNOWN
    is_own = hmac.compare_digest(seal_of(manifest, key).encode(), seal.encode())
    return Seal.HOLDS if is_own else Seal.BROKEN


def check_whole(stage: Path, folder: Path, named: Path) -> None:
    """Read all of the files of a store that lie in a folder of their own.

    Parameters
    ----------
    stage
        Folder with the files, which goes again: one is opened to be written.
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
        key = key_of(folder, path, named)
        try:
            with connect(path, read_only=False, key=key, named=named) as connection:
                _read_all(connection, named)
        except duckdb.Error as error:
            # the database's own words may hold the key
            why = disk_fault(named, str(error)).said
            raise StoreError(say("saved.part", why=why, name=name), path=str(named)) from None


def _read_all(connection: Connection, named: Path) -> None:
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
            raise fault_of(named, "saved.index", table=table, count=grown)
