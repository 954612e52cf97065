"""Queries about loads, refusals and history return what two loads left, by hand."""

from __future__ import annotations

import polars as pl
import pytest

from planner.store.connection import fetch
from planner.store.erasing import ask_erasure
from planner.store.issued import record_issue
from planner.store.opening import open_store
from planner.store.queries import parts, read_query
from planner.store.undoing import undo_load
from planner.store.writing import writing
from tests.queries.given import DAY, WRITTEN_AT, frame, store_with

SHOWN = (
    "load_ids",
    "loads",
    "loads_of_content",
    "refusals",
    "refusals_by_reason",
    "open_refusals_of_content",
    "history",
    "amounts_of_loads",
    "totals_of_loads",
    "listed_issues",
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


AMOUNTS = {
    "sheet": "",
    "table_name": "costs",
    "lines_amount": 100.0,
    "new_amount": 60.0,
    "corrected_amount": 0.0,
    "unchanged_amount": 0.0,
    "repeated_amount": 10.0,
    "refused_amount": 30.0,
    "unread_count": 1,
}
TOTAL = {
    "sheet": "",
    "table_name": "costs",
    "row_number": 9,
    "stated_amount": 105.0,
    "taken_in_amount": 60.0,
    "repeated_amount": 10.0,
    "refused_amount": 30.0,
    "unexplained_amount": 5.0,
    "unread_count": 1,
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
            writer.note(first, read_query("record_refusals"), pl.DataFrame(refused))
            writer.note(first, read_query("record_counts"), pl.DataFrame([COUNTED]))
            writer.note(first, read_query("record_amounts"), pl.DataFrame([AMOUNTS]))
            writer.note(first, read_query("record_totals"), pl.DataFrame([TOTAL]))
        with writing(opened, written_at=WRITTEN_AT) as writer:
            second = writer.begin_load("b.csv", "mark b")
            rows = [{"cost_id": "C1", "amount": 7.0}, {"cost_id": "C8"}]
            fates = writer.amounts_by_fate(frame("costs", [*rows, {"cost_id": "C2"}]))
            assert fates == (frame("costs", [{}])["amount"][0], 7.0)
            writer.write(second, "costs", frame("costs", rows))
            writer.note(second, read_query("record_refusals"), pl.DataFrame([REFUSED]))
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
        ("a.csv", "", "costs", "amount", "not a number", 2, 1),
        ("a.csv", "", "costs", "category", "not a number", 1, 1),
    ]


def test_open_refusals_of_content_are_rows_once_each_and_not_resolved(store):
    assert store.query("open_refusals_of_content", sha256="mark a").rows() == [("costs", "", 4)]
    assert store.query("open_refusals_of_content", sha256="mark c").is_empty()


def test_amounts_and_totals_stand_with_their_load_and_what_is_not_explained(store):
    assert store.query("amounts_of_loads").drop("table_name").rows() == [
        ("L0001", "a.csv", "", 100.0, 60.0, 0.0, 0.0, 10.0, 30.0, 1)
    ]
    assert store.query("totals_of_loads").rows() == [
        ("L0001", "a.csv", "", 9, 105.0, 60.0, 45.0, 10.0, 30.0, 1, 5.0)
    ]


def test_issues_are_listed_as_noted_first(store, tmp_path):
    with open_store(tmp_path) as opened:
        record_issue(opened, 2, "0002_2025", "mark b", WRITTEN_AT)
        record_issue(opened, 1, "0001_2025", "mark a", WRITTEN_AT)
        record_issue(opened, 1, "0001_2025", "another mark", WRITTEN_AT)
    with open_store(tmp_path, read_only=True) as opened:
        assert opened.query("listed_issues").rows() == [
            (1, "0001_2025", "mark a", WRITTEN_AT),
            (2, "0002_2025", "mark b", WRITTEN_AT),
        ]


def test_history_keeps_a_record_as_it_was_before_its_correction(store):
    (kept,) = store.query("history").iter_rows(named=True)
    assert (kept["table_name"], kept["record_key"]) == ("costs", "C1")
    assert (kept["load_id"], kept["replaced_by_load_id"]) == ("L0001", "L0002")
    assert '"amount":100.0' in kept["record"]


def test_a_record_that_was_loaded_again_as_it_was_stays_that_of_its_first_load(store):
    """It is no correction: nothing of it goes to the history, and its load stays."""
    of_load = {"L0001": ["C2"], "L0002": ["C1", "C8"]}
    text = read_query("records_of_load").fill(**parts("costs"))
    for load_id, keys in of_load.items():
        found = fetch(store.program, text, {"load_id": load_id})["cost_id"].to_list()
        assert sorted(found) == keys


def test_a_refusal_is_resolved_once_and_by_a_record_of_its_own_table(tmp_path):
    with open_store(tmp_path) as opened:
        for number, (table, key) in enumerate(
            [("", ""), ("areas", "area_id"), ("costs", "cost_id"), ("costs", "cost_id")]
        ):
            with writing(opened, written_at=WRITTEN_AT) as writer:
                load_id = writer.begin_load(f"{number}.csv", f"mark {number}")
                if not number:
                    writer.note(load_id, read_query("record_refusals"), pl.DataFrame([REFUSED]))
                else:
                    amount = {"amount": float(number)} if table == "costs" else {}
                    writer.write(load_id, table, frame(table, [{key: "C9", **amount}]))
            resolved = opened.query("refusals")["resolved_by_load_id"].to_list()
            # by the first load that took the ledger line in, and by no area of that name
            assert resolved == [None if number < 2 else "L0003"]


@pytest.mark.parametrize("is_undone", [False, True])
def test_households_that_were_merged_are_one_until_that_is_undone(tmp_path, is_undone):
    merges = pl.DataFrame({"household_id": ["H2", "H3"], "household_id_kept": ["H1", "H2"]})
    with open_store(tmp_path) as opened, writing(opened, written_at=WRITTEN_AT) as writer:
        load_id = writer.begin_load("decided.xlsx", "mark")
        writer.note(load_id, read_query("record_merges"), merges)
    if is_undone:
        undo_load(tmp_path, load_id, WRITTEN_AT)
    with open_store(tmp_path, read_only=True) as opened:
        gone = opened.query("merged_households")["household_id"].to_list()
        # from whichever of them, however long the chain
        together = [
            opened.query("same_households", households=[one])["household_id"].to_list()
            for one in ("H1", "H2", "H3", "H4")
        ]
    assert gone == ([] if is_undone else ["H2", "H3"])
    every = ["H1", "H2", "H3"]
    assert together == ([["H1"], ["H2"], ["H3"], ["H4"]] if is_undone else [every] * 3 + [["H4"]])


def test_whose_details_were_erased_waits_for_no_bin_and_is_asked_nothing(tmp_path):
    homes = [{"household_id": "H1"}, {"household_id": "H2"}]
    given = {
        "areas": [{"area_id": "A"}],
        "households": homes,
        "registrations": homes,
        "waves": [{"wave_id": "F", "wave_kind": "baseline"}],
        "samples": [{"wave_id": "F", "household_id": one["household_id"]} for one in homes],
    }
    words = {"seed_words": "draw"}
    with store_with(tmp_path, given) as opened:
        ask_erasure(opened.program, pl.DataFrame({"household_id": ["H1"]}), "asked", WRITTEN_AT)
        waiting = opened.query("waiting_list", **words, on_date=DAY)
        register = opened.query("sampling_register", **words, on_date=DAY, since_date=DAY)
        silent = opened.query("silent_register", **words, wave_id="F")
    assert waiting["household_id"].to_list() == ["H2"]
    for rows in (register, silent):
        assert rows.select("household_id", "may_contact").rows() == [("H1", False), ("H2", True)]
