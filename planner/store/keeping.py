"""A program folder as a whole: backed up, restored, and rid of personal details.

A backup is checked first, then put in place so that a kill leaves all or nothing: the new files
wait in a folder of their own until a note says that they are ready. From then on the restore has
happened: whoever opens the folder next carries it to its end.
"""

from __future__ import annotations

import json
import shutil
from typing import TYPE_CHECKING, NamedTuple

import polars as pl

from planner.errors import ProgramError, StoreError
from planner.messages import officer_messages, say
from planner.paths import PROGRAM_FILE, STORE_FILE
from planner.program import open_program
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
from planner.store.drafts import drafting
from planner.store.erasing import Erased, ask_erasure, preview_erasure, receipted_households
from planner.store.files import (
    disk_faults,
    fault_of,
    folder_lock,
    sync_file,
    sync_folder,
    write_whole,
)
from planner.store.issued import issues_to_restore, protect_issue
from planner.store.keys import key_of, needed_key
from planner.store.migrations import migrate, utc_now
from planner.store.opening import MIGRATIONS, Store, open_store
from planner.store.queries import read_query
from planner.store.sealing import Seal
from planner.store.settling import READY_FILE, RESTORE_FOLDER, finish_restore

if TYPE_CHECKING:
    import datetime as dt
    from pathlib import Path


class Restored(NamedTuple):
    """What a restore left."""

    made_at: dt.datetime  # when the backup was made, UTC
    backup_before: Path | None  # backup of what was there before, if it could be opened
    replaced: Path | None  # folder with what was there before, if it could not
    erased: tuple[str, ...]  # households whose personal details were erased again
    # settings of the program file that differ from before, each in a line
    settings: tuple[str, ...]
    missing: tuple[str, ...]  # loads that stand here and are not in the backup, each in a line
    seal: Seal  # what the seal of the backup says


