"""Files written whole or not at all, and to the disk before they count."""

from __future__ import annotations

import contextlib
import os
import sys
from typing import TYPE_CHECKING

from planner.errors import ProgramError, StoreError
from planner.messages import say
from planner.paths import FOLDER_OF_ITS_OWNER, OWNER_ONLY

if TYPE_CHECKING:
    from pathlib import Path

_FULL_FLUSH = 51
"""F_FULLFSYNC in Apple's fcntl.h; from memory."""

NEW = ".new"
"""Ending of a file that is being written; one that is left over means nothing."""


def write_whole(path: Path, content: bytes, *, mode: int = 0o644) -> None:
    """Write a file beside its place, then put it there in one step.

    Raises
    ------
    OSError
        Nothing has changed.
    """
    fresh = path.with_name(path.name + NEW)
    fresh.unlink(missing_ok=True)
    opened = os.open(fresh, os.O_WRONLY | os.O_CREAT | os.O_EXCL, mode)
    try:
        with os.fdopen(opened, "wb") as file:
            file.write(content)
        put_in_place(fresh, path)
    except OSError:
        fresh.unlink(missing_ok=True)
        raise


def write_owned(path: Path, content: bytes, *, mode: int = OWNER_ONLY) -> None:
    """Write a file whole; a folder that is made for it is its owner's alone.

    Raises
    ------
    StoreError
        It cannot be written; nothing has changed.
    """
    try:
        path.parent.mkdir(mode=FOLDER_OF_ITS_OWNER, exist_ok=True)
        write_whole(path, content, mode=mode)
    except OSError as error:
        message = say("file.close", path=str(path), why=str(error.strerror))
        raise StoreError(message, path=str(path)) from error


def check_free(path: Path, noted: str, *, forced: bool) -> None:
    """Refuse to write over a list in which something may have been noted by hand.

    Parameters
    ----------
    path
        The list.
    noted
        What may have been noted in it: handovers, actions, calls or answers.
    forced
        Write it all the same.

    Raises
    ------
    ProgramError
        It is there already.
    """
    if path.exists() and not forced:
        words = say(f"store.noted.{noted}")
        message = say("store.noted_already", path=str(path), noted=words)
        raise ProgramError(message, path=str(path))


def put_in_place(fresh: Path, path: Path) -> None:
    """Give a finished file the name of another, which it replaces in one step."""
    sync_file(fresh)
    fresh.replace(path)
    sync_folder(path.parent)


def sync_file(path: Path) -> None:
    """Have the content of a file on the disk, not only on its way there."""
    with path.open("rb+") as file:
        flush(file.fileno())


def flush(descriptor: int, platform: str = sys.platform) -> None:
    """Have a file past the cache of the disk too, which macOS leaves out of an fsync."""
    if platform == "darwin":
        import fcntl

        with contextlib.suppress(OSError):
            # F_FULLFSYNC; a disk that cannot do it, as one on the network, is synced below
            fcntl.fcntl(descriptor, getattr(fcntl, "F_FULLFSYNC", _FULL_FLUSH))
            return
    os.fsync(descriptor)


def sync_folder(folder: Path) -> None:
    """Have the names in a folder on the disk, where the system can do that."""
    if os.name == "nt":
        return
    opened = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(opened)
    finally:
        os.close(opened)
