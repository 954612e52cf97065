"""Backups: one file each, sealed with the key, and checked by reading all that is in it.

A backup holds the program file, the records, the personal details and the reports that were
given out as they lie in the folder, and never the key. The folder keeps a list of its
backups, for erasing reaches them.
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

from planner.errors import ARCHIVE_FAULTS, StoreError
from planner.messages import say
from planner.paths import (
    BACKUP_FOLDER,
    BACKUP_LIST_FILE,
    CONTACTS_FILE,
    PROGRAM_FILE,
    RECEIPT_FOLDER,
    STORE_FILE,
)
from planner.store.connection import connect, fetch, in_words
from planner.store.contacts import MIGRATIONS as CONTACT_MIGRATIONS
from planner.store.encryption import is_encrypted
from planner.store.files import NEW, put_in_place, write_whole
from planner.store.issued import is_of_issue, issued_files
from planner.store.keys import make_key, needed_key, read_key
from planner.store.migrations import check_version
from planner.store.queries import read_query
from planner.store.sealing import Seal, check_whole, judge, seal_of

if TYPE_CHECKING:
    from collections.abc import Iterator

    from planner.store.keys import Key

STATE_FILES = (PROGRAM_FILE, STORE_FILE, CONTACTS_FILE)
"""Files that together are a program; the store's are never apart from each other."""

MANIFEST = "manifest.json"
SEAL = "manifest.seal"
STAGE_PREFIX = ".opened-"
_LIST_BYTES_MOST = 64 << 20
_NAMED = "planner-backup-*.zip"


def write_backup(folder: Path, target: Path | None, made_at: dt.datetime) -> Path:
    """Write and check a backup of a folder whose store is closed and held.

    Parameters
    ----------
    folder
        Program folder.
    target
        Folder for the backup; `backups` in the program folder unless said.
    made_at
        Time that names the backup, UTC.

    Raises
    ------
    StoreError
        It cannot be written, or not all of what was written can be read.
    """
    into = target or folder / BACKUP_FOLDER
    path = into / f"planner-backup-{made_at:%Y-%m-%d-%H%M%S}.zip"
    fresh = path.with_name(path.name + NEW)
    if path.exists():
        message = say("saved.same_second", path=str(path))
        raise StoreError(message, path=str(path))
    try:
        into.mkdir(parents=True, exist_ok=True)
        # listed before it is written: no backup, nor a part of one, is unknown to an erasure
        remember_backup(folder, path)
        pack(folder, fresh, made_at, make_key(folder))
        check_backup(fresh, folder)
        put_in_place(fresh, path)
    except OSError as error:
        message = say("file.name_folder", path=str(path), why=str(error.strerror))
        raise StoreError(message, path=str(path)) from None
    finally:
        # on a full disk the list cannot be written either; the next command does it
        with contextlib.suppress(OSError):
            clear_unfinished(folder)
    return path


def pack(folder: Path, path: Path, made_at: dt.datetime, key: Key | None) -> None:
    """Write the program's files and their checksums into one file.

    Parameters
    ----------
    folder
        Folder with the files.
    path
        File to write.
    made_at
        When the files were so, UTC.
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
        return judge(_small(archive, MANIFEST), seal, read_key(folder))


@contextmanager
def unpacked(path: Path, folder: Path, into: Path | None = None) -> Iterator[Path]:
    """Unpack a backup into a folder of its own and check that all of it is there and opens.

    Parameters
    ----------
    path
        Backup.
    folder
        Program folder, whose key opens it.
    into
        Folder to unpack into, which stays; one that goes again unless said.

    Yields
    ------
    Path
        Folder with the files of the backup.

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
    with stage_in(folder) as stage:
        _unpack(path, Path(stage))
        check_opens(Path(stage), folder, path)
        yield Path(stage)


def stage_in(folder: Path) -> tempfile.TemporaryDirectory[str]:
    """Make a folder that goes again, in the program folder: nothing private leaves it.

    Raises
    ------
    StoreError
        It cannot be made.
    """
    try:
        return tempfile.TemporaryDirectory(prefix=STAGE_PREFIX, dir=folder)
    except OSError as error:
        message = in_words(folder, str(error.strerror))
        raise StoreError(message, path=str(folder)) from None


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
        key = needed_key(folder, named) if is_encrypted(path) else None
        with connect(path, read_only=True, key=key, named=named) as connection:
            check_version(connection, migrations, named)
            marks.append(fetch(connection, read_query("read_identity").text).rows())
    if marks[1:] not in ([], marks[:1]):
        message = say("saved.not_together", path=str(named))
        raise StoreError(message, path=str(named))


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


