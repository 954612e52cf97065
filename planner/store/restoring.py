"""Restore a backup: checked first, then put in place so that a kill leaves all or nothing.

The new files wait in a folder of their own until a note says that they are ready. From then
on the restore has happened: whoever opens the folder next carries it to its end.
"""

from __future__ import annotations

import json
import shutil
from typing import TYPE_CHECKING, NamedTuple

import polars as pl

from planner.errors import StoreError
from planner.messages import say, spoken
from planner.paths import PROGRAM_FILE, STORE_FILE
from planner.program.settings import changed_settings
from planner.store.backup_list import remember_backup
from planner.store.backups import (
    STATE_FILES,
    check_backup,
    check_opens,
    seal_on,
    time_of_backup,
    unpacked,
    write_backup,
)
from planner.store.connection import connect, fetch
from planner.store.drafts import drafted
from planner.store.encryption import is_encrypted
from planner.store.erasing import ask_erasure, receipted_households
from planner.store.files import sync_file, sync_folder, write_whole
from planner.store.issued import issues_to_restore, protect_issue
from planner.store.keys import needed_key
from planner.store.locking import held
from planner.store.migrations import migrate, utc_now
from planner.store.opening import MIGRATIONS, open_store
from planner.store.queries import read_query
from planner.store.sealing import Seal
from planner.store.settling import READY_FILE, RESTORE_FOLDER, finish_restore

if TYPE_CHECKING:
    import datetime as dt
    from pathlib import Path


class Restored(NamedTuple):
    """What a restore left.

    Attributes
    ----------
    made_at
        When the backup was made, UTC.
    backup_before
        Backup of what was there before, if it could be opened.
    replaced
        Folder with what was there before, if it could not.
    erased
        Households whose personal details were erased again.
    settings
        Settings of the program file that differ from before, each in a line.
    lacks
        Loads that stand here and are not in the backup, each in a line.
    seal
        What the seal of the backup says.
    """

    made_at: dt.datetime
    backup_before: Path | None
    replaced: Path | None
    erased: tuple[str, ...]
    settings: tuple[str, ...]
    lacks: tuple[str, ...]
    seal: Seal


def restore_backup(
    folder: Path, path: Path, restored_at: dt.datetime, *, keep: bool = True, unsealed: bool = False
) -> Restored:
    """Put the program of a backup in the place of what is there.

    What is replaced stays until the new store has opened. Personal details that were
    erased after the backup was made are erased from it again. Reports that were given out
    are never taken away: those of the backup that are missing or altered are put back.

    Parameters
    ----------
    folder
        Program folder, made where there is none.
    path
        Backup.
    restored_at
        Time that names what is kept, UTC.
    keep
        False only checks the backup.
    unsealed
        Also restore one that the key of this program did not seal.

    Raises
    ------
    StoreError
        Nothing changed, unless the message says so.
    """
    made_at = time_of_backup(path)
    _make_folder(folder)
    seal = seal_on(path, folder)
    # first: what anyone could have written is neither unpacked nor opened unless asked for
    if seal is not Seal.HOLDS and not unsealed:
        if seal is Seal.UNKNOWN:
            needed_key(folder, path)
        raise _not_sealed(path, seal)
    check_backup(path, folder)
    lacks = _lacking(folder, path)
    if not keep:
        return Restored(made_at, None, None, (), (), lacks, seal)
    settings = _settings(folder)
    before, erased = _keep_present(folder, restored_at)
    replaced = folder / f"replaced-{restored_at:%Y-%m-%d-%H%M%S}"
    try:
        with held(folder):
            remember_backup(folder, path)
            _stage(folder, path, erased, replaced.name)
            finish_restore(folder)
            check_opens(folder, folder, folder)
            if before is not None and replaced.exists():
                shutil.rmtree(replaced)
    except OSError as error:
        message = say("saved.kept", path=str(folder), why=str(error.strerror))
        raise StoreError(message, path=str(folder)) from None
    kept = replaced if replaced.exists() else None
    changed = changed_settings(settings, _settings(folder)) if settings else []
    erased_again = _bring_up_to_date(folder, before or kept)
    return Restored(made_at, before, kept, erased_again, tuple(changed), lacks, seal)


