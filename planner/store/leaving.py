"""Commands on a program folder as a whole: erase, retain, back up."""

from __future__ import annotations

from typing import TYPE_CHECKING

import polars as pl

from planner.errors import StoreError
from planner.messages import say
from planner.store.backups import write_backup
from planner.store.erasing import Erased, ask_erasure, preview_erasure
from planner.store.opening import Store, open_store

if TYPE_CHECKING:
    import datetime as dt
    from pathlib import Path

ASKED = "asked for by the household"
RETENTION = "older than the retention period"


def erase_households(
    folder: Path, households: list[str], asked_at: dt.datetime, *, keep: bool = True
) -> Erased:
    """Erase the personal details of households everywhere the program knows of.

    Parameters
    ----------
    folder
        Program folder.
    households
        Keys of the households.
    asked_at
        Time that is noted, UTC.
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


def retain_contacts(
    folder: Path, months: int, asked_at: dt.datetime, *, keep: bool = True
) -> Erased | None:
    """Erase the details of households whose newest record is older than some months.

    Returns
    -------
    Erased or None
        None where no contact is that old.
    """
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
    refused = store.refusals().filter(pl.col("table_name").is_in(["contacts", "households"]))
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
