"""Personal details: a file of their own, brought in step with the program's loads.

DuckDB cannot commit two files at once. Contacts are therefore written first, each row
stamped with its load, and the program's file last: a load has happened when it stands in
``loads``. What a load that never ended left here is undone when the store opens next.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from planner.paths import CONTACTS_FILE, STORE_FILE
from planner.store.connection import Connection, connect, disk_errors, execute, fetch, is_encrypted
from planner.store.drafts import Draft, rewrite, take_in_log
from planner.store.files import fault_of, on_failure
from planner.store.keys import key_of, make_key
from planner.store.migrations import check_version, migrate, utc_now
from planner.store.queries import parts, read_query

if TYPE_CHECKING:
    from pathlib import Path

    import polars as pl


MIGRATIONS = "schema_contacts"


def encrypt_contacts_file(folder: Path) -> bool:
    """Bring contacts of an older planner under a key; tell whether there were any."""
    path = folder / CONTACTS_FILE
    if not path.exists() or is_encrypted(path):
        return False
    take_in_log(path, None)
    rewrite(path, None, make_key(folder))
    return True


def open_contacts(folder: Path, store_id: str) -> Connection | None:
    """Open the contacts of a program to be read; None where there are none.

    Raises
    ------
    StoreError
        The file cannot be opened, is newer, or belongs to another store.
    """
    path = folder / CONTACTS_FILE
    if not path.exists():
        return None
    connection = connect(path, read_only=True, key=key_of(folder, path))
    with on_failure(connection.close), disk_errors(path):
        check_version(connection, MIGRATIONS, path)
        _check_identity(connection, store_id, path)
    return connection


def draft_contacts(folder: Path, store_id: str, *, encrypt: bool = True) -> Draft:
    """Begin a draft of the contacts of a program, brought up to date.

    New contacts are encrypted, with a key that is made where there is none.

    Raises
    ------
    StoreError
        The file cannot be opened, is newer, or belongs to another store.
    """
    path = folder / CONTACTS_FILE
    draft = Draft(path, make_key(folder) if encrypt and not path.exists() else key_of(folder, path))
    with on_failure(draft.discard), disk_errors(path):
        if migrate(draft.connection, MIGRATIONS, path, utc_now()):
            execute(draft.connection, read_query("write_identity").text, {"store_id": store_id})
        _check_identity(draft.connection, store_id, path)
    return draft


def _check_identity(connection: Connection, store_id: str, path: Path) -> None:
    marks = fetch(connection, read_query("read_identity").text)["store_id"].to_list()
    if marks == [store_id]:
        return
    raise fault_of(path, "store.other_contacts", store=STORE_FILE)


def undo_unfinished(connection: Connection, known_load_ids: list[str]) -> int:
    """Undo what loads that never ended left in the contacts; tell how many rows it was."""
    known = {"known_load_ids": known_load_ids}
    left_behind = int(fetch(connection, read_query("count_unfinished").text, known).item())
    if left_behind:
        connection.begin()
        execute(connection, read_query("drop_unfinished").text, known)
        execute(connection, read_query("restore_replaced").fill(**parts("contacts")), known)
        execute(connection, read_query("forget_unfinished").text, known)
        connection.commit()
    return left_behind


def committed_contacts(connection: Connection, known_load_ids: list[str]) -> pl.DataFrame:
    """Read the contacts as the last load that ended left them."""
    text = read_query("contacts_as_committed").fill(**parts("contacts"))
    return fetch(connection, text, {"known_load_ids": known_load_ids})
