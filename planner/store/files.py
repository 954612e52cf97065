"""Files written whole or not at all; one command at a time writes in a program folder.

A file is on the disk before it counts; the next command is told which one holds the folder.
"""

from __future__ import annotations

import contextlib
import datetime as dt
import os
import sys
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

from planner.errors import PlannerError, ProgramError, StoreError
from planner.messages import say
from planner.paths import FOLDER_OF_ITS_OWNER, LOCK_FILE, OWNER_ONLY

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator
    from typing import BinaryIO

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


def fault_of(
    path: Path, key: str, kind: type[PlannerError] = StoreError, /, **filled: str | int
) -> PlannerError:
    """Make the error of a file or folder from its words, which name it."""
    return kind(say(key, path=str(path), **filled), path=str(path))


@contextmanager
def disk_faults(
    path: Path, key: str, kind: type[PlannerError] = StoreError, *, by_file: bool = False
) -> Iterator[None]:
    """Say in the officer's words why the disk lets nothing be written.

    Parameters
    ----------
    by_file
        Name the very file that failed, where the disk tells which.
    """
    try:
        yield
    except OSError as error:
        named = str((by_file and error.filename) or path)
        raise kind(say(key, path=named, why=str(error.strerror)), path=str(path)) from error


@contextmanager
def on_failure(undo: Callable[[], object]) -> Iterator[None]:
    """Undo what was begun where the block raises, be it by a key that was pressed."""
    try:
        yield
    except BaseException:
        undo()
        raise


def write_owned(path: Path, content: bytes, *, mode: int = OWNER_ONLY) -> None:
    """Write a file whole; a folder that is made for it is its owner's alone.

    Raises
    ------
    StoreError
        It cannot be written; nothing has changed.
    """
    with disk_faults(path, "file.close"):
        path.parent.mkdir(mode=FOLDER_OF_ITS_OWNER, exist_ok=True)
        write_whole(path, content, mode=mode)


def check_free(path: Path, noted: str, *, forced: bool) -> None:
    """Refuse to write over a list in which something may have been noted by hand.

    Parameters
    ----------
    noted
        What may have been noted in it: handovers, actions, calls or answers.

    Raises
    ------
    ProgramError
        It is there already.
    """
    words = say(f"store.noted.{noted}")
    refuse_there([path], "store.noted_already", ProgramError, forced=forced, noted=words)


def refuse_there(
    paths: Iterable[Path],
    key: str,
    kind: type[PlannerError],
    /,
    *,
    forced: bool = False,
    **filled: str,
) -> None:
    """Refuse to write over what is there already, unless that is forced."""
    for path in paths:
        if path.exists() and not forced:
            raise fault_of(path, key, kind, **filled)


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


if sys.platform == "win32":
    import msvcrt

    _LOCKED_BYTE = 4096  # beyond the text, which the other command must be able to read

    def _lock(file: BinaryIO) -> None:
        file.seek(_LOCKED_BYTE)
        msvcrt.locking(file.fileno(), msvcrt.LK_NBLCK, 1)
else:
    import fcntl

    def _lock(file: BinaryIO) -> None:
        fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)


@contextmanager
def folder_lock(folder: Path) -> Iterator[None]:
    """Hold a program folder for writing; the system lets go when the process ends.

    Raises
    ------
    StoreError
        Another command holds it, or the folder cannot be written.
    """
    path = folder / LOCK_FILE
    with disk_faults(folder, "file.right"):
        file = path.open("ab+")
    with file:
        try:
            _lock(file)
        except OSError:
            raise _held_by_other(folder, file) from None
        file.truncate(0)
        file.write(_myself().encode())
        file.flush()
        yield
        with contextlib.suppress(OSError):
            file.truncate(0)


def _held_by_other(folder: Path, file: BinaryIO) -> PlannerError:
    file.seek(0)
    who = file.read().decode(errors="replace").strip()
    return fault_of(folder, "store.in_use", who=f" ({who})" if who else "")


def _myself() -> str:
    name = Path(sys.argv[0]).name if sys.argv else ""
    word = sys.argv[1] if name.startswith("planner") and len(sys.argv) > 1 else ""
    command = f"planner {word}, " if word.isalpha() else ""
    since = dt.datetime.now(dt.UTC)
    return say("store.since", command=command, id=str(os.getpid()), time=f"{since:%H:%M}")
