"""Erase personal details everywhere; the records without names stay.

That an erasure was asked for is committed first: from then on no details are shown, and
whoever opens the folder next to write carries it to its end.
"""

from __future__ import annotations

import json
import shutil
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import TYPE_CHECKING

import polars as pl

from planner.errors import StoreError
from planner.paths import CONTACTS_FILE, RECEIPT_FOLDER, REPLACED_FOLDERS, STORE_FILE
from planner.store.backup_list import backups_of_original, known_backups
from planner.store.backups import pack, seal_on, time_of_backup, unpacked
from planner.store.blanking import blank_records, clean_copies
from planner.store.connection import Connection, connect, execute, fetch, offer_rows
from planner.store.drafts import drafting, rewrite
from planner.store.files import NEW, disk_faults, put_in_place, write_whole
from planner.store.keys import key_of, read_key
from planner.store.matching import Details
from planner.store.queries import read_query
from planner.store.scanning import Remnant, remaining, searched
from planner.store.sealing import Seal

if TYPE_CHECKING:
    import datetime as dt


_TEXTS = ("full_name", "street_address", "email", "phone")
"""Columns whose contents are looked for, in whatever spelling."""


@dataclass(frozen=True)
class Erased:
    """What an erasure took out, or would take out."""

    households: tuple[str, ...]  # keys of the households
    # contacts, and former forms of them
    contacts_count: int = 0
    history_count: int = 0
    # files from which details were taken
    copies: tuple[Path, ...] = ()
    backups: tuple[Path, ...] = ()
    # backups that are not there or do not open: they must be deleted by hand
    unreachable: tuple[Path, ...] = ()
    # backups of the folder of which this one is a copy: they are not touched from here
    of_original: tuple[Path, ...] = ()
    removed: tuple[Path, ...] = ()  # folders with what a restore replaced, which are removed whole
    # where details are still, in the officer's own files or what could not be cleaned
    remains: tuple[Remnant, ...] = ()
    # files of which every byte was searched; 0 where it is no longer known what for
    searched_count: int = 0
    receipt: Path | None = field(default=None)  # file that says what was done; None for a dry run


def ask_erasure(
    program: Connection, households: pl.DataFrame, reason: str, asked_at: dt.datetime
) -> None:
    """Note that the details of households are to be erased: with that it has happened."""
    offer_rows(program, households.select("household_id").unique())
    execute(program, read_query("ask_erasure").text, {"reason": reason, "asked_at": asked_at})


def pending_erasures(program: Connection) -> pl.DataFrame:
    """List erasures that were asked for and are not finished."""
    return fetch(program, read_query("pending_erasures").text)


def preview_erasure(folder: Path, households: list[str]) -> Erased:
    """Tell what an erasure would take out; the store is closed and the folder held."""
    survey, details = _survey(folder, households)
    cleaned = [folder / STORE_FILE, folder / CONTACTS_FILE, *survey.copies, *survey.backups]
    cleaned += [path for place in survey.removed for path in place.rglob("*")]
    return _searched(folder, survey, details, cleaned)


def _survey(folder: Path, households: list[str]) -> tuple[Erased, Details]:
    here, *others = _gather(folder, households)
    details = _details(households, [here, *others])
    copied = tuple(clean_copies(folder, details, keep=False))
    removed = _replaced(folder)
    survey = Erased(
        tuple(households),
        contacts_count=here.found.filter(pl.col("place") == "contacts").height,
        history_count=here.found.filter(pl.col("place") == "history").height,
        copies=copied,
        backups=tuple(one.path for one in others if one.is_open),
        unreachable=tuple(one.path for one in others if not one.is_open),
        of_original=tuple(backups_of_original(folder)),
        removed=removed,
    )
    return survey, details


def _replaced(folder: Path) -> tuple[Path, ...]:
    """List the folders of what restores replaced: it did not open and cannot be cleaned."""
    return tuple(sorted(path for path in folder.glob(REPLACED_FOLDERS) if path.is_dir()))


def _searched(folder: Path, survey: Erased, details: Details, leave_out: list[Path]) -> Erased:
    """Search every file but some for what is still there."""
    paths = searched(folder, known_backups(folder), leave_out)
    if details.is_empty():
        return replace(survey, remains=(), searched_count=0)
    return replace(survey, remains=remaining(folder, paths, details), searched_count=len(paths))


