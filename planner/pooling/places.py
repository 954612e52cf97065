"""Where councils' folders lie, and the workers that read them, one machine or many."""

from __future__ import annotations

import hashlib
import tempfile
import time
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any

from planner.errors import PoolError
from planner.messages import say
from planner.paths import CONTACTS_FILE, FACTORS, KEY_FILE, PROGRAM_FILE, STORE_FILE

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence

    from planner.pooling.gathering import Outcome, Work
    from planner.pooling.pool import PoolRequest

SUFFIX = ".parquet"
OF_A_PROGRAM = (PROGRAM_FILE, STORE_FILE, CONTACTS_FILE, KEY_FILE)
"""Files of a program folder that measuring it needs, where they are there."""


def is_address(place: str) -> bool:
    """Whether a place is an address and no path.

    Examples
    --------
    >>> is_address("s3://bucket/councils"), is_address("C:/councils"), is_address("councils")
    (True, False, False)
    """
    return "://" in place


def folder_name(place: str) -> str:
    """Name of the file or folder at the end of a place.

    Examples
    --------
    >>> folder_name("s3://bucket/councils/aldermoor/")
    'aldermoor'
    """
    return Path(place.rstrip("/")).name or Path(place).resolve().name


def find_councils(places: Iterable[str]) -> tuple[list[str], list[str]]:
    """Sort what was named into files of exports and program folders.

    A folder stands for itself where it holds a program file, and else for the exports and
    the program folders in it.

    Raises
    ------
    PoolError
        Something named is not there, or holds neither.
    """
    files: list[str] = []
    folders: list[str] = []
    for place in places:
        found_files, found_folders = _found(place)
        if not found_files and not found_folders:
            raise PoolError(say("pooled.fail.neither", place=place), path=place)
        files += found_files
        folders += found_folders
    return list(dict.fromkeys(files)), list(dict.fromkeys(folders))


def read_bytes(place: str) -> bytes:
    """Read a file.

    Raises
    ------
    PoolError
        It cannot be read.
    """
    try:
        if is_address(place):
            system, path = _system(place)
            return bytes(system.cat_file(path))
        return Path(place).read_bytes()
    except OSError as error:
        message = say("pooled.fail.unread", place=place, error=str(error))
        raise PoolError(message, path=place) from error


def folder_mark(folder: str) -> str:
    """Digest of what measuring a program folder rests on: program file, records, factors."""
    found = hashlib.sha256()
    for name in (PROGRAM_FILE, STORE_FILE):
        found.update(_mark(folder, name))
    for path in sorted(FACTORS.glob("*.csv")):
        found.update(path.read_bytes())
    return found.hexdigest()


@contextmanager
def as_folder(folder: str) -> Iterator[Path]:
    """Give a program folder on this machine; one at an address is fetched for as long.

    Raises
    ------
    PoolError
        It cannot be fetched.
    """
    if not is_address(folder):
        yield Path(folder)
        return
    system, path = _system(folder)
    with tempfile.TemporaryDirectory(prefix="planner-council-") as here:
        try:
            for name in OF_A_PROGRAM:
                if system.exists(f"{path}/{name}"):
                    system.get_file(f"{path}/{name}", str(Path(here) / name))
        except OSError as error:
            message = say("pooled.fail.unfetched", place=folder, error=str(error))
            raise PoolError(message, path=folder) from error
        yield Path(here)


def _found(place: str) -> tuple[list[str], list[str]]:
    if is_address(place):
        return _found_at(place)
    path = Path(place)
    if path.is_file():
        return [place], []
    if (path / PROGRAM_FILE).is_file():
        return [], [place]
    programs = sorted(str(found.parent) for found in path.glob(f"*/{PROGRAM_FILE}"))
    return sorted(str(found) for found in path.glob(f"*{SUFFIX}")), programs


def _found_at(place: str) -> tuple[list[str], list[str]]:
    system, path = _system(place)
    try:
        if system.isfile(path):
            return [place], []
        if system.isfile(f"{path}/{PROGRAM_FILE}"):
            return [], [place]
        files = [system.unstrip_protocol(one) for one in system.glob(f"{path}/*{SUFFIX}")]
        programs = [
            system.unstrip_protocol(one).rpartition("/")[0]
            for one in system.glob(f"{path}/*/{PROGRAM_FILE}")
        ]
    except OSError as error:
        message = say("pooled.fail.unlisted", place=place, error=str(error))
        raise PoolError(message, path=place) from error
    return sorted(files), sorted(programs)