def _not_sealed(path: Path, seal: Seal) -> StoreError:
    message = say("saved.unproved", path=str(path), seal=say(f"seal.{seal.value}"))
    return StoreError(message, path=str(path))


def _lacking(folder: Path, path: Path) -> tuple[str, ...]:
    """List the loads that stand in a folder and not in a backup."""
    try:
        with open_store(folder, read_only=True) as store:
            standing = store.listed_loads().filter(pl.col("undone_at").is_null())
        with unpacked(path, folder) as stage:
            file = stage / STORE_FILE
            key = needed_key(folder, path) if is_encrypted(file) else None
            with connect(file, read_only=True, key=key, named=path) as backup:
                there = fetch(backup, read_query("load_ids").text)
    except StoreError:
        # what does not open is what a restore is for
        return ()
    missing = standing.join(there, on="load_id", how="anti")
    return tuple(
        say("saved.load", load=load_id, file=file, time=spoken().moment(loaded_at))
        for load_id, file, loaded_at in missing.select("load_id", "file", "loaded_at").iter_rows()
    )


def _settings(folder: Path) -> str:
    """Read the program file; empty where there is none that can be read."""
    try:
        return (folder / PROGRAM_FILE).read_text(encoding="utf-8")
    except (OSError, UnicodeDecodeError):
        return ""


def _make_folder(folder: Path) -> None:
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        message = say("file.name_folder", path=str(folder), why=str(error.strerror))
        raise StoreError(message, path=str(folder)) from None


def _bring_up_to_date(folder: Path, kept: Path | None) -> tuple[str, ...]:
    """Open what was restored to be written; tell the households that were erased again."""
    try:
        with open_store(folder) as store:
            return tuple(store.erased_households())
    except StoreError as error:
        was = say("saved.before", folder=str(kept)) if kept else ""
        message = say("saved.but", path=str(folder), kept=was, why=str(error))
        raise StoreError(message, path=str(folder)) from None


def _keep_present(folder: Path, made_at: dt.datetime) -> tuple[Path | None, list[str]]:
    """Back up what is there, where it opens; tell the households that were erased."""
    erased = receipted_households(folder)
    if not (folder / STORE_FILE).exists():
        return None, erased
    try:
        with open_store(folder) as store:
            erased = sorted({*erased, *store.erased_households()})
            store.close()
            return write_backup(folder, None, made_at), erased
    except StoreError:
        # what does not open is what a restore is for; its files are kept as they are
        with held(folder):
            return None, erased


def _stage(folder: Path, path: Path, erased: list[str], replaced: str) -> None:
    stage = folder / RESTORE_FOLDER
    shutil.rmtree(stage, ignore_errors=True)
    with unpacked(path, folder, stage):
        _carry_erasures(folder, stage, erased)
    names = [name for name in STATE_FILES if (stage / name).exists()]
    for name in names:
        sync_file(stage / name)
    issues = issues_to_restore(stage, folder)
    for name in issues:
        protect_issue(stage / name)
    sync_folder(stage)
    ready = {"names": names, "issues": issues, "replaced": replaced}
    write_whole(stage / READY_FILE, json.dumps(ready).encode())


def _carry_erasures(folder: Path, stage: Path, erased: list[str]) -> None:
    if not erased:
        return
    path = stage / STORE_FILE
    key = needed_key(folder, path) if is_encrypted(path) else None
    with drafted(path, key) as connection:
        migrate(connection, MIGRATIONS, path, utc_now())
        households = pl.DataFrame({"household_id": erased})
        ask_erasure(connection, households, "restored from a backup", utc_now())
