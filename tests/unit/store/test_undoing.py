"""A load that is taken back leaves the store as it was before; a withdrawal can be too."""

from __future__ import annotations

import datetime as dt
import shutil

import polars as pl
import pytest

from planner.errors import StoreError
from planner.store.opening import open_store
from planner.store.queries import read_query
from planner.store.undoing import undo_load, withdraw_record
from planner.store.writing import writing
from planner.tables import TABLES
from tests.queries.given import frame

NOON = dt.datetime(2026, 7, 1, 12)
AREA = {"area_id": "A"}
CONTACT = {
    "household_id": "H1",
    "full_name": "Wilhelmina Quillfeather",
    "street_address": "1 Sundial Row",
    "postcode": "0123",
}


def take_in(folder, file, **tables):
    """Take rows of several tables in as one load."""
    with open_store(folder) as store, writing(store, written_at=NOON) as writer:
        load_id = writer.begin_load(file, f"mark of {file}")
        for table, rows in tables.items():
            made = pl.DataFrame(rows) if table == "contacts" else frame(table, rows)
            writer.write(load_id, table, made)
    return load_id


def undo(folder, load_id, **options):
    return undo_load(folder, load_id, NOON, **options)


def withdraw(folder, table, key, **options):
    return withdraw_record(folder, table, key.split(" | "), NOON, **options)


def state(folder):
    """Everything that a reader can see, but the list of loads."""
    with open_store(folder, read_only=True) as store:
        records = {table: store.records(table).rows() for table in TABLES}
        return records, store.query("history").rows(), store.query("refusals").rows()


@pytest.fixture
def folder(prepared, tmp_path):
    return shutil.copytree(prepared, tmp_path, dirs_exist_ok=True)


@pytest.fixture(scope="module")
def prepared(tmp_path_factory):
    """Two households, one with a bin and one with a contact."""
    place = tmp_path_factory.mktemp("prepared")
    take_in(
        place,
        "a.csv",
        areas=[AREA],
        households=[{"household_id": "H1"}, {"household_id": "H2"}],
        contacts=[CONTACT],
    )
    take_in(place, "b.csv", handovers=[{"handover_id": "B1", "household_id": "H1"}])
    return place


CHANGES = {
    "rows added": {"handovers": [{"handover_id": "B2", "household_id": "H2"}]},
    "a row corrected": {"households": [{"household_id": "H1", "people_count": 5}]},
    "a contact corrected": {"contacts": [{**CONTACT, "full_name": "W. Quillfeather"}]},
    "a contact added": {"contacts": [{**CONTACT, "household_id": "H2"}]},
    "numbers that need every digit": {"costs": [{"cost_id": "C", "amount": 0.1 + 0.2}]},
    "nothing new": {"areas": [AREA]},
}


@pytest.mark.parametrize("change", CHANGES)
def test_an_undone_load_leaves_what_was_before(folder, change):
    before = state(folder)
    load_id = take_in(folder, "c.csv", **CHANGES[change])
    undo(folder, load_id)
    assert state(folder) == before
    with open_store(folder, read_only=True) as store:
        assert store.load_ids() == ["L0001", "L0002"]


@pytest.mark.thorough
def test_corrections_are_undone_one_after_the_other(folder):
    states = []
    for people in (3, 4, 5):
        states.append(state(folder))
        rows = [{"household_id": "H1", "people_count": people}]
        contacts = [{**CONTACT, "phone": str(people)}]
        take_in(folder, f"{people}.csv", households=rows, contacts=contacts)
    for load_id in ("L0005", "L0004", "L0003"):
        undo(folder, load_id)
        assert state(folder) == states.pop()


WEEKS = [
    {"household_id": "H1", "week_start_date": dt.date(2025, 1, 6) + dt.timedelta(weeks=week)}
    for week in range(12)
]
HOUSEHOLDS_OF = {
    "twelve weeks of one household": ({"weighings": WEEKS}, 1),
    "ledger lines, of nobody": ({"costs": [{"cost_id": str(one)} for one in range(5)]}, 0),
    "a correction": ({"households": [{"household_id": "H1", "people_count": 5}]}, 1),
    "one of two tables": (
        {"households": [{"household_id": name} for name in ("H3", "H4", "H5")],
         "handovers": [{"handover_id": "B3", "household_id": "H3"}]}, 1,
    ),
    "three households": ({"households": [{"household_id": n} for n in ("H3", "H4", "H5")]}, 3),
}  # fmt: skip


@pytest.mark.parametrize("case", HOUSEHOLDS_OF)
def test_a_load_taken_back_keeps_how_many_households_it_held_in_the_table_of_fewest(folder, case):
    rows, expected = HOUSEHOLDS_OF[case]
    undo(folder, take_in(folder, "c.csv", **rows))
    with open_store(folder, read_only=True) as store:
        listed = store.query("listed_loads").filter(pl.col("undone_at").is_not_null())
        assert listed["undone_households_count"].to_list() == [expected]


def test_counts_tell_what_goes_and_what_returns_and_a_dry_run_changes_nothing(folder):
    load_id = take_in(
        folder,
        "c.csv",
        households=[{"household_id": "H1", "people_count": 5}, {"household_id": "H3"}],
        contacts=[{**CONTACT, "household_id": "H3"}],
    )
    before = state(folder)
    told = undo(folder, load_id, keep=False)
    assert told.counts.sort("table_name").rows() == [("contacts", 1, 0), ("households", 1, 1)]
    assert told.file == "c.csv"
    assert state(folder) == before
    assert undo(folder, load_id).counts.equals(told.counts)


