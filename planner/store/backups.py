"""Backups: one file each, sealed with the key, and checked by reading all that is in it.

A backup holds the program file, the records, the personal details and the reports that were
given out as they lie in the folder, and never the key.
"""

from __future__ import annotations

import contextlib
import datetime as dt
import errno
import hashlib
import json
import os
import shutil
import tempfile
import zipfile
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

from planner.errors import ARCHIVE_FAULTS, PlannerError
from planner.paths import (
    BACKUP_FOLDER,
    CONTACTS_FILE,
    PROGRAM_FILE,
    STORE_FILE,
)
from planner.store.backup_list import clear_unfinished, remember_backup
from planner.store.connection import connect, disk_fault, fetch
from planner.store.contacts import MIGRATIONS as CONTACT_MIGRATIONS
from planner.store.files import NEW, fault_of, put_in_place
from planner.store.issued import is_of_issue, issued_files
from planner.store.keys import key_of, make_key, read_key
from planner.store.migrations import check_version
from planner.store.queries import read_query
from planner.store.sealing import Seal, check_seal, check_whole, seal_of

if TYPE_CHECKING:
    from collections.abc import Iterator

    from planner.store.keys import Key

STATE_FILES = (PROGRAM_FILE, STORE_FILE, CONTACTS_FILE)
"""Files that together are a program; the store's are never apart from each other."""

MANIFEST = "manifest.json"
SEAL = "manifest.seal"
STAGE_PREFIX = ".opened-"
_LIST_BYTES_MOST = 64 << 20


def write_backup(folder: Path, target: Path | None, made_at: dt.datetime) -> Path:
    """Write and check a backup of a folder whose store is closed and held.

    Raises
    ------
    StoreError
        It cannot be written, or not all of what was written can be read.
    """
    into = target or folder / BACKUP_FOLDER
    path = into / f"planner-backup-{made_at:%Y-%m-%d-%H%M%S}.zip"
    fresh = path.with_name(path.name + NEW)
    if path.exists():
        raise fault_of(path, "saved.same_second")
    try:
        into.mkdir(parents=True, exist_ok=True)
        # listed before it is written: no backup, nor a part of one, is unknown to an erasure
        remember_backup(folder, path)
        pack(folder, fresh, made_at, make_key(folder))
        check_backup(fresh, folder)
        put_in_place(fresh, path)
    except OSError as error:
        raise fault_of(path, "file.name_folder", why=str(error.strerror)) from None
    finally:
        # on a full disk the list cannot be written either; the next command does it
        with contextlib.suppress(OSError):
            clear_unfinished(folder)
    return path


def pack(folder: Path, path: Path, made_at: dt.datetime, key: Key | None) -> None:
    """Write the program's files and their checksums into one file.

    Parameters
    ----------
    key
        Key that seals it; None leaves it without a seal.

    Raises
    ------
    OSError
        The file cannot be written whole.
    """
    present = [name for name in STATE_FILES if (folder / name).exists()]
    present += issued_files(folder)
    files = {name: checksum(folder / name) for name in present}
    manifest = {"made_at": made_at.isoformat(timespec="seconds"), "sha256": files}
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED, compresslevel=1) as archive:
        for name in present:
            archive.write(folder / name, name)
        words = json.dumps(manifest, indent=1).encode()
        archive.writestr(MANIFEST, words)
        if key is not None:
            archive.writestr(SEAL, seal_of(words, key))


def check_backup(path: Path, folder: Path) -> None:
    """Check that all of a backup is there, opens, belongs together and can be read whole.

    Raises
    ------
    StoreError
        It is no backup, is damaged, or needs another key.
    """
    with unpacked(path, folder) as stage:
        check_whole(stage, folder, path)


def seal_on(path: Path, folder: Path) -> Seal:
    """Tell whether a backup bears the seal of the program's key.

    Raises
    ------
    StoreError
        It is no backup.
    """
    with _readable(path), zipfile.ZipFile(path) as archive:
        seal = _small(archive, SEAL).decode() if SEAL in archive.namelist() else None
        return check_seal(_small(archive, MANIFEST), seal, read_key(folder))


