"""The councils of a pool: exports that are there, and program folders still to be measured.

Councils do not depend on each other until they are put together: each program folder is
measured in a process of its own, and what it gives is kept, so that a second run measures
only what is missing or has changed. A council that fails, or that takes its process down,
is named and the others go on.
"""

from __future__ import annotations

import hashlib
import os
from concurrent.futures import ProcessPoolExecutor, as_completed
from concurrent.futures.process import BrokenProcessPool
from dataclasses import dataclass
from multiprocessing import get_context
from pathlib import Path
from typing import TYPE_CHECKING

from planner import __version__
from planner.errors import PlannerError, PoolError
from planner.paths import FACTORS, PROGRAM_FILE, STORE_FILE
from planner.pooling.contract import Export, read_export, write_export
from planner.pooling.exporting import export_year

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Mapping, Sequence

    from planner.pooling.pool import PoolAsked

    Progress = Callable[[str], None]
    Work = Callable[[Path, Path, PoolAsked], str]

SUFFIX = ".parquet"
KEPT_FOLDER = "measured"
"""Exports that a pool made itself, by what they rest on."""

DIGEST_DIGITS = 16
TAKEN_DOWN = "measuring it ended its process twice, which mostly means too little memory"


@dataclass(frozen=True)
class Gathered:
    """Exports of the councils, and why others are missing."""

    exports: tuple[Export, ...]
    missing: Mapping[str, str]


def find_councils(paths: Iterable[Path]) -> tuple[list[Path], list[Path]]:
    """Sort what was named into files of exports and program folders.

    A folder stands for itself where it holds a program file, and else for the exports and
    the program folders in it.

    Raises
    ------
    PoolError
        Something named is not there, or holds neither.
    """
    files: list[Path] = []
    folders: list[Path] = []
    for path in paths:
        found_files = [path] if path.is_file() else sorted(path.glob(f"*{SUFFIX}"))
        is_program = (path / PROGRAM_FILE).is_file()
        found_folders = [path] if is_program else _program_folders(path)
        if is_program:
            found_files = []
        if not found_files and not found_folders:
            message = (
                f"{path}: found no export and no program folder. Name files that "
                "`planner export` wrote, program folders, or a folder of them."
            )
            raise PoolError(message, path=str(path))
        files += found_files
        folders += found_folders
    return list(dict.fromkeys(files)), list(dict.fromkeys(folders))


def gather(
    paths: Iterable[Path],
    kept: Path,
    asked: PoolAsked,
    progress: Progress,
) -> Gathered:
    """Read the exports and measure the program folders, several at once.

    Parameters
    ----------
    paths
        As of `find_councils`.
    kept
        Folder in which measured councils are kept for the next run.
    asked
        What to measure.
    progress
        Is told what is being done.

    Raises
    ------
    PoolError
        Something named is not there; no council could be taken.
    """
    files, folders = find_councils(paths)
    exports, missing = _read_all(files)
    fresh = {folder: kept / f"{_digest(folder, asked)}{SUFFIX}" for folder in folders}
    done = {folder: path for folder, path in fresh.items() if path.is_file()}
    todo = {folder: path for folder, path in fresh.items() if folder not in done}
    if done:
        progress(f"{len(done):,} program folders have not changed since they were measured")
    missing |= measure_all(todo, asked, progress)
    measured, unread = _read_all([path for path in fresh.values() if path.is_file()])
    exports += measured
    missing |= unread
    if not exports:
        why = "\n".join(f"  {name}: {reason}" for name, reason in missing.items())
        message = f"No council could be taken:\n{why}"
        raise PoolError(message)
    return Gathered(tuple(exports), missing)


def measure_and_keep(folder: Path, path: Path, asked: PoolAsked) -> str:
    """Measure one program folder and keep the export; say in words why not where it fails."""
    try:
        export = export_year(folder, asked.label, None, asked.method, _silent)
        beside = path.with_suffix(f".new{os.getpid()}")
        write_export(beside, export)
        beside.replace(path)
    except PlannerError as error:
        return str(error)
    return ""


def _silent(_: str) -> None:
    """Tell nobody: another process has no terminal of its own."""


def _program_folders(folder: Path) -> list[Path]:
    return sorted(path.parent for path in folder.glob(f"*/{PROGRAM_FILE}"))


def _read_all(files: Sequence[Path]) -> tuple[list[Export], dict[str, str]]:
    exports, missing = [], {}
    for path in files:
        try:
            exports.append(read_export(path))
        except PoolError as error:
            missing[path.name] = str(error)
    return exports, missing


def measure_all(
    todo: Mapping[Path, Path], asked: PoolAsked, progress: Progress, work: Work = measure_and_keep
) -> dict[str, str]:
    """Measure folders in processes; those left when a process dies are tried once more, alone.

    Parameters
    ----------
    todo
        For each program folder the file in which its export is kept.
    asked, progress
        As of `gather`.
    work
        Measures one folder; a name that another process can import.

    Returns
    -------
    dict
        Why a council is missing, by the name of its folder.
    """
    if not todo:
        return {}
    count = min(asked.processes or os.cpu_count() or 1, len(todo))
    progress(f"Measuring {len(todo):,} councils, {count} at once")
    failed, lost = _in_processes(todo, asked, progress, (work, count))
    for folder in lost:
        # one council a process: the one that takes it down is known by it
        again, gone = _in_processes({folder: todo[folder]}, asked, progress, (work, 1))
        failed |= again | dict.fromkeys((one.name for one in gone), TAKEN_DOWN)
    return failed


def _in_processes(
    todo: Mapping[Path, Path], asked: PoolAsked, progress: Progress, how: tuple[Work, int]
) -> tuple[dict[str, str], list[Path]]:
    (work, count), failed, lost = how, {}, []
    # a process that is forked would share the threads of polars, which may then wait for ever
    with ProcessPoolExecutor(count, mp_context=get_context("spawn")) as executor:
        futures = {executor.submit(work, *both, asked): both[0] for both in todo.items()}
        for number, future in enumerate(as_completed(futures), start=1):
            folder = futures[future]
            try:
                why = future.result()
            except BrokenProcessPool:
                lost.append(folder)
                continue
            if why:
                failed[folder.name] = why
            progress(f"  {number:,} of {len(todo):,}: {folder.name}{': left out' if why else ''}")
    return failed, lost


def _digest(folder: Path, asked: PoolAsked) -> str:
    """Name what an export rests on: records, program file, factors, version, what was asked."""
    found = hashlib.sha256(f"{__version__} {asked.label} {sorted(asked.method.items())}".encode())
    for path in (folder / PROGRAM_FILE, folder / STORE_FILE, *sorted(FACTORS.glob("*.csv"))):
        found.update(path.read_bytes() if path.is_file() else b"-")
    return found.hexdigest()[:DIGEST_DIGITS]
