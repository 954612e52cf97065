"""A command that is killed leaves either all of its load in both files, or nothing of it."""

from __future__ import annotations

import signal
import subprocess
import sys

import polars as pl
import pytest

from planner.store import open_store, writing

LOAD = """
import os, pathlib, signal, sys
import polars as pl
from planner.store import Writer, open_store, writing

folder, point = pathlib.Path(sys.argv[1]), sys.argv[2]

def die():
    os.kill(os.getpid(), signal.SIGKILL)

class Dying:
    '''Stand before a connection and die before or after it commits.'''
    def __init__(self, connection, name):
        self._connection, self._name = connection, name
    def __getattr__(self, attribute):
        return getattr(self._connection, attribute)
    def commit(self):
        if point == f"before {self._name}":
            die()
        self._connection.commit()
        if point == f"after {self._name}":
            die()

with open_store(folder) as store:
    writer = Writer(store, __import__("datetime").datetime(2026, 7, 1))
    for number in (2, 3):
        load_id = writer.begin_load(f"file_{number}.csv", f"mark {number}")
        contacts = pl.DataFrame({
            "household_id": ["H1", f"H{number}"], "full_name": [f"Name {number}"] * 2,
            "street_address": ["Row"] * 2, "postcode": ["0123"] * 2})
        writer.write(load_id, "contacts", contacts)
        weighed = pl.DataFrame({"household_id": ["H1"], "fed_kg": [float(number)]})
        weighed = weighed.with_columns(pl.lit("2026-01-05").str.to_date().alias("week_start_date"))
        writer.write(load_id, "weighings", weighed)
        if point == "while writing":
            die()
    store.contacts = Dying(store.contacts, "contacts")
    store.program = Dying(store.program, "program")
    writer.keep()
    store.contacts, store.program = store.contacts._connection, store.program._connection
    if point == "before closing":
        die()
"""
CONTACT = {
    "household_id": ["H1"],
    "full_name": ["Name 1"],
    "street_address": ["Row"],
    "postcode": ["0123"],
}
BEFORE = {"H1": "Name 1"}
AFTER = {"H1": "Name 3", "H2": "Name 2", "H3": "Name 3"}


@pytest.fixture
def folder(tmp_path):
    with open_store(tmp_path) as store, writing(store) as writer:
        load_id = writer.begin_load("file_1.csv", "mark 1")
        writer.write(load_id, "contacts", pl.DataFrame(CONTACT))
    return tmp_path


def names(store):
    return dict(store.records("contacts").select("household_id", "full_name").iter_rows())


@pytest.mark.parametrize(
    ("point", "expected"),
    [
        ("while writing", BEFORE),
        ("before contacts", BEFORE),
        ("after contacts", BEFORE),
        ("before program", BEFORE),
        ("after program", AFTER),
        ("before closing", AFTER),
        ("never", AFTER),
    ],
)
def test_a_killed_load_is_whole_or_not_there(folder, point, expected):
    ended = subprocess.run([sys.executable, "-c", LOAD, str(folder), point], check=False)
    assert ended.returncode == (0 if point == "never" else -signal.SIGKILL)
    with open_store(folder, read_only=True) as store:
        assert names(store) == expected
    with open_store(folder) as store:
        assert names(store) == expected
        loads = store.load_ids()
        assert loads == (["L0001"] if expected is BEFORE else ["L0001", "L0002", "L0003"])
        assert store.records("weighings").height == len(loads) // 2


def test_a_load_number_of_a_killed_command_can_be_used_again(folder):
    subprocess.run([sys.executable, "-c", LOAD, str(folder), "after contacts"], check=False)
    other = {**CONTACT, "household_id": ["H9"], "full_name": ["Name 9"]}
    with open_store(folder) as store, writing(store) as writer:
        load_id = writer.begin_load("file_9.csv", "mark 9")
        writer.write(load_id, "contacts", pl.DataFrame(other))
    assert load_id == "L0002"
    with open_store(folder, read_only=True) as store:
        assert names(store) == {"H1": "Name 1", "H9": "Name 9"}
