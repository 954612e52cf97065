"""What a command that was killed left behind: carried to its end, or cleared away."""

from __future__ import annotations

import json
import shutil
from fnmatch import fnmatch
from pathlib import Path

from planner.paths import CONTACTS_FILE, PROGRAM_FILE, REPLACED_FOLDERS, STORE_FILE
from planner.store.backup_list import clear_unfinished
from planner.store.backups import STAGE_PREFIX
from planner.store.drafts import remove_draft, remove_left_over
from planner.store.files import disk_faults, fault_of, sync_folder
from planner.store.issued import is_of_issue

RESTORE_FOLDER = ".restore"
READY_FILE = "ready.json"
_REPLACED = (
    PROGRAM_FILE,
    STORE_FILE,
    CONTACTS_FILE,
    f"{STORE_FILE}.wal",
    f"{CONTACTS_FILE}.wal",
)


def is_restore_pending(folder: Path) -> bool:
    """Tell whether a restore was killed after its new files were ready."""
    return (folder / RESTORE_FOLDER / READY_FILE).exists()


def finish_restore(folder: Path) -> bool:
    """Put restored files that are ready in their place; tell whether there were any.

    Each step looks at what is there, so that it can be killed and begun again. The caller
    holds the folder.

    Raises
    ------
    StoreError
        A file cannot be moved; what was ready stays so.
    """
    stage = folder / RESTORE_FOLDER
    if not is_restore_pending(folder):
        return False
    with disk_faults(folder, "store.not_moved", by_file=True):
        _put_in_place(folder, stage)
    shutil.rmtree(stage, ignore_errors=True)
    return True


def _put_in_place(folder: Path, stage: Path) -> None:
    names, issues, replaced = _read_ready(stage / READY_FILE)
    aside = folder / replaced
    aside.mkdir(exist_ok=True)
    for name in _REPLACED:
        is_done = name in names and not (stage / name).exists()
        if not is_done:
            _swap(stage / name, folder / name, aside / name)
    for name in issues:
        if (stage / name).exists():
            (folder / name).parent.mkdir(exist_ok=True)
            (aside / name).parent.mkdir(exist_ok=True)
            _swap(stage / name, folder / name, aside / name)
            sync_folder((folder / name).parent)
    sync_folder(folder)
    (stage / READY_FILE).unlink()
    sync_folder(stage)


def _read_ready(path: Path) -> tuple[list[str], list[str], str]:
    """Read which files are ready, and where those go that they replace.

    A folder may come from somebody else: a name that leads out of it would have files moved there.

    Raises
    ------
    StoreError
        It is not what a restore writes.
    """
    try:
        ready = json.loads(path.read_text(encoding="utf-8"))
        # a restore that was killed by a planner without issues names none
        names, issues, replaced = ready["names"], ready.get("issues", []), ready["replaced"]
        is_own = fnmatch(replaced, REPLACED_FOLDERS) and Path(replaced).name == replaced
        if is_own and all(is_of_issue(f"{name}/any") for name in issues) and "\\" not in replaced:
            return names, issues, replaced
    except (ValueError, TypeError, KeyError, AttributeError, RecursionError):
        pass
    raise fault_of(path, "store.not_of_restore", folder=str(path.parent))


def _swap(staged: Path, present: Path, aside: Path) -> None:
    if present.exists() and not aside.exists():
        present.replace(aside)
    if staged.exists():
        staged.replace(present)


def clear_left_over(folder: Path) -> None:
    """Remove files that killed commands were writing; the caller holds the folder.

    Raises
    ------
    StoreError
        They cannot be removed.
    """
    with disk_faults(folder, "file.right"):
        for name in (STORE_FILE, CONTACTS_FILE):
            remove_draft(folder / name)
            remove_left_over(folder / name)
        for stage in folder.glob(f"{STAGE_PREFIX}*"):
            shutil.rmtree(stage, ignore_errors=True)
        clear_unfinished(folder)
        # one that is ready is finished before anything is cleared
        shutil.rmtree(folder / RESTORE_FOLDER, ignore_errors=True)
