"""The records as they were when only some loads stood: a copy, from which later ones are undone."""

from __future__ import annotations

import shutil
from contextlib import contextmanager
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING

from planner.paths import KEY_FILE, STORE_FILE
from planner.store.connection import change, offer
from planner.store.naming import parts
from planner.store.opening import open_store
from planner.store.queries import read_query
from planner.store.undoing import undo_load
from planner.tables import TABLES

if TYPE_CHECKING:
    import datetime as dt
    from collections.abc import Iterable, Iterator

    import polars as pl

_RECORD_TABLES = tuple(name for name in TABLES if name != "contacts")


@contextmanager
def copied(folder: Path) -> Iterator[Path]:
    """Copy the records, without personal details, to a folder that goes when the block ends.

    Parameters
    ----------
    folder
        Program folder.
    """
    with TemporaryDirectory(prefix="planner-") as name:
        for file in (STORE_FILE, KEY_FILE):
            if (folder / file).exists():
                shutil.copyfile(folder / file, Path(name) / file)
        yield Path(name)


def rewind(copy: Path, load_ids: Iterable[str], undone_at: dt.datetime) -> None:
    """Undo, in a copy, every load that is not among these, the latest first.

    Parameters
    ----------
    copy
        Folder of `copied`.
    load_ids
        Loads that stay.
    undone_at
        Time that is noted, UTC.
    """
    stay = set(load_ids)
    with open_store(copy, read_only=True) as store:
        later = [load_id for load_id in store.load_ids() if load_id not in stay]
    for load_id in sorted(later, reverse=True):
        with open_store(copy, make=False) as store:
            undo_load(store, load_id, undone_at)


def keys_of(folder: Path) -> dict[str, pl.DataFrame]:
    """Read the keys of every record table."""
    with open_store(folder, read_only=True) as store:
        return {table: store.keys(table) for table in _RECORD_TABLES}


def keep_keys(copy: Path, keys: dict[str, pl.DataFrame]) -> None:
    """Take every record out of a copy whose key is not among these."""
    with open_store(copy, make=False) as store:
        for table, kept in keys.items():
            offer(store.program, kept)
            change(store.program, read_query("keep_incoming").fill(**parts(table)))