def newest_backup(folder: Path) -> Path:
    """Find the newest backup in the program folder, whose names begin with their time.

    Raises
    ------
    StoreError
        There is none.
    """
    found = sorted((folder / BACKUP_FOLDER).glob("planner-backup-*.zip"))
    if not found:
        message = say("saved.none", path=str(folder / BACKUP_FOLDER))
        raise StoreError(message, path=str(folder))
    return found[-1]


def known_backups(folder: Path) -> list[Path]:
    """List the backups of a program folder that it knows of, there or not.

    A folder that was moved keeps its own. One that was copied leaves those of the folder from
    which it was copied alone: `backups_of_original` lists them.
    """
    was, listed = _read_list(folder)
    inside = [folder / path.relative_to(was) for path in listed if path.is_relative_to(was)]
    outside = [path for path in listed if not path.is_relative_to(was)]
    elsewhere = [] if _is_copy(folder, was) else outside
    lying = sorted((folder / BACKUP_FOLDER).glob("*.zip"))
    return sorted({path.absolute() for path in (*inside, *elsewhere, *lying)})


def backups_of_original(folder: Path) -> list[Path]:
    """List the backups of the folder of which this one is a copy; none where it is no copy."""
    was, listed = _read_list(folder)
    return listed if _is_copy(folder, was) else []


def _is_copy(folder: Path, was: Path) -> bool:
    """Tell whether the folder that wrote the list is still there beside this one."""
    is_elsewhere = was != folder.absolute()
    return is_elsewhere and (was / STORE_FILE).exists() and not was.samefile(folder)


def remember_backup(folder: Path, path: Path) -> None:
    """Add a backup to the list of the folder.

    Raises
    ------
    OSError
        The list cannot be written.
    """
    _write_list(folder, {*known_backups(folder), path.absolute()})


def clear_unfinished(folder: Path) -> None:
    """Remove backups that a killed command was writing; the caller holds the folder.

    Raises
    ------
    OSError
        One cannot be removed.
    """
    for receipt in folder.glob(f"{RECEIPT_FOLDER}/erased-*.json{NEW}"):
        receipt.unlink(missing_ok=True)
    (folder / f"{BACKUP_LIST_FILE}{NEW}").unlink(missing_ok=True)
    # in a folder that was moved the list names other places
    for begun in (folder / BACKUP_FOLDER).glob(f"*.zip{NEW}"):
        begun.unlink(missing_ok=True)
    for path in known_backups(folder):
        fresh = path.with_name(path.name + NEW)
        # a list that came with somebody's folder may name any file of this machine
        if fresh.exists() and path.match(_NAMED):
            fresh.unlink()
            if not path.exists():
                _write_list(folder, {*known_backups(folder)} - {path})


def _write_list(folder: Path, paths: set[Path]) -> None:
    listed = {"folder": str(folder.absolute()), "backups": sorted(map(str, paths))}
    write_whole(folder / BACKUP_LIST_FILE, json.dumps(listed, indent=1).encode())


def _read_list(folder: Path) -> tuple[Path, list[Path]]:
    """Read the folder that wrote the list, and the backups in it."""
    path = folder / BACKUP_LIST_FILE
    try:
        content = json.loads(path.read_text(encoding="utf-8"))
        if isinstance(content, list):
            # as older planners wrote it
            content = {"folder": str(folder.absolute()), "backups": content}
        return Path(content["folder"]), [Path(str(text)) for text in content["backups"]]
    except FileNotFoundError:
        return folder.absolute(), []
    except (OSError, ValueError, KeyError, TypeError):
        message = say("saved.list_unread", path=str(path))
        raise StoreError(message, path=str(path)) from None


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
        message = in_words(stage.parent, str(error.strerror))
        raise StoreError(message, path=str(path)) from None


def _small(archive: zipfile.ZipFile, name: str) -> bytes:
    """Read a part that is a list or a seal, and no more of it than either can be."""
    if archive.getinfo(name).file_size > _LIST_BYTES_MOST:
        message = f"{name} is larger than any list of a backup"
        raise ValueError(message)
    return archive.read(name)


@contextmanager
def _readable(path: Path) -> Iterator[None]:
    if not path.is_file():
        message = say("saved.no_file", path=str(path))
        raise StoreError(message, path=str(path))
    try:
        yield
    except OSError as error:
        # a full disk or a missing right is no fault of the backup
        if error.errno is None:
            raise _damaged(path) from None
        raise
    except ARCHIVE_FAULTS:
        raise _damaged(path) from None


def _damaged(path: Path) -> StoreError:
    message = say("saved.unsound", path=str(path))
    return StoreError(message, path=str(path))
