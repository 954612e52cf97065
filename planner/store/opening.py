"""Open the store of a program folder and read from it."""

from __future__ import annotations

import uuid
from contextlib import ExitStack, contextmanager, nullcontext
from typing import TYPE_CHECKING, Any

import polars as pl

from planner.messages import say
from planner.paths import CONTACTS_FILE, PROGRAM_FILE, STORE_FILE
from planner.store.connection import (
    Connection,
    connect,
    disk_errors,
    execute,
    fetch,
    is_encrypted,
    load_extension,
)
from planner.store.contacts import (
    committed_contacts,
    draft_contacts,
    encrypt_contacts_file,
    open_contacts,
    undo_unfinished,
)
from planner.store.drafts import Draft, rewrite, take_in_log
from planner.store.erasing import Erased, finish_erasures, pending_erasures
from planner.store.files import fault_of, folder_lock, on_failure
from planner.store.keys import key_of, key_warning, make_key, read_key
from planner.store.migrations import check_version, migrate, utc_now
from planner.store.queries import folder_queries, parts, read_query
from planner.store.settling import clear_left_over, finish_restore, is_restore_pending
from planner.tables import CALLED_BY, TABLES

if TYPE_CHECKING:
    from collections.abc import Collection, Iterator
    from pathlib import Path


MIGRATIONS = "schema"


