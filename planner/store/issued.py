"""Reports that were given out, as files among others: carried by backups, never taken away.

An issue is for ever. A backup carries all of them; a restore puts back those that are missing
or are no longer what they were, and leaves every other where it is.
"""

from __future__ import annotations

from pathlib import PurePosixPath
from typing import TYPE_CHECKING

from planner.paths import ISSUED_FOLDER
from planner.store.connection import execute
from planner.store.files import sync_file, sync_folder
from planner.store.queries import read_query

if TYPE_CHECKING:
    import datetime as dt
    from collections.abc import Iterator
    from pathlib import Path

    from planner.store.opening import Store

READ_ONLY = 0o444
OUTPUT_FOLDERS = "output-[0-9]*"
"""Folders beside the issues in which other outputs are remembered."""

_LEAST_PARTS = 3


def issued_files(folder: Path) -> list[str]:
    """Name every file of every issue and remembered output; none that is in the making."""
    files = sorted(path for path in _issues(folder) if path.is_file())
    return [path.relative_to(folder).as_posix() for path in files]


def is_of_issue(name: str) -> bool:
    """Whether a name in a backup is that of a file of an issue and leads nowhere else.

    Examples
    --------
    >>> [is_of_issue(name) for name in ("issued/0001_2025/a.csv", "issued/../../a", "issued/a")]
    [True, False, False]
    """
    parts = PurePosixPath(name).parts
    is_plain = not {"..", "."} & set(parts) and not set(name) & {"\\", ":"}
    return is_plain and parts[:1] == (ISSUED_FOLDER,) and len(parts) >= _LEAST_PARTS


def issues_to_restore(stage: Path, folder: Path) -> list[str]:
    """Name the issues of an unpacked backup that a folder lacks, or holds otherwise."""
    names = sorted({f"{ISSUED_FOLDER}/{name.split('/')[1]}" for name in issued_files(stage)})
    return [name for name in names if _contents(stage / name) != _contents(folder / name)]


def protect_issue(place: Path) -> None:
    """Have an issue on the disk and its files closed to writing."""
    for path in sorted(place.rglob("*")):
        if path.is_dir():
            sync_folder(path)
            continue
        if not path.stat().st_mode & 0o222:
            continue
        sync_file(path)
        path.chmod(READ_ONLY)
    sync_folder(place)


def record_issue(
    store: Store, number: int, name: str, manifest_sha256: str, recorded_at: dt.datetime
) -> None:
    """Note an issue in the records, so that it cannot go unseen; one that is noted stays."""
    noted = {
        "number": number,
        "name": name,
        "manifest_sha256": manifest_sha256,
        "recorded_at": recorded_at,
    }
    execute(store.program, read_query("record_issue").text, noted)


def _issues(folder: Path) -> Iterator[Path]:
    for named in ("[0-9]*", OUTPUT_FOLDERS):
        for place in (folder / ISSUED_FOLDER).glob(named):
            yield from place.rglob("*")


def _contents(place: Path) -> dict[str, bytes]:
    files = (path for path in place.rglob("*") if path.is_file())
    return {path.relative_to(place).as_posix(): path.read_bytes() for path in files}
