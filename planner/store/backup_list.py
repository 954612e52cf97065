"""The list of a folder's backups, wherever they lie: an erasure reaches each of them."""

from __future__ import annotations

import json
from pathlib import Path

from planner.paths import BACKUP_FOLDER, BACKUP_LIST_FILE, RECEIPT_FOLDER, STORE_FILE
from planner.store.files import NEW, fault_of, write_whole

_NAMED = "planner-backup-*.zip"


def newest_backup(folder: Path) -> Path:
    """Find the newest backup in the program folder, whose names begin with their time.

    Raises
    ------
    StoreError
        There is none.
    """
    found = sorted((folder / BACKUP_FOLDER).glob(_NAMED))
    if not found:
        raise fault_of(folder / BACKUP_FOLDER, "saved.none")
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
        raise fault_of(path, "saved.list_unread") from None