class Store:
    """The records of one program, open for the length of a ``with`` block."""

    def __init__(
        self,
        folder: Path,
        program: Connection,
        contacts: Connection | None,
        drafts: list[Draft] | None = None,
    ) -> None:
        self.folder = folder
        self.program = program  # the program's file, or the draft of it
        self.contacts = contacts  # the file of personal details, where there is one, or its draft
        self.encrypts_contacts = True
        # they take their place when the store is closed, the last of them first
        self._drafts = drafts or []
        self.erased: Erased | None = None
        self.notices: list[str] = []
        self._kept: set[str] = set()

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

    def limit_memory(self, megabytes: int) -> None:
        """Let queries hold so much memory; what does not fit is kept beside the file.

        It is encrypted there, as the file may be, which takes the extension.
        """
        load_extension(self.program)
        execute(self.program, read_query("limit_memory").fill(megabytes=str(megabytes)))

    @contextmanager
    def counted_once(self, *names: str) -> Iterator[None]:
        """Keep the rows of stage queries while the block runs, so that many queries read them.

        A stage query that another reads comes before it. Nothing may be written meanwhile.
        """
        names = tuple(name for name in names if name not in self._kept)
        for name in names:
            query = read_query(name).unordered
            execute(self.program, read_query("drop_stage_view").fill(name=name))
            execute(self.program, read_query("keep_rows").fill(name=name, query=query))
        self._kept |= set(names)
        try:
            yield
        finally:
            for name in names:
                execute(self.program, read_query("drop_rows").fill(name=name))
            self._kept -= set(names)
            _name_stage_views(self.program, besides=self._kept)

    def records(self, table: str) -> pl.DataFrame:
        """Read every record of a table as a frame of its contract, ordered by key."""
        if table == "contacts":
            return TABLES[table].cast(self.contacts_of(self.load_ids()))
        rows = fetch(self.program, read_query("records").fill(**parts(table)))
        return TABLES[table].cast(rows)

    def keys(self, table: str) -> pl.DataFrame:
        """Read the keys of a table, ordered."""
        if table == "contacts":
            return self.contacts_of(self.load_ids()).select(TABLES[table].primary_key())
        return fetch(self.program, read_query("keys").fill(**parts(table)))

    def record_sources(self, table: str) -> pl.DataFrame:
        """Read key, day and load of every record of a table, ordered by key.

        The day is that of the table's first column of dates; null where it has none.
        """
        return fetch(self.program, read_query("record_sources").fill(**parts(table)))

    def keys_and_names(self, table: str) -> pl.DataFrame:
        """Read the keys of a table, the names of its records, and the days of survey rounds."""
        if table == "waves":
            return self.records(table)
        if table in CALLED_BY:
            return self.records(table).select(*TABLES[table].primary_key(), CALLED_BY[table])
        return self.keys(table)

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

    def writable_contacts(self) -> Connection:
        """Open the file of personal details, making it where there is none."""
        if self.contacts is not None:
            return self.contacts
        if self.encrypts_contacts and read_key(self.folder) is None:
            self.notices.append(key_warning(self.folder))
        draft = draft_contacts(self.folder, self.identity(), encrypt=self.encrypts_contacts)
        self._drafts.append(draft)
        self.contacts = draft.connection
        return self.contacts

    def settle(self) -> None:
        """Carry erasures that were asked for to their end; both files are written again.

        Raises
        ------
        StoreError
            A file cannot be written; the erasure stays pending.
        """
        pending = pending_erasures(self.program)
        if pending.is_empty():
            return
        self.close()
        self.erased = finish_erasures(self.folder, pending, utc_now())
        self.renew()

    def renew(self) -> None:
        """Close both files and begin new drafts of them.

        Raises
        ------
        StoreError
            A file cannot be written; if it is the first, nothing has changed.
        """
        self.close()
        again = _drafted(self.folder, encrypt=False)
        self.program, self.contacts, self._drafts = again.program, again.contacts, again._drafts

    def close(self) -> None:
        """Close both files; what was committed in their drafts takes its place.

        The contacts come first: a load has happened when it stands in the program's file.

        Raises
        ------
        StoreError
            A draft cannot be written to its end; its file stays as it was.
        """
        with on_failure(self.discard):
            while self._drafts:
                self._drafts.pop().publish()
        self._close_connections()

    def discard(self) -> None:
        """Close both files as they were."""
        while self._drafts:
            self._drafts.pop().discard()
        self._close_connections()

    def _close_connections(self) -> None:
        if self.contacts is not None:
            self.contacts.close()
        self.program.close()

    def contacts_of(self, load_ids: list[str]) -> pl.DataFrame:
        """Read the contacts as they are when only these loads stand."""
        if self.contacts is None:
            columns = TABLES["contacts"].column_names()
            return pl.DataFrame(schema=dict.fromkeys(columns, pl.String))
        with disk_errors(self.folder / CONTACTS_FILE):
            standing = committed_contacts(self.contacts, load_ids)
        return standing.filter(~pl.col("household_id").is_in(self.erased_households()))

    def erased_households(self) -> list[str]:
        """List the households whose personal details were erased, or are being erased."""
        return self.query("erased_households")["household_id"].to_list()


@contextmanager
def open_store(
    folder: Path,
    *,
    read_only: bool = False,
    encrypt_records: bool = False,
    encrypt_contacts: bool = True,
    make: bool = True,
) -> Iterator[Store]:
    """Open the store of a program folder, brought up to date; a writable one is made.

    What is committed takes its place when the block ends, and does not when it raises.

    Parameters
    ----------
    encrypt_records
        Bring the program's file under the key as well; one that is encrypted stays so.
    encrypt_contacts
        False leaves new contacts in the open, to study what the file holds.
    make
        False refuses a folder in which there are no records yet.

    Yields
    ------
    Store
        Closed when the block ends. Its notices are for the officer to read.

    Raises
    ------
    StoreError
        A file cannot be opened, another process holds it, the key is missing or another,
        the disk is full, or a newer planner wrote it.
    """
    path = folder / STORE_FILE
    if not make and not path.exists() and not is_restore_pending(folder):
        raise fault_of(path, "store.no_records")
    with ExitStack() as stack:
        notices: list[str] = []
        if not read_only:
            stack.enter_context(folder_lock(folder))
        stack.enter_context(disk_errors(path))
        _settle_restore(folder, read_only=read_only)
        if not read_only:
            notices = _make_ready(folder, records=encrypt_records, contacts=encrypt_contacts)
        store = _opened(folder) if read_only else _drafted(folder, encrypt=encrypt_records)
        store.notices, store.encrypts_contacts = notices, encrypt_contacts
        with on_failure(store.discard):
            if not read_only:
                store.settle()
            yield store
        store.close()


