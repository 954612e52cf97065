"""Write loads: one transaction over all files of a command, undone as a whole."""

from __future__ import annotations

from contextlib import contextmanager
from typing import TYPE_CHECKING

import polars as pl

from planner.errors import IntakeError
from planner.messages import say
from planner.store.connection import Connection, count_changed, execute, fetch, offer_rows
from planner.store.files import on_failure
from planner.store.migrations import utc_now
from planner.store.queries import parts, read_query, record_key
from planner.tables import RULES, TABLES

if TYPE_CHECKING:
    import datetime as dt
    from collections.abc import Iterator, Sequence

    from planner.store.opening import Store
    from planner.store.queries import Query

FATES = ("new", "corrected", "unchanged")


class Writer:
    """Writes of one command, kept by `writing` when its block ends without an error."""

    def __init__(self, store: Store, written_at: dt.datetime) -> None:
        self.store = store
        self.written_at = written_at
        self._contacts_begun = False
        store.program.begin()

    def begin_load(self, file: str, sha256: str) -> str:
        """Note a file and return the identity of its load, as ``L0007``."""
        numbers = [int(load_id[1:]) for load_id in self.store.query("listed_loads")["load_id"]]
        load_id = f"L{max(numbers, default=0) + 1:04d}"
        noted = {"load_id": load_id, "file": file, "sha256": sha256, "loaded_at": self.written_at}
        execute(self.store.program, read_query("record_load").text, noted)
        return load_id

    def count_fates(self, table: str, rows: pl.DataFrame) -> dict[str, int]:
        """Count which rows are new, corrected or unchanged against the store.

        Contacts that were erased change nothing when their file is loaded again.
        """
        if rows.is_empty():
            return dict.fromkeys(FATES, 0)
        kept = self._not_erased(table, rows)
        connection = self._connection(table)
        offer_rows(connection, kept)
        text = read_query("count_by_fate").fill(**parts(table, tuple(kept.columns)))
        counted = {**dict.fromkeys(FATES, 0), **dict(fetch(connection, text).iter_rows())}
        return {**counted, "unchanged": counted["unchanged"] + rows.height - kept.height}

    def write(self, load_id: str, table: str, rows: pl.DataFrame) -> None:
        """Insert or correct records by key; what is replaced goes to the history.

        Parameters
        ----------
        rows
            Unique keys and any of the table's columns; columns not given keep what the
            store holds.
        """
        if rows.is_empty():
            return
        rows = self._not_erased(table, rows)
        connection = self._connection(table)
        named = parts(table, tuple(rows.columns))
        offer_rows(connection, rows)
        replaced = {"table_name": table, "load_id": load_id, "replaced_at": self.written_at}
        execute(connection, read_query("keep_replaced").fill(**named), replaced)
        execute(connection, read_query("update_corrected").fill(**named), {"load_id": load_id})
        execute(connection, read_query("insert_new").fill(**named), {"load_id": load_id})
        self._resolve(load_id, table, rows)

    def ensure_whole(self, load_id: str, table: str, columns: Sequence[str], file: str) -> None:
        """Refuse a load whose columns do not go with those that its records kept.

        Parameters
        ----------
        columns
            Columns that the file had; with all of them every row was checked whole already.

        Raises
        ------
        IntakeError
            A record, as it would now stand, breaks a rule over several columns.
        """
        has_all = set(TABLES[table].column_names()) <= set(columns)
        if has_all or not any(hasattr(TABLES[table], rule) for rule in RULES):
            return
        text = read_query("records_of_load").fill(**parts(table))
        records = fetch(self._connection(table), text, {"load_id": load_id})
        _, failure = TABLES[table].filter(records, cast=True)
        if not failure.counts():
            return
        rule = next(iter(failure.counts()))
        first = failure.invalid().select(TABLES[table].primary_key()).row(0)
        key = record_key([str(part) for part in first])
        told = {"found": say(f"reason.{rule}"), "wanted": say(f"rule.{rule}")}
        raise IntakeError(say("load.not_together", place=f"{file}, {table}", key=key, **told))

    def withdraw(self, load_id: str, table: str, record_key: str) -> bool:
        """Take one record out, keeping it in the history; tell whether it was there."""
        if table == "contacts" and self.store.contacts is None:
            return False
        connection = self._connection(table)
        named = {"record_key": record_key}
        kept = {"table_name": table, "load_id": load_id, "replaced_at": self.written_at}
        fill = parts(table)
        execute(connection, read_query("keep_withdrawn").fill(**fill), {**kept, **named})
        dropped = count_changed(connection, read_query("drop_withdrawn").fill(**fill), named)
        return dropped > 0

    def note(self, load_id: str, query: Query, rows: pl.DataFrame) -> None:
        """Give rows to a query that notes them with their load."""
        if not rows.is_empty():
            offer_rows(self.store.program, rows)
            execute(self.store.program, query.text, {"load_id": load_id})

    def amounts_by_fate(self, rows: pl.DataFrame) -> tuple[float, float]:
        """Sum the amounts of ledger lines that are new, and of those that correct another."""
        if rows.is_empty():
            return 0.0, 0.0
        offer_rows(self.store.program, rows)
        found = fetch(self.store.program, read_query("cost_amounts_by_fate").text)
        new, corrected = found.row(0)
        return float(new), float(corrected)

    def keep(self) -> None:
        """Commit the contacts, then the program's file: with that the loads have happened."""
        if self._contacts_begun:
            self.store.writable_contacts().commit()
            self._contacts_begun = False
        self.store.program.commit()

    def undo(self) -> None:
        """Roll back both files."""
        if self._contacts_begun:
            self.store.writable_contacts().rollback()
            self._contacts_begun = False
        self.store.program.rollback()

    def _connection(self, table: str) -> Connection:
        if table != "contacts":
            return self.store.program
        contacts = self.store.writable_contacts()
        if not self._contacts_begun:
            contacts.begin()
            self._contacts_begun = True
        return contacts

    def _not_erased(self, table: str, rows: pl.DataFrame) -> pl.DataFrame:
        """Leave out contacts that were erased: a file loaded again must not bring them back."""
        if table != "contacts":
            return rows
        return rows.filter(~pl.col("household_id").is_in(self.store.erased_households()))

    def _resolve(self, load_id: str, table: str, rows: pl.DataFrame) -> None:
        offer_rows(self.store.program, rows)
        text = read_query("resolve_by_key").fill(**parts(table))
        execute(self.store.program, text, {"load_id": load_id, "table_name": table})


@contextmanager
def writing(
    store: Store, *, keep: bool = True, written_at: dt.datetime | None = None
) -> Iterator[Writer]:
    """Write to the store in one transaction.

    Parameters
    ----------
    keep
        Commit when the block ends without an error; False undoes everything all the same.
    """
    writer = Writer(store, written_at or utc_now())
    with on_failure(writer.undo):
        yield writer
    if keep:
        writer.keep()
    else:
        writer.undo()