def restore_backup(
    folder: Path, path: Path, restored_at: dt.datetime, *, keep: bool = True, unsealed: bool = False
) -> Restored:
    """Put the program of a backup in the place of what is there.

    What is replaced stays until the new store has opened. Personal details that were
    erased after the backup was made are erased from it again. Reports that were given out
    are never taken away: those of the backup that are missing or altered are put back.

    Parameters
    ----------
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
    with disk_faults(folder, "file.name_folder"):
        folder.mkdir(parents=True, exist_ok=True)
    seal = seal_on(path, folder)
    # first: what anyone could have written is neither unpacked nor opened unless asked for
    if seal is not Seal.HOLDS and not unsealed:
        if seal is Seal.UNKNOWN:
            needed_key(folder, path)
        raise fault_of(path, "saved.unproved", seal=say(f"seal.{seal.value}"))
    check_backup(path, folder)
    lacks = _lacking(folder, path)
    if not keep:
        return Restored(made_at, None, None, (), (), lacks, seal)
    settings = _settings(folder)
    before, erased = _keep_present(folder, restored_at)
    replaced = folder / f"replaced-{restored_at:%Y-%m-%d-%H%M%S}"
    with disk_faults(folder, "saved.kept"), folder_lock(folder):
        remember_backup(folder, path)
        _stage(folder, path, erased, replaced.name)
        finish_restore(folder)
        check_opens(folder, folder, folder)
        if before is not None and replaced.exists():
            shutil.rmtree(replaced)
    kept = replaced if replaced.exists() else None
    changed = changed_settings(settings, _settings(folder)) if settings else []
    erased_again = _bring_up_to_date(folder, before or kept)
    return Restored(made_at, before, kept, erased_again, tuple(changed), lacks, seal)


def _lacking(folder: Path, path: Path) -> tuple[str, ...]:
    """List the loads that stand in a folder and not in a backup."""
    try:
        with open_store(folder, read_only=True) as store:
            standing = store.query("listed_loads").filter(pl.col("undone_at").is_null())
        with unpacked(path, folder) as stage:
            file = stage / STORE_FILE
            key = key_of(folder, file, path)
            with connect(file, read_only=True, key=key, named=path) as backup:
                there = fetch(backup, read_query("load_ids").text)
    except StoreError:
        # what does not open is what a restore is for
        return ()
    missing = standing.join(there, on="load_id", how="anti")
    return tuple(
        say("saved.load", load=load_id, file=file, time=officer_messages().moment(loaded_at))
        for load_id, file, loaded_at in missing.select("load_id", "file", "loaded_at").iter_rows()
    )


def _settings(folder: Path) -> str:
    """Read the program file; empty where there is none that can be read."""
    try:
        return (folder / PROGRAM_FILE).read_text(encoding="utf-8")
    except (OSError, UnicodeDecodeError):
        return ""


def _bring_up_to_date(folder: Path, kept: Path | None) -> tuple[str, ...]:
    """Open what was restored to be written; tell the households that were erased again."""
    try:
        with open_store(folder) as store:
            return tuple(store.erased_households())
    except StoreError as error:
        was = say("saved.before", folder=str(kept)) if kept else ""
        raise fault_of(folder, "saved.but", kept=was, why=str(error)) from None


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
        with folder_lock(folder):
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
    with drafting(path, key_of(folder, path)) as connection:
        migrate(connection, MIGRATIONS, path, utc_now())
        households = pl.DataFrame({"household_id": erased})
        ask_erasure(connection, households, "restored from a backup", utc_now())


ASKED = "asked for by the household"
RETENTION = "older than the retention period"


def erase_households(
    folder: Path, households: list[str], asked_at: dt.datetime, *, keep: bool = True
) -> Erased:
    """Erase the personal details of households everywhere the program knows of.

    Parameters
    ----------
    keep
        False erases nothing and only tells what would go.

    Raises
    ------
    StoreError
        A household is not known, or a file cannot be written.
    """
    with open_store(folder, make=False) as store:
        _check_known(store, households)
        return _erase(store, households, ASKED, asked_at, keep=keep)


def retain_contacts(folder: Path, asked_at: dt.datetime, *, keep: bool = True) -> Erased | None:
    """Erase the details of households whose newest record is older than the program file allows.

    Returns
    -------
    Erased or None
        None where no contact is that old.

    Raises
    ------
    ProgramError
        The program file sets no time.
    StoreError
        A file cannot be read or written.
    """
    months = open_program(folder / PROGRAM_FILE).privacy.contacts_retention_months
    if months is None:
        raise fault_of(folder / PROGRAM_FILE, "setting.retention", ProgramError)
    with open_store(folder, make=False) as store:
        oldest = pl.select(pl.lit(asked_at.date()).dt.offset_by(f"-{months}mo")).item()
        seen = store.query("last_seen").filter(pl.col("seen_date") < oldest)
        old = store.keys("contacts").join(seen, on="household_id", how="semi")
        if old.is_empty():
            return None
        households = old["household_id"].to_list()
        return _erase(store, households, RETENTION, asked_at, keep=keep)


def back_up(folder: Path, target: Path | None, made_at: dt.datetime) -> Path:
    """Write a backup of a program folder and check it; return the file.

    Raises
    ------
    StoreError
        It cannot be written, or does not open.
    """
    with open_store(folder, make=False) as store:
        store.close()
        return write_backup(folder, target, made_at)


def _erase(
    store: Store, households: list[str], reason: str, asked_at: dt.datetime, *, keep: bool
) -> Erased:
    # a household that another was merged into is erased with it, and the other way round
    households = store.query("same_households", households=households)["household_id"].to_list()
    if not keep:
        store.close()
        return preview_erasure(store.folder, households)
    ask_erasure(store.program, pl.DataFrame({"household_id": households}), reason, asked_at)
    store.settle()
    return store.erased or Erased(tuple(households))


def _check_known(store: Store, households: list[str]) -> None:
    refused = store.query("refusals").filter(pl.col("table_name").is_in(["contacts", "households"]))
    known = pl.concat(
        [
            store.keys("households")["household_id"],
            store.keys("contacts")["household_id"],
            refused["record_key"],
            pl.Series(store.erased_households(), dtype=pl.String),
            store.query("merged_households")["household_id"],
        ]
    )
    asked = pl.Series(households, dtype=pl.String)
    unknown = asked.filter(~asked.is_in(known.implode())).to_list()
    if unknown:
        hint = _hint(unknown, set(known))
        raise StoreError(say("erasing.no_household", names=", ".join(unknown), hint=hint))


def _hint(unknown: list[str], known: set[str]) -> str:
    folded = {household.casefold(): household for household in known if household}
    near = [folded[key] for key in (one.strip().casefold() for one in unknown) if key in folded]
    if near:
        return say("erasing.near", near=", ".join(near))
    return say("erasing.named_by")
