"""Calls and cases from the command line: written, filled in, loaded back, within consent."""

import datetime as dt

import polars as pl
import pytest
from openpyxl import load_workbook
from typer.testing import CliRunner

from planner.cli import app
from planner.field.calling import list_calls
from planner.field.calling_request import CallRequest
from planner.loading import load_files
from planner.paths import PROGRAM_FILE, SAMPLE_PROGRAMS
from planner.store.opening import open_store
from tests.queries.given import store_with

ON = dt.date(2026, 6, 30)
GIVEN = {
    "areas": [{"area_id": "A"}],
    "households": [
        {"household_id": "H1"},
        {"household_id": "H2", "may_contact": False},
        {"household_id": "H3"},
        {"household_id": "H4"},
        {"household_id": "H5"},
    ],
    "handovers": [
        {"handover_id": "1", "household_id": "H1", "handover_date": dt.date(2026, 6, 1)},
        {"handover_id": "2", "household_id": "H2", "handover_date": dt.date(2026, 6, 1)},
        {"handover_id": "3", "household_id": "H3", "handover_date": dt.date(2026, 3, 1)},
        {"handover_id": "4", "household_id": "H4", "handover_date": dt.date(2026, 6, 1)},
    ],
    "givebacks": [{"handover_id": "4", "giveback_date": dt.date(2026, 6, 20)}],
    "waves": [
        {"wave_id": "F", "opens_date": dt.date(2026, 6, 1), "closes_date": dt.date(2026, 6, 20)}
    ],
    "answers": [
        {
            "household_id": "H3",
            "answer_date": dt.date(2026, 6, 10),
            "is_in_use": True,
            "problem": "worms_died",
        }
    ],
}


@pytest.fixture
def folder(tmp_path):
    """Make a program of five households: three hold a bin, one may not be contacted."""
    text = (SAMPLE_PROGRAMS / "port_marrow" / PROGRAM_FILE).read_text("utf-8")
    (tmp_path / PROGRAM_FILE).write_text(text, "utf-8")
    with store_with(tmp_path, GIVEN):
        pass
    return tmp_path


def planner(folder, *words):
    return CliRunner().invoke(app, [*words, "--program", str(folder)])


def headings(sheet):
    return [cell.value for cell in sheet[2]]


def test_only_those_who_hold_a_bin_and_agreed_are_called(folder):
    found = list_calls(folder, CallRequest(ON), dry_run=True)
    assert found.called["household_id"].to_list() == ["H3", "H1"]
    barred = found.due.filter(pl.col("barrier").is_not_null())
    assert barred["household_id"].to_list() == ["H2"]
    assert not found.file.exists()


def test_too_few_answers_are_said_plainly(folder):
    told = planner(folder, "followup", "--day", "2026-06-30", "--dry-run")
    assert told.exit_code == 0
    assert "at least 30 are needed" in told.stdout


def test_outcomes_load_back_and_those_reached_are_left_in_peace(folder):
    assert planner(folder, "followup", "--day", "2026-06-30").exit_code == 0
    file = folder / "private" / "calls_2026-06-30.xlsx"
    assert file.stat().st_mode & 0o077 == 0
    book = load_workbook(file)
    sheet = book["calls"]
    names = headings(sheet)
    assert sheet.cell(3, names.index("household_id") + 1).value == "H3"
    sheet.cell(3, names.index("call_outcome") + 1).value = "reached"
    book.save(file)
    load_files(folder, [file])
    with open_store(folder, read_only=True) as store:
        # the row without an outcome is work to do and no record
        assert store.records("calls").rows() == [("H3", ON, "more_worms", "reached")]
    again = list_calls(folder, CallRequest(ON + dt.timedelta(days=1)), dry_run=True)
    assert again.called["household_id"].to_list() == ["H1"]


def test_a_workbook_in_which_calls_may_be_noted_is_not_written_over(folder):
    planner(folder, "followup", "--day", "2026-06-30")
    told = planner(folder, "followup", "--day", "2026-06-30")
    assert told.exit_code == 2
    assert "Load it, then add --force" in told.stderr


def test_a_problem_of_an_answer_becomes_a_case_once(folder):
    assert planner(folder, "cases", "--day", "2026-06-30").exit_code == 0
    file = folder / "private" / "cases_2026-06-30.xlsx"
    sheet = load_workbook(file)["cases"]
    row = dict(zip(headings(sheet), (cell.value for cell in sheet[3]), strict=True))
    assert row["case_id"] == "F-H3"
    assert "Find the cause first" in row["advice"]
    load_files(folder, [file])
    told = planner(folder, "cases", "--day", "2026-06-30", "--dry-run")
    words = " ".join(told.stdout.split())
    # some editions of the locale data write June short
    sentence = "Cases open on 30 June 2026: 1; answers of the last three months tell of 0"
    assert sentence in words.replace("Jun 2026", "June 2026")


def test_erasing_a_household_takes_it_off_the_list_which_stays_its_owners_alone(folder):
    contact = {
        **{"household_id": "H1", "full_name": "Ada Example", "phone": "0123 456789"},
        **{"street_address": "1 Mill Lane", "postcode": "1234"},
    }
    with store_with(folder, {"contacts": [contact]}):
        pass
    planner(folder, "followup", "--day", "2026-06-30")
    file = folder / "private" / "calls_2026-06-30.xlsx"
    named = [cell.value for row in load_workbook(file)["calls"].iter_rows() for cell in row]
    assert "Ada Example" in named
    assert planner(folder, "erase", "H1").exit_code == 0
    left = [cell.value for row in load_workbook(file)["calls"].iter_rows() for cell in row]
    assert not {"Ada Example", "0123 456789", "H1"} & set(left)
    assert file.stat().st_mode & 0o077 == 0
    found = list_calls(folder, CallRequest(ON), dry_run=True)
    assert "H1" not in found.called["household_id"].to_list()
