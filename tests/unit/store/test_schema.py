"""The store's tables are those of planner.tables; old files are brought up, new ones refused."""

from __future__ import annotations

import datetime as dt
import subprocess
import sys
from dataclasses import replace
from functools import cache
from pathlib import Path

import dataframely as dy
import duckdb
import polars as pl
import pytest

from planner.errors import StoreError
from planner.paths import CONTACTS_FILE, STORE_FILE
from planner.store import migrations as migrating
from planner.store.connection import connect, execute, fetch, offer_rows
from planner.store.opening import open_store
from planner.store.queries import folder_queries, parts, read_query
from planner.store.writing import writing
from planner.tables import TABLES
from tests.queries.given import frame

TYPES = {
    dy.String: "varchar",
    dy.Enum: "varchar",
    dy.Date: "date",
    dy.Int64: "bigint",
    dy.Float64: "double",
    dy.Bool: "boolean",
}
NOON = dt.datetime(2026, 7, 1, 12)


def columns(connection, table):
    found = fetch(connection, read_query("columns").text, {"table_name": table})
    return found.select("column_name", "data_type", "is_nullable").rows()


@pytest.fixture(scope="module")
def store(tmp_path_factory):
    with open_store(tmp_path_factory.mktemp("new"), encrypt_contacts=False) as opened:
        yield opened


@pytest.mark.parametrize("table", TABLES)
def test_store_and_contract_have_the_same_columns(store, table):
    declared = [
        (name, TYPES[type(column)], column.nullable)
        for name, column in TABLES[table].columns().items()
    ]
    connection = store.writable_contacts() if table == "contacts" else store.program
    # in any order: a column that a migration adds comes last in the file
    assert sorted(columns(connection, table)) == sorted([*declared, ("load_id", "varchar", False)])


def test_personal_details_have_no_table_beside_the_other_records(store):
    assert columns(store.program, "contacts") == []


def test_every_migration_has_a_number_of_its_own():
    for folder in ("schema", "schema_contacts"):
        numbers = [int(query.name[:3]) for query in folder_queries(folder)]
        assert numbers == sorted(set(numbers))


def older_store(path, monkeypatch, count):
    """Make a store as a planner would that knew only the first migrations."""
    first = folder_queries("schema")[:count]
    connection = connect(path, read_only=False)
    with monkeypatch.context() as patch:
        patch.setattr(migrating, "folder_queries", lambda _: first)
        migrating.migrate(connection, "schema", path, NOON)
    return connection


@pytest.mark.parametrize("read_only", [False, True])
def test_an_older_store_is_brought_up_to_date(tmp_path, monkeypatch, read_only):
    older_store(tmp_path / STORE_FILE, monkeypatch, 8).close()
    with open_store(tmp_path, read_only=read_only) as store:
        assert len(migrating.applied(store.program)) == len(folder_queries("schema"))
        assert store.records("costs").is_empty()


GIVEN = {table: dict.fromkeys(TABLES[table].primary_key(), "X") for table in TABLES}
# keys that are days have one filled in
GIVEN["weighings"] = GIVEN["calls"] = {"household_id": "X"}
GIVEN["site_weighings"] = {"site_id": "X"}
GIVEN["site_bins"] = {"site_id": "X", "model_id": "X"}


@cache
def one_row(table):
    return frame(table, [GIVEN[table]]).with_columns(pl.lit("L0001").alias("load_id"))


def fill_older(connection):
    """Write a row into each record table of an older store; return the rows by table."""
    there = fetch(connection, "select table_name, column_name from duckdb_columns()")
    names = dict(there.group_by("table_name").agg("column_name").iter_rows())
    load = {"load_id": "L0001", "file": "a.csv", "sha256": "m", "loaded_at": NOON}
    rows_by_table = {"loads": pl.DataFrame([load])}
    for table in [one for one in TABLES if one in names]:
        rows_by_table[table] = one_row(table).select(names[table])
    for table, rows in rows_by_table.items():
        if table in names:
            offer_rows(connection, rows)
            named = ", ".join(rows.columns)
            execute(connection, f"insert into {table} ({named}) select {named} from incoming")  # noqa: S608
    return rows_by_table


def brought_up(table, rows_by_table):
    """Rows as they must stand in the newest form: new columns empty, new tables too."""
    kept = [rows_by_table[table].drop("load_id", strict=False)] if table in rows_by_table else []
    none = one_row(table).drop("load_id").clear()
    return pl.concat([none, *kept], how="diagonal_relaxed").cast(none.schema)


@pytest.mark.parametrize(
    "count",
    [
        pytest.param(count, marks=[] if count % 6 == 1 else pytest.mark.thorough)
        for count in range(1, len(folder_queries("schema")))
    ],
)
def test_a_store_of_every_earlier_form_keeps_its_rows(monkeypatch, count):
    memory = Path(":memory:")
    connection = older_store(memory, monkeypatch, count)
    written = fill_older(connection)
    assert not migrating.migrate(connection, "schema", memory, NOON)
    assert len(migrating.applied(connection)) == len(folder_queries("schema"))
    for table in set(TABLES) - {"contacts"}:
        kept = fetch(connection, read_query("records").fill(**parts(table)))
        assert TABLES[table].cast(kept).equals(brought_up(table, written)), table


