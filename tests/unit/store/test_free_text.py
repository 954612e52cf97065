"""Every text column of a store is classified: what nobody thought of would outlive an erasure."""

from __future__ import annotations

import dataframely as dy

from planner.store.blanking import TextKind, notes, text_columns
from planner.store.opening import open_store
from planner.tables import TABLES

WHAT_TO_DO = (
    "{} can hold text and planner/store/text_columns.csv does not say what. Write it there: "
    "note for anything that a person types, as a remark, a place or a name - it is searched "
    "when a household is erased; key for codes that name a record; detail for personal "
    "details, which belong in contacts alone; words for words that the planner itself writes."
)


def test_every_text_column_of_a_record_table_is_classified():
    unnamed = [
        f"{table}.{name}"
        for table, schema in TABLES.items()
        for name, column in schema.columns().items()
        if isinstance(column, dy.String) and name not in text_columns().get(table, {})
    ]
    assert not unnamed, WHAT_TO_DO.format(", ".join(unnamed))


def test_every_text_column_that_the_store_adds_is_classified(tmp_path):
    """Columns of record tables are the contract's, and each row's load."""
    with open_store(tmp_path) as store:
        connections = (store.program, store.writable_contacts())
        listed = [
            (table, name)
            for connection in connections
            for table, name in connection.sql(
                "select table_name, column_name from duckdb_columns() "
                "join duckdb_tables() using (database_name, table_name) "
                "where data_type like '%VARCHAR%'"
            ).fetchall()
        ]
    unnamed = [
        f"{table}.{name}"
        for table, name in listed
        if table not in TABLES and name not in text_columns().get(table, {})
    ]
    assert not unnamed, WHAT_TO_DO.format(", ".join(unnamed))
    assert set(text_columns()) <= {*TABLES, *(table for table, _ in listed)}


def test_nothing_is_classified_that_is_not_there():
    gone = [
        f"{table}.{name}"
        for table, columns in text_columns().items()
        for name in columns
        if table in TABLES and name not in TABLES[table].columns()
    ]
    assert not gone, f"take out of planner/store/text_columns.csv: {', '.join(gone)}"


def test_keys_are_no_free_text_and_details_are_in_contacts_alone():
    for table, schema in TABLES.items():
        columns, keys = text_columns().get(table, {}), set(schema.primary_key())
        assert not {name for name in keys if columns.get(name) is TextKind.NOTE}
        has_details = TextKind.DETAIL in columns.values()
        assert has_details == (table == "contacts")
    assert ("events", "venue") in notes()
    assert ("handovers", "serial") in notes()
