"""The councils of a pool: exports that are there, and program folders still to be measured.

Councils do not depend on each other until they are put together: each program folder is
measured in a process of its own, here or on a cluster, and what it gives is kept, so that a
second run measures only what is missing or has changed. A council that fails, or that takes
its process down, is named and the others go on.
"""

from __future__ import annotations

import hashlib
import os
from concurrent.futures import FIRST_COMPLETED, ProcessPoolExecutor, wait
from concurrent.futures.process import BrokenProcessPool
from multiprocessing import active_children, get_context
from typing import TYPE_CHECKING, NamedTuple

from planner import __version__
from planner.errors import PlannerError, PoolError
from planner.messages import officer_messages, say, set_language
from planner.pooling.contract import Export, export_bytes, read_export
from planner.pooling.places import (
    LONGEST_SILENCE_SECONDS,
    SUFFIX,
    as_folder,
    failure_message,
    find_councils,
    folder_mark,
    folder_name,
    on_cluster,
    read_bytes,
    silence_message,
)
from planner.progress import Progress, no_progress
from planner.store.files import disk_faults, write_whole

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
    from pathlib import Path

    from planner.pooling.pool import PoolRequest

    Work = Callable[[str, PoolRequest], "Outcome"]

KEPT_FOLDER = "measured"
"""Exports that a pool made itself, by what they rest on."""

DIGEST_DIGITS = 16
TAKEN_DOWN = "pooled.fail.taken_down"


class Outcome(NamedTuple):
    """What measuring a council gave: its export, or why there is none."""

    content: bytes
    reason: str = ""


def gather(
    places: Iterable[str], kept: Path, request: PoolRequest, progress: Progress
) -> tuple[list[Export], dict[str, str]]:
    """Read the exports, measure the program folders, and say why others are missing.

    Raises
    ------
    PoolError
        Something named is not there; no council could be taken; the cluster does not answer.
    """
    files, folders = find_councils(places)
    exports, missing = _read_all(files)
    fresh = {folder: kept / f"{_name(folder, request)}{SUFFIX}" for folder in folders}
    todo = {folder: path for folder, path in fresh.items() if not path.is_file()}
    if len(todo) < len(fresh):
        progress(say("pooled.doing.unchanged", len(fresh) - len(todo)))
    missing |= measure_all(todo, request, progress)
    measured, unread = _read_all([str(path) for path in fresh.values() if path.is_file()])
    exports += measured
    missing |= unread
    if not exports:
        told = (say("number.labelled", label=one, value=why) for one, why in missing.items())
        raise PoolError("\n".join((say("pooled.fail.nobody"), *told)))
    return exports, missing


def measure_council(folder: str, request: PoolRequest) -> Outcome:
    """Measure one program folder; say in words why not where it fails."""
    from planner.pooling.exporting import export_year

    set_language(request.language)
    try:
        with as_folder(folder) as here:
            export = export_year(here, request.label, None, request.method, no_progress)
        return Outcome(export_bytes(export))
    except PlannerError as error:
        return Outcome(b"", str(error))
    # one council must not end the run of the others, whatever is wrong with it
    except Exception as error:
        return Outcome(b"", failure_message(error))


def measure_all(
    todo: Mapping[str, Path], request: PoolRequest, progress: Progress, work: Work = measure_council
) -> dict[str, str]:
    """Measure program folders and keep each export as soon as it is there.

    Parameters
    ----------
    todo
        For each program folder the file in which its export is kept.
    work
        Measures one folder; a name that another process can import.

    Returns
    -------
    dict
        Why a council is missing, by the name of its folder.

    Raises
    ------
    PoolError
        An export cannot be kept, or the cluster does not answer.
    """
    if not todo:
        return {}
    folders, missing = list(todo), {}
    if request.scheduler:
        address = request.scheduler
        progress(say("pooled.doing.cluster", len(folders), address=address))
        outcomes = on_cluster(folders, request, work, Outcome(b"", say(TAKEN_DOWN)))
    else:
        count = min(request.processes or os.cpu_count() or 1, len(folders))
        progress(say("pooled.doing.here", len(folders), at_once=count))
        outcomes = _here(folders, request, work, count)
    for number, (folder, outcome) in enumerate(outcomes, start=1):
        name = folder_name(folder)
        if outcome.reason:
            missing[name] = outcome.reason
        else:
            _keep(todo[folder], outcome.content)
        key = "pooled.doing.left_out" if outcome.reason else "pooled.doing.one"
        told = officer_messages().number(number)
        progress("  " + officer_messages().say(key, number=told, count=len(folders), name=name))
    return missing


def _here(
    folders: Sequence[str], request: PoolRequest, work: Work, count: int
) -> Iterator[tuple[str, Outcome]]:
    """Measure in processes of this machine; those left when one dies are tried alone."""
    lost: list[str] = []
    yield from _in_processes(folders, request, (work, count), lost)
    for folder in lost:
        gone: list[str] = []
        # one council a process: the one that takes it down is known by it
        yield from _in_processes([folder], request, (work, 1), gone)
        yield from ((one, Outcome(b"", say(TAKEN_DOWN))) for one in gone)


def _in_processes(
    folders: Sequence[str], request: PoolRequest, how: tuple[Work, int], lost: list[str]
) -> Iterator[tuple[str, Outcome]]:
    """Give outcomes as they come; folders whose process died are put among the lost."""
    work, count = how
    # a process that is forked would share the threads of polars, which may then wait for ever
    with ProcessPoolExecutor(count, mp_context=get_context("spawn")) as executor:
        others = set(active_children())
        left = {executor.submit(work, folder, request): folder for folder in folders}
        while left:
            done, _ = wait(left, LONGEST_SILENCE_SECONDS, FIRST_COMPLETED)
            if not done:
                # the pool would wait for them at its end
                for process in set(active_children()) - others:
                    process.kill()
                yield from ((folder, Outcome(b"", silence_message())) for folder in left.values())
                return
            for future in done:
                folder = left.pop(future)
                try:
                    yield folder, future.result()
                except BrokenProcessPool:
                    lost.append(folder)


def _read_all(files: Sequence[str]) -> tuple[list[Export], dict[str, str]]:
    exports, missing = [], {}
    for place in files:
        try:
            exports.append(read_export(read_bytes(place), place))
        except PoolError as error:
            missing[folder_name(place)] = str(error)
    return exports, missing


def _keep(path: Path, content: bytes) -> None:
    with disk_faults(path, "pooled.fail.unkept", PoolError):
        path.parent.mkdir(parents=True, exist_ok=True)
        write_whole(path, content)


def _name(folder: str, request: PoolRequest) -> str:
    """Name what an export rests on: the folder, version, and what was asked."""
    words = f"{folder_mark(folder)} {__version__} {request.label} {sorted(request.method.items())}"
    return hashlib.sha256(words.encode()).hexdigest()[:DIGEST_DIGITS]
