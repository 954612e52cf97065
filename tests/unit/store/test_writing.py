"""Loads: new, corrected and unchanged records, history, and all or nothing."""

from __future__ import annotations

import datetime as dt
import json

import polars as pl
import pytest

from planner.errors import IntakeError
from planner.paths import CONTACTS_FILE
from planner.store.opening import open_store
from planner.store.queries import read_query
from planner.store.writing import writing
from planner.tables import PRIOR_SHARES

NAME = "Wilhelmina Quillfeather"
CONTACT = {
    "household_id": ["H1"],
    "full_name": [NAME],
    "street_address": ["1 Sundial Row"],
    "postcode": ["0123"],
}
PROBLEM = {
    "record_key": "H1",
    "file": "a.csv",
    "sheet": "",
    "row_number": 2,
    "reason": "not a number",
    "expected": "a number",
}


def areas(**changes):
    row = {
        "area_id": "A1",
        "area_name": "North",
        "houses_count": 10,
        "townhouses_count": 2,
        "apartments_count": 0,
        "residents_count": 30,
        "kerbside_service": "residual_only",
        "is_priority": False,
    }
    return pl.DataFrame([{**row, **changes}])


def take_in(folder, table, rows):
    with open_store(folder) as store, writing(store) as writer:
        fates = writer.count_fates(table, rows)
        load_id = writer.begin_load("a.csv", "mark")
        writer.write(load_id, table, rows)
    return load_id, fates


def test_loads_are_numbered_in_turn(tmp_path):
    assert take_in(tmp_path, "areas", areas())[0] == "L0001"
    assert take_in(tmp_path, "areas", areas())[0] == "L0002"


def test_a_row_is_new_then_unchanged_then_corrected(tmp_path):
    assert take_in(tmp_path, "areas", areas())[1] == {"new": 1, "corrected": 0, "unchanged": 0}
    assert take_in(tmp_path, "areas", areas())[1] == {"new": 0, "corrected": 0, "unchanged": 1}
    corrected = areas(residents_count=31)
    assert take_in(tmp_path, "areas", corrected)[1]["corrected"] == 1
    with open_store(tmp_path, read_only=True) as store:
        assert store.records("areas")["residents_count"].to_list() == [31]
        assert store.records("areas").height == 1


def test_a_replaced_record_is_kept_with_both_loads(tmp_path):
    take_in(tmp_path, "areas", areas())
    take_in(tmp_path, "areas", areas(residents_count=31))
    with open_store(tmp_path, read_only=True) as store:
        kept = store.query("history").row(0, named=True)
    assert (kept["load_id"], kept["replaced_by_load_id"]) == ("L0001", "L0002")
    assert (kept["table_name"], kept["record_key"]) == ("areas", "A1")
    assert json.loads(kept["record"]) == areas().row(0, named=True)


def test_columns_that_a_file_lacks_keep_what_the_store_holds(tmp_path):
    rows = pl.DataFrame({**CONTACT, "phone": ["555 0100"]})
    take_in(tmp_path, "contacts", rows)
    moved = pl.DataFrame(CONTACT).with_columns(pl.lit("2 Sundial Row").alias("street_address"))
    take_in(tmp_path, "contacts", moved)
    with open_store(tmp_path, read_only=True) as store:
        contact = store.records("contacts").row(0, named=True)
    assert (contact["phone"], contact["street_address"]) == ("555 0100", "2 Sundial Row")


def test_only_records_that_change_go_to_the_history(tmp_path):
    both = pl.concat([areas(), areas(area_id="A2")])
    take_in(tmp_path, "areas", both)
    take_in(tmp_path, "areas", pl.concat([areas(), areas(area_id="A2", area_name="South")]))
    with open_store(tmp_path, read_only=True) as store:
        assert store.query("history")["record_key"].to_list() == ["A2"]


def interrupted(store, table, rows):
    with writing(store) as writer:
        writer.write(writer.begin_load("a.csv", "mark"), table, rows)
        raise KeyboardInterrupt


@pytest.mark.parametrize("table", ["areas", "contacts"])
def test_a_command_that_fails_leaves_nothing_behind(tmp_path, table):
    rows = areas() if table == "areas" else pl.DataFrame(CONTACT)
    with open_store(tmp_path) as store:
        with pytest.raises(KeyboardInterrupt):
            interrupted(store, table, rows)
        assert store.records(table).is_empty()
        assert store.query("loads").is_empty()


def test_a_dry_run_leaves_nothing_behind(tmp_path):
    with open_store(tmp_path) as store:
        with writing(store, keep=False) as writer:
            writer.write(writer.begin_load("a.csv", "mark"), "areas", areas())
        assert store.records("areas").is_empty()


def test_personal_details_are_in_their_own_file_alone(tmp_path):
    take_in(tmp_path, "contacts", pl.DataFrame(CONTACT))
    take_in(tmp_path, "contacts", pl.DataFrame({**CONTACT, "full_name": ["W. Quillfeather"]}))
    problem = {**PROBLEM, "table_name": "contacts", "column_name": "full_name", "value": NAME}
    with open_store(tmp_path) as store, writing(store) as writer:
        writer.note(
            writer.begin_load("b.csv", "other"),
            read_query("record_refusals"),
            pl.DataFrame([problem]),
        )
    assert (tmp_path / CONTACTS_FILE).exists()
    for part in tmp_path.iterdir():
        assert b"Quillfeather" not in part.read_bytes()
    with open_store(tmp_path, read_only=True) as store:
        assert store.query("refusals")["value"].to_list() == [""]
        assert store.query("history").is_empty()


def test_a_refusal_is_resolved_when_its_record_is_taken_in(tmp_path):
    problem = {**PROBLEM, "table_name": "areas", "column_name": "residents_count", "value": "x"}
    other = {**problem, "record_key": "A2", "row_number": 3}
    first = {**problem, "record_key": "A1"}
    with open_store(tmp_path) as store, writing(store) as writer:
        writer.note(
            writer.begin_load("a.csv", "mark"),
            read_query("record_refusals"),
            pl.DataFrame([first, other]),
        )
    take_in(tmp_path, "areas", areas())
    with open_store(tmp_path, read_only=True) as store:
        resolved = dict(
            store.query("refusals").select("record_key", "resolved_by_load_id").iter_rows()
        )
    assert resolved == {"A1": "L0002", "A2": None}


def take_in_answers(store, name, rows):
    with writing(store) as writer:
        load = writer.begin_load(name, name)
        writer.write(load, "answers", rows)
        writer.ensure_whole(load, "answers", rows.columns, name)


def test_a_column_left_out_must_go_with_what_the_record_holds(tmp_path):
    key = {"wave_id": ["B1"], "household_id": ["H1"], "answer_date": [dt.date(2025, 3, 4)]}
    halves = dict(zip(PRIOR_SHARES, [[0.5], [0.5], [0.0], [0.0], [0.0]], strict=True))
    emptied = pl.DataFrame({**key, PRIOR_SHARES[0]: pl.Series([None], dtype=pl.Float64)})
    with open_store(tmp_path) as store:
        take_in_answers(store, "a.csv", pl.DataFrame({**key, **halves}))
        with pytest.raises(IntakeError, match=r"b\.csv, answers, B1 \| H1: together with"):
            take_in_answers(store, "b.csv", emptied)
        assert store.records("answers")[PRIOR_SHARES[0]].to_list() == [0.5]
