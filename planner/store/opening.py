"""Open the store of a program folder and read from it."""

from __future__ import annotations

import uuid
from contextlib import contextmanager
from typing import TYPE_CHECKING, Any

import polars as pl

from planner.errors import StoreError
from planner.paths import CONTACTS_FILE, STORE_FILE
from planner.store.connection import change, connect, fetch
from planner.store.contacts import committed_contacts, open_contacts, undo_unfinished
from planner.store.migrations import check_version, migrate, utc_now
from planner.store.naming import parts
from planner.store.queries import folder_queries, read_query
from planner.tables import TABLES

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    import duckdb

MIGRATIONS = "schema"


class Store:
    """The records of one program, open for the length of a ``with`` block.

    Parameters
    ----------
    folder
        Program folder.
    program
        Connection to the program's file.
    contacts
        Connection to the file of personal details, where there is one.
    """

    def __init__(
        self,
        folder: Path,
        program: duckdb.DuckDBPyConnection,
        contacts: duckdb.DuckDBPyConnection | None,
    ) -> None:
        self.folder = folder
        self.program = program
        self.contacts = contacts

    def query(self, name: str, **params: Any) -> pl.DataFrame:  # noqa: ANN401 - any SQL value
        """Run a named query of queries/ and return its rows.

        Raises
        ------
        TypeError
            The parameters are not those of the query's header.
        """
        query = read_query(name)
        if set(params) != set(query.params):
            message = f"{name}: given {sorted(params)}, its header asks {sorted(query.params)}"
            raise TypeError(message)
        return fetch(self.program, query.text, params)

    def records(self, table: str) -> pl.DataFrame:
        """Read every record of a table as a frame of its contract, ordered by key."""
        text = read_query("records").fill(**parts(table))
        if table == "contacts":
            return TABLES[table].cast(self.contacts_of(self.load_ids()))
        rows = fetch(self.program, text)
        return TABLES[table].cast(rows)

    def keys(self, table: str) -> pl.DataFrame:
        """Read the keys of a table, ordered."""
        if table == "contacts":
            return self.contacts_of(self.load_ids()).select(TABLES[table].primary_key())
        return fetch(self.program, read_query("keys").fill(**parts(table)))

    def loads(self) -> pl.DataFrame:
        """List the files taken in, with what became of their rows by sheet and table."""
        return self.query("loads")

    def listed_loads(self) -> pl.DataFrame:
        """List every load, those taken back among them, with the sums of their rows."""
        return self.query("listed_loads")

    def refusals(self) -> pl.DataFrame:
        """List the cells because of which rows were not taken in, resolved or open."""
        return self.query("refusals")

    def history(self) -> pl.DataFrame:
        """List the records that later loads replaced; contacts keep their own history."""
        return self.query("history")

    def earlier_refusals(self, sha256: str) -> pl.DataFrame | None:
        """List open refused rows of earlier loads of this content; None if it is new."""
        if self.query("loads_of_content", sha256=sha256).is_empty():
            return None
        return self.query("open_refusals_of_content", sha256=sha256)

    def load_ids(self) -> list[str]:
        """List the loads that were taken in to the end and stand."""
        return self.query("load_ids")["load_id"].to_list()

    def identity(self) -> str:
        """Tell the mark by which the two files of a store know each other."""
        return str(self.query("read_identity").item())

    def writable_contacts(self) -> duckdb.DuckDBPyConnection:
        """Open the file of personal details, making it where there is none."""
        if self.contacts is None:
            self.contacts = open_contacts(self.folder, self.identity(), read_only=False)
        if self.contacts is None:
            message = f"{self.folder / CONTACTS_FILE}: cannot be written."
            raise StoreError(message, path=str(self.folder / CONTACTS_FILE))
        return self.contacts

    def close(self) -> None:
        """Close both files."""
        if self.contacts is not None:
            self.contacts.close()
        self.program.close()

    def contacts_of(self, load_ids: list[str]) -> pl.DataFrame:
        """Read the contacts as they are when only these loads stand."""
        if self.contacts is None:
            columns = TABLES["contacts"].column_names()
            return pl.DataFrame(schema=dict.fromkeys(columns, pl.String))
        return committed_contacts(self.contacts, load_ids)


@contextmanager
def open_store(folder: Path, *, read_only: bool = False) -> Iterator[Store]:
    """Open the store of a program folder; a writable one is made or brought up to date.

    Parameters
    ----------
    folder
        Program folder.
    read_only
        Only read; other readers may then be at work beside this one.

    Yields
    ------
    Store
        Closed when the block ends.

    Raises
    ------
    StoreError
        A file cannot be opened, another process holds it, or a newer planner wrote it.
    """
    path = folder / STORE_FILE
    program = connect(path, read_only=read_only)
    store = Store(folder, program, None)
    try:
        _bring_up_to_date(store, path, read_only=read_only)
        if (folder / CONTACTS_FILE).exists():
            store.contacts = open_contacts(folder, store.identity(), read_only=read_only)
        if store.contacts is not None and not read_only:
            undo_unfinished(store.contacts, store.load_ids())
        _name_stage_views(program)
        yield store
    finally:
        store.close()


def _bring_up_to_date(store: Store, path: Path, *, read_only: bool) -> None:
    if not read_only:
        migrate(store.program, MIGRATIONS, path, utc_now())
        if store.query("read_identity").is_empty():
            mark = {"store_id": uuid.uuid4().hex}
            change(store.program, read_query("write_identity").text, mark)
        return
    if check_version(store.program, MIGRATIONS, path):
        message = (
            f"{path}: written by an older planner. "
            "Run `planner load` once, with any file, to bring it up to date."
        )
        raise StoreError(message, path=str(path))


def _name_stage_views(program: duckdb.DuckDBPyConnection) -> None:
    for query in folder_queries("stage"):
        view = read_query("create_stage_view").fill(name=query.name, query=query.text)
        change(program, view)
