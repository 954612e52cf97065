"""Have a task done on a file of others by a process with limits, and say in words how it ended.

The child is started again and not forked: a fork of a process in which polars or DuckDB run
threads may hang, and Windows has none. It is given neither the key nor the store, limits itself,
then works. This module imports neither polars nor DuckDB, whose start would cost the child more
than most files do.
"""

from __future__ import annotations

import contextlib
import importlib
import json
import os
import pickle
import struct
import subprocess
import sys
from typing import TYPE_CHECKING, BinaryIO, NamedTuple

from planner.errors import PlannerError
from planner.messages import officer_locale, officer_messages, say, set_language

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator
    from pathlib import Path

RESULT, REFUSED, TOO_LARGE, BROKEN = b"R", b"S", b"M", b"X"
"""What a frame of the answer holds: a result, a sentence for the officer, or a fault."""

FRAME = struct.Struct("<cQ")
MEMORY, CPU_TIME = "memory", "computing_time"


class Limits(NamedTuple):
    """What the process may take."""

    memory_bytes: int  # address space
    cpu_seconds: int  # computing time; the system ends the process at it
    wall_seconds: int  # time on the clock; the parent ends the process at it


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
    set_language(locale)
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


MIB = 1024**2

MEMORY_BYTES_MOST = 6 * 1024 * MIB
"""A workbook of 10⁶ households takes 2.5 GiB while it is read."""

SHARE_OF_MEMORY = 3 / 4
"""Of a smaller machine's memory: the planner itself needs some."""

CPU_SECONDS, CPU_SECONDS_PER_MIB = 20, 2
"""A workbook of 10⁶ households takes about one second for each of its MiB."""

WALL_SECONDS, WALL_PER_CPU = 60, 4
"""A busy machine gives a process a quarter of its time at least."""

_START = "import sys, json; sys.path = json.loads(sys.argv[1]); "
_START += f"from {main.__module__} import {main.__name__}; main()"
_SECRETS = ("PLANNER_KEY", "PLANNER_PASSPHRASE")


def limits_for(path: Path) -> Limits:
    """Work out what reading a file may take, by its size."""
    size = path.stat().st_size / MIB
    cpu = CPU_SECONDS + int(CPU_SECONDS_PER_MIB * size)
    return Limits(_memory_bytes(), cpu, WALL_SECONDS + WALL_PER_CPU * cpu)


def _memory_bytes() -> int:
    with contextlib.suppress(AttributeError, ValueError, OSError):
        here = os.sysconf("SC_PAGE_SIZE") * os.sysconf("SC_PHYS_PAGES")
        return min(MEMORY_BYTES_MOST, int(here * SHARE_OF_MEMORY))
    return MEMORY_BYTES_MOST


def guarded(
    path: Path,
    task: Callable[..., Iterator[bytes]],
    arguments: tuple[object, ...],
    fault: Callable[[str], PlannerError],
    limits: Limits | None = None,
) -> list[bytes]:
    """Have a task done on a file in a process with limits.

    Parameters
    ----------
    path
        File that the sentences name; its size sets the limits.
    task
        Function of a module, that yields bytes.
    fault
        Makes the error of a sentence.

    Returns
    -------
    list of bytes
        What the function yielded.

    Raises
    ------
    PlannerError
        What `fault` makes of the sentence in which any other end is told.
    """
    allowed = limits or limits_for(path)
    given = pickle.dumps((allowed, officer_locale(), task.__module__, task.__name__, arguments))
    with _started() as child:
        try:
            answer, complaint = child.communicate(given, timeout=allowed.wall_seconds)
        except subprocess.TimeoutExpired:
            child.kill()
            child.communicate()
            raise fault(_too_long(path)) from None
    results, ending, words = _unframed(answer)
    if ending == RESULT and child.returncode == 0:
        return results
    if ending == REFUSED:
        raise fault(words.decode())
    raise fault(_ending(path, ending, child.returncode, complaint, allowed))


def _started() -> subprocess.Popen[bytes]:
    environment = {name: text for name, text in os.environ.items() if name not in _SECRETS}
    environment |= {"RUST_BACKTRACE": "0"}
    # without the site's own start: the path is handed over, and a second is not spent on it
    words = [sys.executable, "-I", "-S", "-X", "utf8", "-c", _START, json.dumps(sys.path)]
    pipe = subprocess.PIPE
    return subprocess.Popen(  # noqa: S603 - this very interpreter with our own words
        words, stdin=pipe, stdout=pipe, stderr=pipe, env=environment
    )


def _unframed(answer: bytes) -> tuple[list[bytes], bytes, bytes]:
    """Take the answer apart: results, and how it ended; an empty end is none at all."""
    results: list[bytes] = []
    place = 0
    while place + FRAME.size <= len(answer):
        kind, length = FRAME.unpack_from(answer, place)
        place += FRAME.size
        content = answer[place : place + length]
        place += length
        if len(content) < length:
            break
        if kind != RESULT or not content:
            return results, kind, content
        results.append(content)
    return results, b"", b""


def _ending(path: Path, ending: bytes, code: int, complaint: bytes, limits: Limits) -> str:
    is_large = (
        ending == TOO_LARGE or b"memory allocation" in complaint or b"Cannot allocate" in complaint
    )
    if is_large or b"capacity overflow" in complaint:
        gib = limits.memory_bytes / 1024 / MIB
        return _not_read(path, say("archive.memory", most=officer_messages().decimal(gib, "@@")))
    with contextlib.suppress(ImportError, AttributeError):
        import signal

        if -code in (signal.SIGXCPU, signal.SIGKILL):
            return _too_long(path)
    return _not_read(path, say("archive.breaks"))


def _too_long(path: Path) -> str:
    return _not_read(path, say("archive.too_long"))


def _not_read(path: Path, why: str) -> str:
    instead = say("archive.copy_into_new")
    return say("archive.refused", file=path.name, why=why, instead=instead)
