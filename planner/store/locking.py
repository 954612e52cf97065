"""One command at a time writes in a program folder; the next is told which one it is."""

from __future__ import annotations

import contextlib
import datetime as dt
import os
import sys
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

from planner.errors import StoreError
from planner.messages import say
from planner.paths import LOCK_FILE

if TYPE_CHECKING:
    from collections.abc import Iterator
    from typing import BinaryIO

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
def held(folder: Path) -> Iterator[None]:
    """Hold a program folder for writing; the system lets go when the process ends.

    Raises
    ------
    StoreError
        Another command holds it, or the folder cannot be written.
    """
    path = folder / LOCK_FILE
    try:
        file = path.open("ab+")
    except OSError as error:
        message = say("file.right", path=str(folder), why=str(error.strerror))
        raise StoreError(message, path=str(folder)) from None
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


def _held_by_other(folder: Path, file: BinaryIO) -> StoreError:
    file.seek(0)
    who = file.read().decode(errors="replace").strip()
    named = f" ({who})" if who else ""
    message = say("store.in_use", path=str(folder), who=named)
    return StoreError(message, path=str(folder))


def _myself() -> str:
    name = Path(sys.argv[0]).name if sys.argv else ""
    word = sys.argv[1] if name.startswith("planner") and len(sys.argv) > 1 else ""
    command = f"planner {word}, " if word.isalpha() else ""
    since = dt.datetime.now(dt.UTC)
    return say("store.since", command=command, id=str(os.getpid()), time=f"{since:%H:%M}")
