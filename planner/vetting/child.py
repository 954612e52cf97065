"""The process that reads a file which may be made to harm: it limits itself, then works.

It imports neither polars nor DuckDB, whose start would cost more than most files do.
"""

from __future__ import annotations

import importlib
import os
import pickle
import struct
import sys
from typing import TYPE_CHECKING, BinaryIO, NamedTuple

from planner.errors import PlannerError
from planner.messages import speak

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable

RESULT, REFUSED, TOO_LARGE, BROKEN = b"R", b"S", b"M", b"X"
"""What a frame of the answer holds: a result, a sentence for the officer, or a fault."""

FRAME = struct.Struct("<cQ")
MEMORY, CPU_TIME = "memory", "computing_time"


class Limits(NamedTuple):
    """What the process may take.

    Attributes
    ----------
    memory_bytes
        Address space.
    cpu_seconds
        Computing time; the system ends the process at it.
    wall_seconds
        Time on the clock; the parent ends the process at it.
    """

    memory_bytes: int
    cpu_seconds: int
    wall_seconds: int


def limit_self(limits: Limits) -> None:
    """Limit this process as far as the system can; `missing_limits` names the rest."""
    if "memory" in missing_limits():
        return
    import resource

    # a limit that is lower already stays, and a dump of a contact list is not wanted anywhere
    for what, most in (
        (resource.RLIMIT_AS, limits.memory_bytes),
        (resource.RLIMIT_CPU, limits.cpu_seconds),
        (resource.RLIMIT_FSIZE, 0),
        (resource.RLIMIT_CORE, 0),
    ):
        _, hard = resource.getrlimit(what)
        least = most if hard == resource.RLIM_INFINITY else min(most, hard)
        resource.setrlimit(what, (least, least))


def missing_limits(platform: str = sys.platform) -> tuple[str, ...]:
    """Name the limits that a system does not offer to a process over itself.

    Windows has no such call; macOS takes a limit of memory and does not hold it. The limit
    on the clock is the parent's and holds everywhere.

    Examples
    --------
    >>> missing_limits("linux"), missing_limits("win32")
    ((), ('memory', 'computing_time'))
    """
    if platform == "win32":
        return MEMORY, CPU_TIME
    return (MEMORY,) if platform == "darwin" else ()


def main() -> None:
    """Do the task that stands on the standard input; write framed results to the output."""
    limits, locale, module, name, arguments = pickle.load(sys.stdin.buffer)  # noqa: S301 - the parent's words
    out = os.fdopen(os.dup(1), "wb")
    # what a library prints is no part of the answer
    os.dup2(2, 1)
    limit_self(limits)
    speak(locale)
    kind, content = _done(module, name, arguments, out)
    put(out, kind, content)
    out.close()


def _done(
    module: str, name: str, arguments: tuple[object, ...], out: BinaryIO
) -> tuple[bytes, bytes]:
    try:
        work: Callable[..., Iterable[bytes]] = getattr(importlib.import_module(module), name)
        for blob in work(*arguments):
            put(out, RESULT, blob)
    except PlannerError as error:
        return REFUSED, str(error).encode()
    except MemoryError:
        return TOO_LARGE, b""
    # a panic of a Rust library is no Exception; whatever it is, the parent says one sentence
    except BaseException as error:
        is_large = "capacity overflow" in str(error) or "memory allocation" in str(error)
        return (TOO_LARGE if is_large else BROKEN), type(error).__name__.encode()
    return RESULT, b""


def put(out: BinaryIO, kind: bytes, content: bytes) -> None:
    """Write one frame: its kind, its length, its content."""
    out.write(FRAME.pack(kind, len(content)))
    out.write(content)