@contextmanager
def unpacked(path: Path, folder: Path, into: Path | None = None) -> Iterator[Path]:
    """Unpack a backup into a folder of its own and check that all of it is there and opens.

    Parameters
    ----------
    into
        Folder to unpack into, which stays; one that goes again unless said.

    Raises
    ------
    StoreError
        It is no backup, is damaged, or needs another key.
    """
    if into is not None:
        into.mkdir(parents=True, exist_ok=True)
        _unpack(path, into)
        check_opens(into, folder, path)
        yield into
        return
    with staging_folder(folder) as stage:
        _unpack(path, Path(stage))
        check_opens(Path(stage), folder, path)
        yield Path(stage)


def staging_folder(folder: Path) -> tempfile.TemporaryDirectory[str]:
    """Make a folder that goes again, in the program folder: nothing private leaves it.

    Raises
    ------
    StoreError
        It cannot be made.
    """
    try:
        return tempfile.TemporaryDirectory(prefix=STAGE_PREFIX, dir=folder)
    except OSError as error:
        raise disk_fault(folder, str(error.strerror)) from None


def check_opens(stage: Path, folder: Path, named: Path) -> None:
    """Check that the store's files in a folder open and belong together.

    An error names the backup from which they came, or the folder itself.

    Raises
    ------
    StoreError
        One does not open with the key of the program folder, is newer than this planner,
        or they are of two stores.
    """
    marks = []
    for name, migrations in ((STORE_FILE, "schema"), (CONTACTS_FILE, CONTACT_MIGRATIONS)):
        path = stage / name
        if not path.exists():
            continue
        key = key_of(folder, path, named)
        with connect(path, read_only=True, key=key, named=named) as connection:
            check_version(connection, migrations, named)
            marks.append(fetch(connection, read_query("read_identity").text).rows())
    if marks[1:] not in ([], marks[:1]):
        raise fault_of(named, "saved.not_together")


def time_of_backup(path: Path) -> dt.datetime:
    """Read when a backup was made, UTC.

    Raises
    ------
    StoreError
        It is not there, or no backup.
    """
    with _readable(path), zipfile.ZipFile(path) as archive:
        return dt.datetime.fromisoformat(json.loads(_small(archive, MANIFEST))["made_at"])


def checksum(path: Path) -> str:
    """SHA-256 of a file's content."""
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def _unpack(path: Path, stage: Path) -> None:
    try:
        with _readable(path), zipfile.ZipFile(path) as archive:
            expected = json.loads(_small(archive, MANIFEST))["sha256"]
            is_known = all(name in STATE_FILES or is_of_issue(name) for name in expected)
            if not is_known or STORE_FILE not in expected:
                raise _damaged(path)
            size = sum(archive.getinfo(name).file_size for name in expected)
            if size > shutil.disk_usage(stage).free:
                raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))
            for name, digest in expected.items():
                if checksum(Path(archive.extract(name, stage))) != digest:
                    raise _damaged(path)
    except OSError as error:
        raise disk_fault(stage.parent, str(error.strerror)) from None


def _small(archive: zipfile.ZipFile, name: str) -> bytes:
    """Read a part that is a list or a seal, and no more of it than either can be."""
    if archive.getinfo(name).file_size > _LIST_BYTES_MOST:
        message = f"{name} is larger than any list of a backup"
        raise ValueError(message)
    return archive.read(name)


@contextmanager
def _readable(path: Path) -> Iterator[None]:
    if not path.is_file():
        raise fault_of(path, "saved.no_file")
    try:
        yield
    except OSError as error:
        # a full disk or a missing right is no fault of the backup
        if error.errno is None:
            raise _damaged(path) from None
        raise
    except ARCHIVE_FAULTS:
        raise _damaged(path) from None


def _damaged(path: Path) -> PlannerError:
    return fault_of(path, "saved.unsound")