def finish_erasures(folder: Path, pending: pl.DataFrame, finished_at: dt.datetime) -> Erased:
    """Carry erasures to their end; the store is closed and the folder held.

    Copies and backups come first: what is to be found in them is known from the contacts,
    which therefore go last. Killed at any point, all of it can be done again.

    Raises
    ------
    StoreError
        A file cannot be written; the erasure stays pending.
    """
    households = pending["household_id"].to_list()
    survey, details = _survey(folder, households)
    with disk_faults(folder, "erasing.goes_on", by_file=True):
        clean_copies(folder, details)
        for path in survey.backups:
            _scrub_backup(folder, path, households, details)
        _scrub(folder, folder, households, details)
        for place in survey.removed:
            shutil.rmtree(place)
        survey = _searched(folder, survey, details, [])
        receipt = _write_receipt(folder, survey, pending, finished_at)
    path = folder / STORE_FILE
    with drafting(path, key_of(folder, path)) as program:
        given = {"households": households, "finished_at": finished_at}
        execute(program, read_query("finish_erasures").text, given)
    return replace(survey, receipt=receipt)


@dataclass(frozen=True)
class _Held:
    """Details that one place holds: the program folder or a backup."""

    path: Path
    found: pl.DataFrame
    is_open: bool = True


def _gather(folder: Path, households: list[str]) -> list[_Held]:
    held = [_Held(folder, _read_details(folder, folder, households))]
    for path in known_backups(folder):
        try:
            with unpacked(path, folder) as stage:
                # a cleaned backup would take the place of a link, and not of what it leads to
                found = _read_details(stage, folder, households)
                held.append(_Held(path, found, is_open=not path.is_symlink()))
        except StoreError:
            held.append(_Held(path, _nothing(), is_open=False))
    return held


def _nothing() -> pl.DataFrame:
    return pl.DataFrame(schema=dict.fromkeys(("place", "household_id", *_TEXTS), pl.String))


def _read_details(stage: Path, folder: Path, households: list[str]) -> pl.DataFrame:
    path = stage / CONTACTS_FILE
    if not path.exists():
        return _nothing()
    with connect(path, read_only=True, key=key_of(folder, path)) as contacts:
        return fetch(contacts, read_query("contact_details").text, {"households": households})


def _details(households: list[str], held: list[_Held]) -> Details:
    found = pl.concat([one.found for one in held])
    texts = pl.concat([found[name] for name in _TEXTS[:-1]]).drop_nulls().unique().sort()
    numbers = found["phone"].drop_nulls().unique().sort()
    return Details(texts.to_list(), numbers.to_list(), households)


def _scrub_backup(folder: Path, path: Path, households: list[str], details: Details) -> None:
    fresh = path.with_name(path.name + NEW)
    with unpacked(path, folder) as stage:
        _scrub(stage, folder, households, details)
        # what was not sealed does not become so by the way
        key = read_key(folder) if seal_on(path, folder) is Seal.HOLDS else None
        pack(stage, fresh, time_of_backup(path), key)
    put_in_place(fresh, path)


def _scrub(stage: Path, folder: Path, households: list[str], details: Details) -> None:
    """Take details out of the two files in a folder and write both again."""
    path = stage / STORE_FILE
    key = key_of(folder, path)
    with drafting(path, key) as program:
        blank_records(program, households, details)
    # pages that hold what was blanked are left behind, be it by a command that was killed
    rewrite(path, key, key)
    path = stage / CONTACTS_FILE
    if not path.exists():
        return
    key = key_of(folder, path)
    given = {"households": households}
    with drafting(path, key) as contacts:
        contacts.begin()
        execute(contacts, read_query("drop_contacts").text, given)
        execute(contacts, read_query("drop_contact_history").text, given)
        contacts.commit()
    rewrite(path, key, key)


def receipted_households(folder: Path) -> list[str]:
    """List the households that the receipts in a folder name as erased."""
    receipts = (folder / RECEIPT_FOLDER).glob("erased-*.json")
    read = (json.loads(path.read_text(encoding="utf-8")) for path in receipts)
    return sorted({one["household_id"] for receipt in read for one in receipt["erased"]})


def _write_receipt(
    folder: Path, survey: Erased, pending: pl.DataFrame, finished_at: dt.datetime
) -> Path:
    """Write what was erased, without a personal detail in it."""
    asked = pending.with_columns(pl.col("asked_at").dt.to_string("%Y-%m-%d %H:%M UTC"))
    receipt = {
        "erased": asked.to_dicts(),
        "finished_at": f"{finished_at:%Y-%m-%d %H:%M UTC}",
        "contacts": survey.contacts_count,
        "former_contacts": survey.history_count,
        "copies": [path.name for path in survey.copies],
        "backups": [str(path) for path in survey.backups],
        "backups_to_delete_by_hand": [str(path) for path in survey.unreachable],
        "removed": [path.name for path in survey.removed],
        "files_searched": survey.searched_count,
        # a file's own name may hold what was erased
        "places_that_hold_details_still": len(survey.remains),
        "kept": "the records of the households without personal details",
    }
    place = folder / RECEIPT_FOLDER
    place.mkdir(exist_ok=True)
    path = place / f"erased-{finished_at:%Y-%m-%d-%H%M%S}.json"
    write_whole(path, json.dumps(receipt, indent=1, ensure_ascii=False).encode())
    return path
