"""Take a load back, or withdraw one record, without leaving others that refer to nothing.

The records as they were when only some loads stood are a copy, from which later ones are undone.
"""

from __future__ import annotations

import contextlib
import datetime as dt
import shutil
from contextlib import contextmanager
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING, NamedTuple

import polars as pl

from planner.errors import StoreError
from planner.messages import all_of, did_you_mean, officer_messages, say, some_of
from planner.paths import KEY_FILE, STORE_FILE
from planner.store.connection import Connection, execute, fetch, offer_rows
from planner.store.contacts import undo_unfinished
from planner.store.files import on_failure
from planner.store.opening import open_store
from planner.store.queries import link_parts, parts, read_query, record_key
from planner.store.writing import writing
from planner.tables import TABLES, references

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence

    from planner.store.opening import Store

_NAMED = 10
_PROGRAM_TABLES = tuple(name for name in TABLES if name != "contacts")


class UndoResult(NamedTuple):
    """What taking a load back does."""

    # the load, and the file or the withdrawal it came from
    load_id: str
    file: str
    counts: pl.DataFrame  # one row a table that changes: table_name, removed_count, returned_count


def list_loads(folder: Path) -> tuple[pl.DataFrame, pl.DataFrame]:
    """List every load, those taken back among them, and the columns read as a person would."""
    with open_store(folder, read_only=True) as store:
        return store.query("listed_loads"), store.query("load_readings_of")


def undo_load(
    folder: Path, load_id: str, undone_at: dt.datetime, *, keep: bool = True
) -> UndoResult:
    """Take one load back: what it added goes, what it replaced or withdrew returns.

    The program's file comes first: once it is in its place the load no longer stands, and
    contacts that carry it are taken out at once, or when the store opens next.

    Parameters
    ----------
    keep
        False undoes the undoing: only the counts are made.

    Raises
    ------
    StoreError
        There is no such load, a later one wrote the same records, or others refer to
        what would go.
    """
    with open_store(folder, make=False) as store:
        return _undo(store, load_id, undone_at, keep=keep)


def _undo(store: Store, load_id: str, undone_at: dt.datetime, *, keep: bool) -> UndoResult:
    file = _standing(store, load_id)
    _check_untouched(store, load_id)
    store.program.begin()
    with on_failure(store.program.rollback):
        before = orphan_counts(store, without=None)
        households_count = _fewest_households(store, load_id)
        counts = pl.DataFrame([_revert(store, load_id, table) for table in _PROGRAM_TABLES])
        _forget(store.program, load_id, undone_at, households_count)
        check_orphans(
            say("undoing.load", load=load_id), before, orphan_counts(store, without=load_id)
        )
        contacts = _contact_counts(store, load_id)
    _end(store, keep=keep)
    changed = pl.concat([counts, contacts]).filter(pl.any_horizontal(pl.col(pl.Int64) > 0))
    return UndoResult(load_id, file, changed)


def withdraw_record(
    folder: Path, table: str, key: Sequence[str], withdrawn_at: dt.datetime, *, keep: bool = True
) -> str:
    """Withdraw one record as a load of its own, which can be taken back like any other.

    Parameters
    ----------
    key
        The parts of the record's key, in the order of the table's.
    keep
        False withdraws nothing and only checks.

    Returns
    -------
    str
        The load that stands for the withdrawal.

    Raises
    ------
    StoreError
        There is no such table or record, or other records refer to it.
    """
    if table not in TABLES:
        hint = did_you_mean(table, TABLES) or say("undoing.tables", tables=", ".join(TABLES))
        raise StoreError(say("undoing.no_table", table=table, hint=hint))
    named = record_key(key)
    with open_store(folder, make=False) as store:
        before = orphan_counts(store, without=None)
        with writing(store, keep=keep, written_at=withdrawn_at) as writer:
            load_id = writer.begin_load(f"withdrawn from {table}: {named}", "")
            if not writer.withdraw(load_id, table, named):
                given = {"table": table, "key": named, "hint": _key_help(table)}
                raise StoreError(say("undoing.no_record", **given))
            check_orphans(f"{table} {named}", before, orphan_counts(store, without=None))
    return load_id


def orphan_counts(store: Store, *, without: str | None) -> dict[tuple[str, str], int]:
    """Count the records that refer to none, by table and the table they refer to.

    `without` names a load whose contacts no longer count.
    """
    counts: dict[tuple[str, str], int] = {}
    for table in _PROGRAM_TABLES:
        for column, parent in references(table).items():
            text = read_query("count_orphans").fill(**link_parts(table, column, parent))
            counts[table, parent] = int(fetch(store.program, text).item())
    known = [load_id for load_id in store.load_ids() if load_id != without]
    households = store.keys("households")
    lost = store.contacts_of(known).join(households, on="household_id", how="anti")
    counts["contacts", "households"] = lost.height
    return counts


def check_orphans(
    what: str, before: dict[tuple[str, str], int], after: dict[tuple[str, str], int]
) -> None:
    """Refuse a change after which more records refer to none.

    Raises
    ------
    StoreError
        Names the tables and how many of their records it is.
    """
    more = {link: count - before[link] for link, count in after.items() if count > before[link]}
    if not more:
        return
    listed = ", ".join(
        say("undoing.refer", count, child=child, link=link) for (child, link), count in more.items()
    )
    at_days = any(parent == "events" for _, parent in more)
    hint = " " + say("undoing.cancel_day") if at_days else ""
    raise StoreError(say("undoing.referred", what=what, listed=listed) + hint)