def _make_ready(folder: Path, *, records: bool, contacts: bool) -> list[str]:
    """Clear what a killed command left, and bring open files under the key."""
    store_path = folder / STORE_FILE
    clear_left_over(folder)
    for path in (store_path, folder / CONTACTS_FILE):
        if path.exists():
            take_in_log(path, key_of(folder, path))
    notices = []
    if contacts and encrypt_contacts_file(folder):
        notices.append(key_warning(folder))
    if records and store_path.exists() and not is_encrypted(store_path):
        rewrite(store_path, None, make_key(folder))
        notices.append(say("store.encrypted_now", path=str(store_path), program=PROGRAM_FILE))
    return notices


def _settle_restore(folder: Path, *, read_only: bool) -> None:
    """Carry a restore that was killed to its end.

    Raises
    ------
    StoreError
        It was: what the command has read before is of the program that was replaced.
    """
    if not is_restore_pending(folder):
        return
    with folder_lock(folder) if read_only else nullcontext():
        finish_restore(folder)
    raise fault_of(folder, "store.restore_finished")


def _opened(folder: Path) -> Store:
    """Open both files to be read, as one command left them."""
    path = folder / STORE_FILE
    while True:
        mark = _mark(path)
        store = Store(folder, connect(path, read_only=True, key=key_of(folder, path)), None)
        with on_failure(store.close):
            if check_version(store.program, MIGRATIONS, path):
                store.close()
                with open_store(folder):  # which brings it up to date
                    continue
            store.contacts = open_contacts(folder, store.identity())
            _name_stage_views(store.program)
        if _mark(path) == mark:
            return store
        # a command has put new files in place between the two
        store.close()


def _mark(path: Path) -> tuple[int, int]:
    if not path.exists():
        return 0, 0
    found = path.stat()
    return found.st_ino, found.st_mtime_ns


def _drafted(folder: Path, *, encrypt: bool) -> Store:
    """Begin drafts of both files, brought up to date."""
    draft = _draft_records(folder, encrypt=encrypt)
    store = Store(folder, draft.connection, None, [draft])
    with on_failure(store.discard):
        if (folder / CONTACTS_FILE).exists():
            with disk_errors(folder / CONTACTS_FILE):
                undo_unfinished(store.writable_contacts(), store.load_ids())
        _name_stage_views(store.program)
    return store


def _draft_records(folder: Path, *, encrypt: bool) -> Draft:
    path = folder / STORE_FILE
    is_to_encrypt = encrypt and not path.exists()
    draft = Draft(path, make_key(folder) if is_to_encrypt else key_of(folder, path))
    with on_failure(draft.discard):
        has_changed = _bring_up_to_date(draft.connection, path)
    if not has_changed:
        return draft
    # new records stand in their place before contacts are marked as theirs
    draft.publish()
    return Draft(path, key_of(folder, path))


def _bring_up_to_date(program: Connection, path: Path) -> bool:
    has_changed = bool(check_version(program, MIGRATIONS, path))
    migrate(program, MIGRATIONS, path, utc_now())
    if fetch(program, read_query("read_identity").text).is_empty():
        mark = {"store_id": uuid.uuid4().hex}
        execute(program, read_query("write_identity").text, mark)
        has_changed = True
    return has_changed


def _name_stage_views(program: Connection, besides: Collection[str] = frozenset()) -> None:
    for query in folder_queries("stage"):
        if query.name in besides:
            continue
        view = read_query("create_stage_view").fill(name=query.name, query=query.unordered)
        execute(program, view)
