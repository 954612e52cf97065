"""A command that is killed leaves either all of its load in both files, or nothing of it."""

from __future__ import annotations

import datetime as dt
import os
import signal
import sys

import polars as pl
import pytest

from planner.paths import CONTACTS_FILE, STORE_FILE
from planner.store import drafts
from planner.store.opening import open_store
from planner.store.writing import writing
from tests.killing import CONTEXT
from tests.queries.given import frame

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="no SIGKILL there")

NOON = dt.datetime(2026, 7, 1, 12)
CONTACT = {
    "household_id": ["H1"],
    "full_name": ["Name 1"],
    "street_address": ["Row"],
    "postcode": ["0123"],
}
BEFORE = {"H1": "Name 1"}
AFTER = {"H1": "Name 3", "H2": "Name 2", "H3": "Name 3"}
PUT_IN_PLACE = drafts.put_in_place


def die():
    os.kill(os.getpid(), signal.SIGKILL)


def dying_at(point):
    """Put drafts in their place as the store does, but die before or after one of them."""

    def put_in_place(draft, path):
        if point == f"before {path.name}":
            die()
        PUT_IN_PLACE(draft, path)
        if point == f"after {path.name}":
            die()

    return put_in_place


def load(folder, point):
    """Take in two files in one transaction; run in a process of its own."""
    drafts.put_in_place = dying_at(point)
    with open_store(folder) as store:
        with writing(store, written_at=NOON) as writer:
            for number in (2, 3):
                load_id = writer.begin_load(f"file_{number}.csv", f"mark {number}")
                given = {"household_id": ["H1", f"H{number}"], "full_name": [f"Name {number}"] * 2}
                contacts = {name: cells * 2 for name, cells in CONTACT.items()} | given
                writer.write(load_id, "contacts", pl.DataFrame(contacts))
                weighed = [{"household_id": "H1", "fed_kg": float(number)}]
                writer.write(load_id, "weighings", frame("weighings", weighed))
                if point == "while writing":
                    die()
        if point == "after committing":
            die()


@pytest.fixture
def folder(tmp_path):
    with open_store(tmp_path) as store, writing(store) as writer:
        load_id = writer.begin_load("file_1.csv", "mark 1")
        writer.write(load_id, "contacts", pl.DataFrame(CONTACT))
    return tmp_path


def exit_of_load(folder, point):
    process = CONTEXT.Process(target=load, args=(folder, point))
    process.start()
    process.join()
    return process.exitcode


def names(store):
    return dict(store.records("contacts").select("household_id", "full_name").iter_rows())


@pytest.mark.parametrize(
    ("point", "expected"),
    [
        ("while writing", BEFORE),
        ("after committing", BEFORE),
        (f"before {CONTACTS_FILE}", BEFORE),
        (f"after {CONTACTS_FILE}", BEFORE),
        (f"before {STORE_FILE}", BEFORE),
        (f"after {STORE_FILE}", AFTER),
        ("never", AFTER),
    ],
)
def test_a_killed_load_is_whole_or_not_there(folder, point, expected):
    assert exit_of_load(folder, point) == (0 if point == "never" else -signal.SIGKILL)
    with open_store(folder, read_only=True) as store:
        assert names(store) == expected
    with open_store(folder) as store:
        assert names(store) == expected
        loads = store.load_ids()
        assert loads == (["L0001"] if expected is BEFORE else ["L0001", "L0002", "L0003"])
        assert store.records("weighings").height == len(loads) // 2


def test_a_load_number_of_a_killed_command_can_be_used_again(folder):
    exit_of_load(folder, f"after {CONTACTS_FILE}")
    other = {**CONTACT, "household_id": ["H9"], "full_name": ["Name 9"]}
    with open_store(folder) as store, writing(store) as writer:
        load_id = writer.begin_load("file_9.csv", "mark 9")
        writer.write(load_id, "contacts", pl.DataFrame(other))
    assert load_id == "L0002"
    with open_store(folder, read_only=True) as store:
        assert names(store) == {"H1": "Name 1", "H9": "Name 9"}


class FailureError(Exception):
    """What goes wrong after a load was committed."""


def load_and_fail(folder):
    with open_store(folder) as store:
        with writing(store) as writer:
            load_id = writer.begin_load("file_2.csv", "mark 2")
            writer.write(load_id, "contacts", pl.DataFrame({**CONTACT, "full_name": ["Name 2"]}))
        raise FailureError


def test_a_command_that_fails_after_committing_leaves_the_store_as_it_was(folder):
    with pytest.raises(FailureError):
        load_and_fail(folder)
    with open_store(folder, read_only=True) as store:
        assert names(store) == BEFORE
        assert store.load_ids() == ["L0001"]
    assert not list(folder.glob("*.draft*"))