def _mark(folder: str, name: str) -> bytes:
    if is_address(folder):
        system, path = _system(folder)
        # a store's own mark of a file's state: no byte of it need be fetched
        return str(
            system.ukey(f"{path}/{name}") if system.exists(f"{path}/{name}") else ""
        ).encode()
    here = Path(folder) / name
    return here.read_bytes() if here.is_file() else b""


def _system(place: str) -> tuple[Any, str]:
    try:
        from fsspec.core import url_to_fs
    except ImportError:
        raise PoolError(say("pooled.fail.optional", place=place), path=place) from None
    try:
        system, path = url_to_fs(place)
    except (ImportError, ValueError, OSError) as error:
        message = say("pooled.fail.address", place=place, error=str(error))
        raise PoolError(message, path=place) from error
    return system, str(path).rstrip("/")


ANSWER_SECONDS = 30

PATIENCE_SECONDS = 60
"""How long a result may take to be fetched, and how often a pool that hears nothing looks
whether its cluster still has workers."""

LONGEST_SILENCE_SECONDS = 3600
"""A council of a million households takes a minute or two: who hears of none for an hour, here or
from a cluster, waits for what will not come."""


def on_cluster(
    folders: Sequence[str], request: PoolRequest, work: Work, taken_down: Outcome
) -> Iterator[tuple[str, Outcome]]:
    """Measure councils on the cluster, each as its own task, in the order in which they end.

    A worker that is lost loses its tasks to the others; a task that has taken down several
    workers is given up (Dask's `distributed.scheduler.allowed-failures`), and all that are
    left where the cluster has no worker any more, is lost itself, or says nothing for an hour.

    Parameters
    ----------
    folders
        Program folders, under names that every worker can read: a mounted share or an address.
    taken_down
        What is said of a folder that is given up.

    Raises
    ------
    PoolError
        Dask is not installed, or the cluster does not answer.
    """
    try:
        from distributed import Client, as_completed
    except ImportError:
        raise PoolError(say("pooled.fail.scheduler_optional")) from None
    try:
        client = Client(request.scheduler, timeout=ANSWER_SECONDS)  # type: ignore[no-untyped-call]
    except (OSError, ValueError) as error:
        message = say("pooled.fail.scheduler", address=request.scheduler, error=str(error))
        raise PoolError(message) from error
    with client:
        left = {client.submit(work, one, request, pure=False): one for one in folders}
        heard = time.monotonic()
        while left:
            try:
                for future in as_completed(list(left), timeout=PATIENCE_SECONDS):  # type: ignore[no-untyped-call]
                    outcome = _fetched(future, taken_down)
                    heard = time.monotonic()
                    yield left.pop(future), outcome
            except TimeoutError:
                # a worker that dies again while it is started anew is not started once more:
                # with none left, Dask would keep the tasks for ever
                if not client.scheduler_info()["workers"]:
                    why = say("pooled.fail.no_workers")
                elif time.monotonic() - heard > LONGEST_SILENCE_SECONDS:
                    why = silence_message()
                else:
                    continue
                yield from ((one, taken_down._replace(reason=why)) for one in left.values())
                return


def silence_message() -> str:
    """Say that a council was waited for in vain."""
    return say("pooled.fail.silence", minutes=LONGEST_SILENCE_SECONDS // 60)


def _fetched(future: Any, taken_down: Outcome) -> Outcome:  # noqa: ANN401 - Dask has no types
    """Take what a task gave; its worker may be gone by now, and then the task begins again.

    Raises
    ------
    TimeoutError
        The result was not to be had in time, as where no worker is left to begin it again.
    """
    from distributed import CancelledError
    from distributed.scheduler import KilledWorker

    try:
        return future.result(timeout=PATIENCE_SECONDS)  # type: ignore[no-any-return]
    except KilledWorker:
        return taken_down
    except CancelledError:
        return taken_down._replace(reason=say("pooled.fail.lost"))
    except TimeoutError:
        raise
    # a worker that cannot begin, as one without the planner: the others may
    except Exception as error:
        return taken_down._replace(reason=failure_message(error))


def failure_message(error: Exception) -> str:
    """Say that a council could not be measured, and what Python said."""
    return say("pooled.fail.failed", name=type(error).__name__, error=str(error))
