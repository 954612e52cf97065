"""Registrations likely to be one household: set out for a decision, and merged by it."""

from __future__ import annotations

import hashlib
from typing import TYPE_CHECKING

from planner.duplicates.proposing import propose_pairs
from planner.duplicates.sheet import Merged, merge_decided, read_decisions, write_pairs
from planner.errors import StoreError
from planner.messages import say
from planner.paths import CONTACTS_FILE, DUPLICATES_FILE, PRIVATE_FOLDER
from planner.store.opening import open_store
from planner.store.writing import writing

if TYPE_CHECKING:
    from pathlib import Path

    import polars as pl

__all__ = ["Merged", "decide", "propose"]


def propose(folder: Path, *, force: bool = False) -> tuple[pl.DataFrame, Path]:
    """Set out the pairs of registrations that are likely one household.

    Raises
    ------
    StoreError
        There are no contacts, the file is there already, or it cannot be written.
    """
    path = folder / PRIVATE_FOLDER / DUPLICATES_FILE
    if path.exists() and not force:
        raise StoreError(say("duplicates.fail.there", file=str(path)), path=str(path))
    with open_store(folder, read_only=True) as store:
        if store.contacts is None:
            contacts = str(folder / CONTACTS_FILE)
            raise StoreError(say("duplicates.fail.no_contacts", file=contacts))
        pairs = propose_pairs(store)
    if not pairs.is_empty():
        write_pairs(path, pairs)
    return pairs, path


def decide(folder: Path, file: Path, *, keep: bool = True) -> Merged:
    """Carry out the officer's decisions, all in one transaction.

    The spreadsheet that `propose` wrote is deleted when its decisions are in the records:
    it holds personal details and has served.

    Raises
    ------
    IntakeError, StoreError
        Nothing was merged; the message says what to mend.
    """
    decided = read_decisions(file)
    mark = hashlib.sha256(file.read_bytes()).hexdigest()
    with open_store(folder) as store, writing(store, keep=keep) as writer:
        merged = merge_decided(store, writer, decided, file.name, mark)
    written = folder / PRIVATE_FOLDER / DUPLICATES_FILE
    if keep and merged.load_id is not None and file.resolve() == written.resolve():
        written.unlink()
    return merged
