"""Changes are made to a draft of a file, which takes the place of the file in one step.

DuckDB rewrites blocks in place when it closes a file, and a power cut within such a write can
leave a file that opens no more. So the file itself is never written: what is committed in the
draft counts once the draft is whole on the disk and bears the name of the file.

A file grows pages that hold what was deleted; only a new file has none of them. So it is written
again, which also brings an open file under a key.
"""

from __future__ import annotations

import contextlib
import shutil
import time
from contextlib import contextmanager
from typing import TYPE_CHECKING

import duckdb

from planner.store.connection import (
    Connection,
    attach,
    connect,
    disk_fault,
    execute,
    fetch,
    load_extension,
    settings,
)
from planner.store.files import NEW, fault_of, on_failure, put_in_place
from planner.store.queries import read_query

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from planner.store.keys import Key


DRAFT = ".draft"
"""Ending of a draft; one that is left over means nothing."""

SPILLED_SECONDS = 24 * 3600
"""No command reads for so long: what one kept beside the file is left over by then."""

_HEAD_BYTES = 3 * 4096
"""Where a database file tells which of its blocks count; written last at a checkpoint."""


class Draft:
    """A copy of a database file, to be changed and put in its place.

    Raises
    ------
    StoreError
        It cannot be copied or opened; the file stays as it was.
    """

    def __init__(self, path: Path, key: Key | None) -> None:
        self._path = path
        self._draft = path.with_name(path.name + DRAFT)
        check_own(path)
        with on_failure(self._remove):
            try:
                remove_draft(path)
                if path.exists():
                    shutil.copy(path, self._draft)
                self._head = _head_of(self._draft)
            except OSError as error:
                raise disk_fault(path, str(error.strerror)) from None
            self.connection = connect(self._draft, read_only=False, key=key, named=path)

    def publish(self) -> None:
        """Put the draft in the place of the file, if anything was committed in it.

        Raises
        ------
        StoreError
            It cannot be written to its end; the file stays as it was.
        """
        try:
            with contextlib.suppress(duckdb.TransactionException):
                self.connection.rollback()
            execute(self.connection, read_query("checkpoint").text)
            self.connection.close()
            self._put_in_place()
        except (OSError, duckdb.Error) as error:
            self.discard()
            # the database's own words may hold the key
            raise disk_fault(self._path, str(error)) from None

    def discard(self) -> None:
        """Forget the draft; the file stays as it was."""
        with contextlib.suppress(duckdb.Error):
            self.connection.close()
        self._remove()

    def _put_in_place(self) -> None:
        if log_path(self._draft).exists():
            raise disk_fault(self._path, "No space left")
        if _head_of(self._draft) == self._head:
            self._remove()
            return
        put_in_place(self._draft, self._path)

    def _remove(self) -> None:
        # one that cannot be removed now is removed by the next command
        with contextlib.suppress(OSError):
            remove_draft(self._path)


@contextmanager
def drafting(path: Path, key: Key | None) -> Iterator[Connection]:
    """Change a file for the length of a block: all of it when the block ends well, else nothing.

    Raises
    ------
    StoreError
        The file stays as it was.
    """
    draft = Draft(path, key)
    with on_failure(draft.discard):
        yield draft.connection
    draft.publish()


def check_own(path: Path) -> None:
    """Refuse a file that lies elsewhere: a new one would replace the link and not the file.

    What was erased would then stay where the link leads, unseen.

    Raises
    ------
    StoreError
        It is a link.
    """
    if path.is_symlink():
        raise fault_of(path, "store.link", target=str(path.resolve()))


def remove_draft(path: Path) -> None:
    """Remove the draft of a file, and what the database keeps beside it.

    Raises
    ------
    OSError
        It cannot be removed.
    """
    draft = path.with_name(path.name + DRAFT)
    draft.unlink(missing_ok=True)
    log_path(draft).unlink(missing_ok=True)
    old = time.time() - SPILLED_SECONDS
    for spilled in (path.with_name(f"{path.name}.tmp"), draft.with_name(f"{draft.name}.tmp")):
        shutil.rmtree(spilled, ignore_errors=True)
    # what a reading command keeps is its own while it may still run
    for spilled in path.parent.glob(f"{path.name}.*.tmp"):
        if spilled.stat().st_mtime < old:
            shutil.rmtree(spilled, ignore_errors=True)


def take_in_log(path: Path, key: Key | None) -> None:
    """Write into a file what an older planner, which was killed, left in its log.

    The log cannot come along to a draft: were it left for a moment beside the new file, it
    would be taken in twice.

    Raises
    ------
    StoreError
        There is no room for it.
    """
    if not log_path(path).exists():
        return
    connect(path, read_only=False, key=key).close()
    if log_path(path).exists():
        raise disk_fault(path, "No space left")


def log_path(path: Path) -> Path:
    """Tell where DuckDB keeps the log of a file."""
    return path.with_name(f"{path.name}.wal")


def _head_of(path: Path) -> bytes:
    try:
        with path.open("rb") as file:
            return file.read(_HEAD_BYTES)
    except FileNotFoundError:
        return b""


def rewrite(path: Path, key: Key | None, new_key: Key | None) -> None:
    """Copy a database to a new file and replace the old one with it.

    Killed at any point, the old file or the new one is there, whole. The caller holds the
    folder and has no connection to the file.

    Raises
    ------
    StoreError
        The file stays as it was.
    """
    check_own(path)
    fresh = path.with_name(path.name + NEW)
    remove_left_over(path)
    with on_failure(lambda: remove_left_over(path)):
        try:
            _copy(path, fresh, key, new_key)
        except duckdb.Error as error:
            # the database's own words may hold the key
            raise disk_fault(path, str(error)) from None
    put_in_place(fresh, path)


def remove_left_over(path: Path) -> None:
    """Remove what a rewriting that was killed had begun."""
    fresh = path.with_name(path.name + NEW)
    fresh.unlink(missing_ok=True)
    log_path(fresh).unlink(missing_ok=True)
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
    if old != new or log_path(fresh).exists():
        raise fault_of(path, "store.not_copied")


def _counts(connection: Connection, alias: str) -> dict[str, int]:
    named = fetch(connection, read_query("list_tables").text, {"file_name": alias})
    count = read_query("count_rows")
    return {
        table: int(fetch(connection, count.fill(table=f"{alias}.{table}")).item())
        for table in named["table_name"]
    }
