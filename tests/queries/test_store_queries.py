"""Queries about loads, refusals and history return what two loads left, by hand."""

from __future__ import annotations

import polars as pl
import pytest

from planner.store import open_store, writing
from tests.queries.given import WRITTEN_AT, frame

SHOWN = (
    "load_ids",
    "loads",
    "loads_of_content",
    "refusals",
    "refusals_by_reason",
    "open_refusals_of_content",
    "history",
)
"""Queries that this file shows at work."""

REFUSED = {
    "table_name": "costs",
    "record_key": "C9",
    "file": "a.csv",
    "sheet": "",
    "row_number": 4,
    "column_name": "amount",
    "value": "ten",
    "reason": "not a number",
    "expected": "a number",
}
COUNTED = {
    "sheet": "",
    "table_name": "costs",
    "rows_read": 4,
    "new_count": 2,
    "corrected_count": 0,
    "unchanged_count": 0,
    "repeated_count": 0,
    "skipped_count": 0,
    "refused_count": 2,
}


@pytest.fixture(scope="module")
def store(tmp_path_factory):
    """Two loads: the second corrects a record, takes in one refused before, refuses one again."""
    folder = tmp_path_factory.mktemp("two loads")
    refused = [
        REFUSED,
        {**REFUSED, "column_name": "category"},
        {**REFUSED, "record_key": "C8", "row_number": 5},
    ]
    with open_store(folder) as opened:
        with writing(opened, written_at=WRITTEN_AT) as writer:
            first = writer.begin_load("a.csv", "mark a")
            writer.write(first, "costs", frame("costs", [{"cost_id": "C1"}, {"cost_id": "C2"}]))
            writer.refuse(first, pl.DataFrame(refused))
            writer.count(first, pl.DataFrame([COUNTED]))
        with writing(opened, written_at=WRITTEN_AT) as writer:
            second = writer.begin_load("b.csv", "mark b")
            rows = [{"cost_id": "C1", "amount": 7.0}, {"cost_id": "C8"}]
            writer.write(second, "costs", frame("costs", rows))
            writer.refuse(second, pl.DataFrame([REFUSED]))
    with open_store(folder, read_only=True) as opened:
        yield opened


def test_load_ids_are_those_of_loads_that_ended(store):
    assert store.query("load_ids").rows() == [("L0001",), ("L0002",)]


def test_loads_keep_their_counts_and_a_load_without_counts_stays(store):
    columns = ("load_id", "file", "sha256", "loaded_at", "table_name", "rows_read", "refused_count")
    assert store.query("loads").select(columns).rows() == [
        ("L0001", "a.csv", "mark a", WRITTEN_AT, "costs", 4, 2),
        ("L0002", "b.csv", "mark b", WRITTEN_AT, None, None, None),
    ]


def test_loads_of_content_are_found_by_their_mark(store):
    assert store.query("loads_of_content", sha256="mark b").rows() == [("L0002",)]
    assert store.query("loads_of_content", sha256="mark c").is_empty()


def test_refusals_keep_every_cell_and_say_which_load_resolved_them(store):
    columns = ("load_id", "row_number", "column_name", "record_key", "resolved_by_load_id")
    assert store.query("refusals").select(columns).rows() == [
        ("L0001", 4, "amount", "C9", None),
        ("L0001", 4, "category", "C9", None),
        ("L0001", 5, "amount", "C8", "L0002"),
        ("L0002", 4, "amount", "C9", None),
    ]


def test_refusals_by_reason_count_open_cells_and_rows_alone(store):
    assert store.query("refusals_by_reason").rows() == [
        ("a.csv", "", "amount", "not a number", 2, 1),
        ("a.csv", "", "category", "not a number", 1, 1),
    ]


def test_open_refusals_of_content_are_rows_once_each_and_not_resolved(store):
    assert store.query("open_refusals_of_content", sha256="mark a").rows() == [("costs", "", 4)]
    assert store.query("open_refusals_of_content", sha256="mark c").is_empty()


def test_history_keeps_a_record_as_it_was_before_its_correction(store):
    (kept,) = store.query("history").iter_rows(named=True)
    assert (kept["table_name"], kept["record_key"]) == ("costs", "C1")
    assert (kept["load_id"], kept["replaced_by_load_id"]) == ("L0001", "L0002")
    assert '"amount":100.0' in kept["record"]
