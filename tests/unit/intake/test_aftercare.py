"""Sheets of calls, problems and shared bins: what is refused, with a word on what to write."""

from __future__ import annotations

import datetime as dt

import polars as pl
import pytest
from openpyxl import Workbook

from planner.intake.reading import read_files
from planner.tables import TABLES

D = dt.date
KNOWN = {"households": "H1", "handovers": "B1", "sites": "S1", "costs": "L1"}
CASE = {"case_id": "1", "household_id": "H1", "opened_date": D(2026, 3, 1), "problem": "smell"}
CALL = {
    "household_id": "H1",
    "call_date": D(2026, 3, 1),
    "call_reason": "first_check",
    "call_outcome": "reached",
}
BINS = {
    "site_id": "S1",
    "model_id": "two_tray",
    "given_date": D(2026, 3, 1),
    "bins_count": 2,
    "worms_kg": 1.0,
    "bedding_kg": 2.0,
}


def known(table):
    """Keys of a store with one household, bin, site and ledger line."""
    keys = TABLES[table].primary_key()
    held = [KNOWN[table]] if table in KNOWN else []
    return pl.DataFrame({key: pl.Series(held, dtype=pl.String) for key in keys})


def read(tmp_path, program, table, *rows):
    """Read a sheet of rows given by column."""
    book = Workbook()
    book.active.title = table
    headings = list(dict.fromkeys(key for row in rows for key in row))
    book.active.append(headings)
    for row in rows:
        book.active.append([row.get(key) for key in headings])
    path = tmp_path / "records.xlsx"
    book.save(path)
    (intake,) = read_files([path], program, known)
    return intake


@pytest.mark.parametrize(
    ("table", "row", "column"),
    [
        ("cases", {**CASE, "closed_date": D(2026, 2, 28)}, "closed_date"),
        ("cases", {**CASE, "problem": "none"}, "problem"),
        ("cases", {**CASE, "worms_kg": 0.3}, "action_date"),
        (
            "cases",
            {**CASE, "case_action": "advised", "replacement_handover_id": "B1"},
            "case_action",
        ),
        ("cases", {**CASE, "household_id": "H9"}, "household_id"),
        ("calls", {**CALL, "call_outcome": "shouted"}, "call_outcome"),
        ("site_bins", {**BINS, "stopped_date": D(2026, 2, 1)}, "stopped_date"),
        ("site_bins", {**BINS, "site_id": "S9"}, "site_id"),
        ("site_bins", {**BINS, "bins_count": 0}, "bins_count"),
    ],
)
def test_a_wrong_row_is_refused_at_the_column_to_fix(tmp_path, program, table, row, column):
    intake = read(tmp_path, program, table, row)
    assert intake.problems()["column_name"].to_list() == [column]
    assert intake.sheets[0].good().is_empty()


@pytest.mark.parametrize(
    ("table", "row"),
    [
        ("calls", CALL),
        ("cases", CASE),
        ("cases", {**CASE, "worms_kg": 0.3, "action_date": D(2026, 3, 2), "cost_id": "L1"}),
        ("cases", {**CASE, "case_action": "bin_replaced", "replacement_handover_id": "B1"}),
        ("site_bins", {**BINS, "stopped_date": D(2026, 3, 1)}),
    ],
)
def test_a_right_row_goes_in(tmp_path, program, table, row):
    intake = read(tmp_path, program, table, row)
    assert intake.problems().is_empty()
    assert intake.sheets[0].good().height == 1


def test_a_call_without_an_outcome_is_work_to_do_and_is_told(tmp_path, program):
    to_do = {**CALL, "household_id": "H2", "call_outcome": None}
    intake = read(tmp_path, program, "calls", CALL, to_do)
    assert intake.problems().is_empty()
    assert intake.sheets[0].good().height == 1
    assert any("1 row without an outcome" in note for note in intake.notes)


def test_everyday_words_stand_for_codes(tmp_path, program):
    intake = read(tmp_path, program, "calls", {**CALL, "call_outcome": "voicemail"})
    assert intake.sheets[0].good()["call_outcome"].to_list() == ["no_answer"]