def _standing(store: Store, load_id: str) -> str:
    listed = store.query("listed_loads")
    found = listed.filter(pl.col("load_id") == load_id)
    if found.is_empty():
        raise StoreError(say("undoing.no_load", load=load_id))
    undone_at = found["undone_at"].item()
    if undone_at is not None:
        time = officer_messages().moment(undone_at)
        raise StoreError(say("undoing.taken_back", load=load_id, time=time))
    return str(found["file"].item())


def _check_untouched(store: Store, load_id: str) -> None:
    """Refuse where a later load replaced, withdrew or wrote again what this one wrote."""
    given = {"load_id": load_id}
    found = [fetch(store.program, read_query("undo_blockers").text, given)]
    found += [_collisions(store.program, load_id, table) for table in _PROGRAM_TABLES]
    if store.contacts is not None:
        undo_unfinished(store.contacts, store.load_ids())
        found.append(fetch(store.contacts, read_query("undo_blockers").text, given))
        found.append(_collisions(store.contacts, load_id, "contacts"))
    later = pl.concat(found)
    if later.is_empty():
        return
    loads = ", ".join(later["later_load_id"].unique().sort())
    changed = [
        say("undoing.by", table=table, key=key, load=by)
        for table, key, by in later.head(_NAMED).iter_rows()
    ]
    named = some_of(changed, _NAMED, later.height)
    given = {"load": load_id, "named": named, "loads": loads}
    raise StoreError(say("undoing.changed_later", later.height, **given))


def _collisions(connection: Connection, load_id: str, table: str) -> pl.DataFrame:
    text = read_query("undo_collisions").fill(**parts(table))
    return fetch(connection, text, {"load_id": load_id, "table_name": table})


def _counted(connection: Connection, load_id: str, table: str) -> dict[str, str | int]:
    text = read_query("undo_counts").fill(**parts(table))
    given = {"load_id": load_id, "table_name": table}
    written, returned = fetch(connection, text, given).row(0)
    # of a corrected record one form goes and one returns: it is no removal
    return {
        "table_name": table,
        "removed_count": max(written - returned, 0),
        "returned_count": returned,
    }


def _revert(store: Store, load_id: str, table: str) -> dict[str, str | int]:
    counts = _counted(store.program, load_id, table)
    given = {"load_id": load_id}
    execute(store.program, read_query("drop_undone").fill(**parts(table)), given)
    text = read_query("restore_undone").fill(**parts(table))
    execute(store.program, text, {**given, "table_name": table})
    return counts


def _fewest_households(store: Store, load_id: str) -> int:
    """Count the households of a load in the table in which it holds the fewest; 0 without any.

    Once it is taken back nothing else tells how many an issue lost by it.
    """
    others = [one for one in store.query("listed_loads")["load_id"] if one != load_id]
    given = {"before_date": dt.date.max, "until_date": dt.date.max, "tables": list(TABLES)}
    counts = store.query("changed_households", load_ids=others, **given)["households_count"]
    return int(counts.min() or 0)  # type: ignore[arg-type]  # of whole numbers


def _forget(program: Connection, load_id: str, undone_at: dt.datetime, households: int) -> None:
    given = {"load_id": load_id}
    execute(program, read_query("forget_undone").text, given)
    execute(program, read_query("forget_undone_refusals").text, given)
    execute(program, read_query("forget_undone_readings").text, given)
    execute(program, read_query("reopen_refusals").text, given)
    noted = {**given, "undone_at": undone_at, "households_count": households}
    execute(program, read_query("record_undone").text, noted)


def _contact_counts(store: Store, load_id: str) -> pl.DataFrame:
    form = {"table_name": pl.String, "removed_count": pl.Int64, "returned_count": pl.Int64}
    if store.contacts is None:
        return pl.DataFrame(schema=form)
    return pl.DataFrame([_counted(store.contacts, load_id, "contacts")], schema=form)


def _end(store: Store, *, keep: bool) -> None:
    if not keep:
        store.program.rollback()
        return
    store.program.commit()
    store.close()
    # the load is taken back: what goes wrong now is set right when the store opens next
    with contextlib.suppress(StoreError):
        store.renew()
        store.close()


def _key_help(table: str) -> str:
    key = TABLES[table].primary_key()
    return say("undoing.key_in_order" if len(key) > 1 else "undoing.key", columns=all_of(key))


@contextmanager
def copied(folder: Path) -> Iterator[Path]:
    """Copy the records, without personal details, to a folder that goes when the block ends."""
    with TemporaryDirectory(prefix="planner-") as name:
        for file in (STORE_FILE, KEY_FILE):
            if (folder / file).exists():
                shutil.copyfile(folder / file, Path(name) / file)
        yield Path(name)


def rewind(copy: Path, load_ids: Iterable[str], undone_at: dt.datetime) -> None:
    """Undo, in a copy, every load that is not among these, the latest first."""
    stay = set(load_ids)
    with open_store(copy, read_only=True) as store:
        later = [load_id for load_id in store.load_ids() if load_id not in stay]
    for load_id in sorted(later, reverse=True):
        undo_load(copy, load_id, undone_at)


def keys_of(folder: Path) -> dict[str, pl.DataFrame]:
    """Read the keys of every record table."""
    with open_store(folder, read_only=True) as store:
        return {table: store.keys(table) for table in _PROGRAM_TABLES}


def keep_keys(copy: Path, keys: dict[str, pl.DataFrame]) -> None:
    """Take every record out of a copy whose key is not among these."""
    with open_store(copy, make=False) as store:
        for table, kept in keys.items():
            offer_rows(store.program, kept)
            execute(store.program, read_query("keep_incoming").fill(**parts(table)))