def test_the_form_before_this_one_opens_from_its_file(tmp_path, monkeypatch):
    path = tmp_path / STORE_FILE
    older = older_store(path, monkeypatch, len(folder_queries("schema")) - 1)
    written = fill_older(older)
    older.close()
    with open_store(tmp_path) as store:
        for table in set(TABLES) - {"contacts"}:
            assert store.records(table).equals(brought_up(table, written)), table


@pytest.mark.parametrize("count", range(4, len(folder_queries("schema_contacts")) + 1))
def test_contacts_of_every_earlier_form_keep_their_rows(tmp_path, monkeypatch, count):
    person = {"household_id": "H1", "full_name": "An Example", "street_address": "1 Way"}
    rows = pl.DataFrame([{**person, "postcode": "1", "email": None, "phone": "7"}])
    first = {"schema": folder_queries("schema")}
    first["schema_contacts"] = folder_queries("schema_contacts")[:count]
    with monkeypatch.context() as patch:
        patch.setattr(migrating, "folder_queries", first.get)
        with open_store(tmp_path, encrypt_contacts=False) as store, writing(store) as writer:
            stamped = rows.with_columns(pl.lit(writer.begin_load("a.csv", "m")).alias("load_id"))
            contacts = store.writable_contacts()
            offer_rows(contacts, stamped)
            execute(contacts, "insert into contacts by name select * from incoming")
    with open_store(tmp_path) as store:
        assert store.records("contacts").equals(brought_up("contacts", {"contacts": rows}))
        newest = folder_queries("schema_contacts")
        assert len(migrating.applied(store.writable_contacts())) == len(newest)


def test_a_migration_that_fails_leaves_the_store_as_it_was(tmp_path, monkeypatch):
    connection = older_store(tmp_path / STORE_FILE, monkeypatch, 8)
    all_of_them = folder_queries("schema")
    with monkeypatch.context() as patch:
        again = replace(all_of_them[7], name="099_households")
        # the last one makes a table that is already there
        patch.setattr(migrating, "folder_queries", lambda _: (*all_of_them[:10], again))
        with pytest.raises(duckdb.CatalogException):
            migrating.migrate(connection, "schema", tmp_path / STORE_FILE, NOON)
    assert migrating.applied(connection) == list(range(1, 9))
    assert columns(connection, "events") == []
    connection.close()


def test_a_store_of_a_newer_planner_is_refused(tmp_path, monkeypatch):
    with open_store(tmp_path):
        pass
    fewer = folder_queries("schema")[:-1]
    monkeypatch.setattr(migrating, "folder_queries", lambda _: fewer)
    with pytest.raises(StoreError, match="newer planner"), open_store(tmp_path):
        pass


def test_a_store_held_by_another_command_is_refused_by_its_process(tmp_path):
    hold = (
        "import pathlib, sys, time\nfrom planner.store.opening import open_store\n"
        f"with open_store(pathlib.Path({str(tmp_path)!r})):\n"
        "    print('open', flush=True)\n    sys.stdin.read()\n"
    )
    with subprocess.Popen(
        [sys.executable, "-c", hold], stdin=subprocess.PIPE, stdout=subprocess.PIPE
    ) as other:
        assert other.stdout.readline() == b"open\n"
        with pytest.raises(StoreError, match=str(other.pid)), open_store(tmp_path):
            pass
        other.stdin.close()
    with open_store(tmp_path) as store:
        assert store.load_ids() == []


def test_a_file_that_is_no_store_is_refused(tmp_path):
    (tmp_path / STORE_FILE).write_text("bins and worms " * 400, encoding="utf-8")
    with pytest.raises(StoreError, match="not a store"), open_store(tmp_path):
        pass


def test_a_folder_that_cannot_be_written_is_refused(tmp_path):
    (tmp_path / STORE_FILE).mkdir()
    with pytest.raises(StoreError, match="cannot be opened or written"), open_store(tmp_path):
        pass


def test_reading_where_nothing_was_loaded_says_how_to_load(tmp_path):
    with pytest.raises(StoreError, match="planner load"), open_store(tmp_path, read_only=True):
        pass


def test_contacts_of_another_store_are_refused(tmp_path, monkeypatch):
    monkeypatch.setenv("PLANNER_KEY_FILE", str(tmp_path / "one key for both"))
    for name in ("one", "two"):
        (tmp_path / name).mkdir()
        with open_store(tmp_path / name) as store:
            store.writable_contacts()
    (tmp_path / "one" / CONTACTS_FILE).replace(tmp_path / "two" / CONTACTS_FILE)
    with pytest.raises(StoreError, match="belong to another"), open_store(tmp_path / "two"):
        pass