def test_an_undone_load_stays_listed_and_its_number_is_not_used_again(folder):
    undo(folder, "L0002")
    with open_store(folder, read_only=True) as store:
        listed = dict(store.query("listed_loads").select("load_id", "undone_at").iter_rows())
        assert listed == {"L0001": None, "L0002": NOON}
        assert store.query("loads")["load_id"].to_list() == ["L0001"]
    assert take_in(folder, "b.csv", areas=[AREA]) == "L0003"


def test_the_same_file_is_new_again_once_its_load_is_undone(folder):
    with open_store(folder, read_only=True) as store:
        assert store.earlier_refusals("mark of b.csv") is not None
    undo(folder, "L0002")
    with open_store(folder, read_only=True) as store:
        assert store.earlier_refusals("mark of b.csv") is None


def test_refusals_that_an_undone_load_resolved_are_open_again(folder):
    problem = {
        "table_name": "costs",
        "record_key": "C9",
        "file": "x.csv",
        "sheet": "",
        "row_number": 2,
        "column_name": "amount",
        "value": "ten",
        "reason": "not a number",
        "expected": "a number",
    }
    with open_store(folder) as store, writing(store, written_at=NOON) as writer:
        writer.note(
            writer.begin_load("x.csv", "x"), read_query("record_refusals"), pl.DataFrame([problem])
        )
    load_id = take_in(folder, "y.csv", costs=[{"cost_id": "C9"}])
    undo(folder, load_id)
    with open_store(folder, read_only=True) as store:
        assert store.query("refusals")["resolved_by_load_id"].to_list() == [None]
    undo(folder, "L0003")
    with open_store(folder, read_only=True) as store:
        assert store.query("refusals").is_empty()


REFUSED = {
    "a later correction": (
        {"households": [{"household_id": "H1", "people_count": 5}]},
        "L0001",
        r"households H1 \(by L0003\).*Take back L0003 first",
    ),
    "a later correction of a contact": (
        {"contacts": [{**CONTACT, "full_name": "W. Quillfeather"}]},
        "L0001",
        r"contacts H1 \(by L0003\)",
    ),
    "records of others": ({"areas": [AREA]}, "L0001", "1 of handovers refer to households"),
}


@pytest.mark.parametrize("case", REFUSED)
def test_a_load_stays_when_later_ones_rest_on_it(folder, case):
    rows, load_id, message = REFUSED[case]
    take_in(folder, "c.csv", **rows)
    before = state(folder)
    with pytest.raises(StoreError, match=message):
        undo(folder, load_id)
    assert state(folder) == before


def test_a_load_stays_when_a_contact_refers_to_its_household(folder):
    take_in(folder, "c.csv", households=[{"household_id": "H3"}])
    take_in(folder, "d.csv", contacts=[{**CONTACT, "household_id": "H3"}])
    with pytest.raises(StoreError, match="1 of contacts refer to households"):
        undo(folder, "L0003")


@pytest.mark.parametrize("load_id", ["L0009", "L0002"])
def test_a_load_that_does_not_stand_cannot_be_undone(folder, load_id):
    undo(folder, "L0002")
    with pytest.raises(StoreError, match=r"no such load|undone already"):
        undo(folder, load_id)


@pytest.mark.parametrize(("table", "key"), [("handovers", "B1"), ("contacts", "H1")])
def test_a_withdrawn_record_is_gone_until_the_withdrawal_is_undone(folder, table, key):
    before = state(folder)
    load_id = withdraw(folder, table, key)
    assert state(folder)[0][table] == []
    undo(folder, load_id)
    assert state(folder) == before


def test_a_withdrawn_record_is_in_the_history_with_its_load_and_time(folder):
    load_id = withdraw(folder, "handovers", "B1")
    with open_store(folder, read_only=True) as store:
        kept = store.query("history").row(0, named=True)
    assert (kept["record_key"], kept["load_id"]) == ("B1", "L0002")
    assert (kept["replaced_by_load_id"], kept["replaced_at"]) == (load_id, NOON)


def test_a_record_of_two_key_columns_is_withdrawn_by_both(folder):
    take_in(folder, "w.csv", waves=[{"wave_id": "F"}], answers=[{"household_id": "H1"}])
    withdraw(folder, "answers", "F | H1")
    assert state(folder)[0]["answers"] == []


@pytest.mark.parametrize(
    ("table", "key", "message"),
    [
        ("handover", "B1", "Did you mean handovers"),
        ("handovers", "B7", "found no record 'B7'. A record is named by its handover_id"),
        ("households", "H1", "1 of handovers refer to households"),
        ("areas", "A", "2 of households refer to areas"),
    ],
)
def test_a_record_that_is_not_there_or_is_needed_is_not_withdrawn(folder, table, key, message):
    before = state(folder)
    with pytest.raises(StoreError, match=message):
        withdraw(folder, table, key)
    assert state(folder) == before


def test_a_withdrawal_stays_when_the_record_was_taken_in_again(folder):
    load_id = withdraw(folder, "handovers", "B1")
    later = take_in(folder, "c.csv", handovers=[{"handover_id": "B1", "household_id": "H2"}])
    with pytest.raises(StoreError, match=f"by {later}"):
        undo(folder, load_id)


def test_a_withdrawal_stays_when_what_the_record_refers_to_is_gone(folder):
    bin_gone = withdraw(folder, "handovers", "B1")
    withdraw(folder, "contacts", "H1")
    withdraw(folder, "households", "H1")
    with pytest.raises(StoreError, match="1 of handovers refer to households"):
        undo(folder, bin_gone)
