"""One sheet with a row a household is read as every table that it holds."""

from __future__ import annotations

import openpyxl
import pytest

from planner.errors import ProgramError
from planner.intake.guessing import guess_sheet
from planner.intake.questions import Answers, Asker
from planner.intake.reading import context_of, read_files
from planner.intake.refused_copy import Refused, refused_copy
from planner.intake.same_sheet import parted
from planner.intake.sheets import read_sheets
from planner.tables import TABLES
from tests.unit.intake.conftest import nothing_known, write_book

HEADINGS = "No.,Name,Address,Postcode,Ward,Home,People,Signed up,May we contact you?"
BINS = ",Date given,Model,Worms (g),Bedding (kg)"
WHO = "H{n},Ann Other{n},{n} Invented Street,9010,N,house,3,0{n}/03/2026,yes"
NORTH = {
    "Areas": [
        TABLES["areas"].column_names(),
        ["N", "North", 10, 0, 0, 30, "residual_only", "no"],
    ]
}


def guesses(tmp_path, program, name, text):
    path = tmp_path / f"{name}.csv"
    path.write_text(text, encoding="utf-8")
    (sheet,), _ = read_sheets(path)
    context = context_of(program, None)
    parts = parted(guess_sheet(sheet, context, {}), context, {})
    return {part.table: {one.column for one in part.columns if one.column} for part in parts}


def sign_ups(given=True, waiting=True):
    rows = [HEADINGS + (BINS if given else "")]
    rows += [WHO.format(n=n) + (f",1{n}/04/2026,two_tray,450,0.5" * given) for n in (1, 2, 3)]
    rows += [WHO.format(n=4) + (",,,," * given)] * waiting
    return "\n".join(rows) + "\n"


def test_names_beside_households_are_their_details(tmp_path, program):
    found = guesses(tmp_path, program, "register", sign_ups(given=False))
    assert list(found) == ["households", "contacts"]
    assert {"full_name", "street_address", "postcode", "household_id"} <= found["contacts"]
    assert "full_name" not in found["households"]
    assert {"area_id", "dwelling", "people_count", "may_contact"} <= found["households"]


def test_a_register_without_names_or_bins_is_one_table(tmp_path, program):
    text = "Household no,Ward,Home,People,Signed up,Notes\nH1,N,house,3,01/03/2026,ras\n"
    assert list(guesses(tmp_path, program, "register", text)) == ["households"]


@pytest.mark.thorough
def test_households_without_the_bin_that_others_have_are_waiting(tmp_path, program):
    there = ["households", "contacts", "handovers"]
    all_given = guesses(tmp_path, program, "all", sign_ups(waiting=False))
    assert list(all_given) == there
    assert list(guesses(tmp_path, program, "all", sign_ups())) == [*there, "registrations"]


def test_a_waiting_list_may_hold_the_households(tmp_path, program):
    found = guesses(tmp_path, program, "waiting list", sign_ups(given=False))
    assert next(iter(found)) == "registrations"
    assert {"households", "contacts"} < set(found)


def test_who_got_a_bin_without_a_sign_up_registered_by_then(tmp_path, program):
    head = "Ref,Name,Address,Postcode,Ward,Home,People,Date given,Model,Worms (g),Bedding (kg)\n"
    row = "H1,Ann Other,1 Invented Street,9010,N,house,3,11/04/2026,two_tray,450,0.5\n"
    path = tmp_path / "bins given out.csv"
    path.write_text(head + row, encoding="utf-8")
    (sheet,), _ = read_sheets(path)
    context = context_of(program, None)
    parts = parted(guess_sheet(sheet, context, {}), context, {})
    days = {
        (part.table, one.column): one.heading
        for part in parts
        for one in part.columns
        if one.column in ("handover_date", "registered_date")
    }
    assert days == {
        ("handovers", "handover_date"): "Date given",
        ("households", "registered_date"): "Date given",
    }


def settled(tmp_path, program, answers):
    path = tmp_path / "everyone.csv"
    path.write_text(sign_ups(), encoding="utf-8")
    (sheet,), _ = read_sheets(path)
    context = context_of(program, None)
    asker = Asker(answers, lambda question: question.guess, context, {})
    asker.settled(guess_sheet(sheet, context, {}))
    return asker


@pytest.mark.thorough
def test_what_a_sheet_holds_beside_is_remembered_by_its_name(tmp_path, program):
    asker = settled(tmp_path, program, Answers())
    assert asker.same_sheet["households"]["everyone"].startswith("contacts, handovers")


def test_an_answer_that_lists_the_tables_leaves_others_out(tmp_path, program):
    asker = settled(tmp_path, program, Answers(tables={"everyone": "households, contacts"}))
    assert asker.same_sheet == {"households": {"everyone": "contacts"}}


@pytest.fixture
def told(program):
    columns = {
        "households": {
            **{"No.": "household_id", "Ward": "area_id", "Home": "dwelling"},
            **{"People": "people_count", "Signed up": "registered_date"},
            "May we contact you?": "may_contact",
        },
        "contacts": {"No.": "household_id", "Name": "full_name", "Address": "street_address"},
        "handovers": {"No.": "household_id", "Date given": "handover_date", "Model": "model_id"},
        "registrations": {"No.": "household_id", "Signed up": "registered_date"},
    }
    same_sheet = {"households": {"Bins": "contacts, handovers, registrations"}}
    return program.model_copy(update={"columns": columns, "same_sheet": same_sheet})


def load(tmp_path, told, text):
    (tmp_path / "bins.csv").write_text(text, encoding="utf-8")
    write_book(tmp_path / "areas.xlsx", NORTH)
    paths = [tmp_path / "areas.xlsx", tmp_path / "bins.csv"]
    return read_files(paths, told, nothing_known)[1]


def test_each_row_is_a_record_of_each_table_it_tells_of(tmp_path, told):
    intake = load(tmp_path, told, sign_ups())
    assert intake.problems().is_empty()
    found = {rows.table: rows for rows in intake.sheets}
    assert {table: rows.good().height for table, rows in found.items()} == {
        "households": 4,
        "contacts": 4,
        "registrations": 4,
        "handovers": 3,
    }
    assert found["handovers"].skipped_count == 1
    assert found["handovers"].good()["worms_kg"].to_list() == [0.45] * 3
    # no heading is said to be unknown that another of its tables reads
    assert not [note for note in intake.notes if "not read" in note]


def test_a_wrong_cell_is_marked_once_and_the_copy_is_one_sheet(tmp_path, told):
    text = sign_ups().replace("H2,Ann Other2,2 Invented Street,9010,N,house", "H2,,x,9010,N,castle")
    intake = load(tmp_path, told, text)
    problems = intake.problems()
    assert set(problems["table_name"]) == set(TABLES) & {rows.table for rows in intake.sheets}
    refused = [
        Refused(rows, rows.problems) for rows in intake.sheets if not rows.problems.is_empty()
    ]
    (tmp_path / "copy.xlsx").write_bytes(refused_copy(refused, "L0001", "en_GB"))
    book = openpyxl.load_workbook(tmp_path / "copy.xlsx")
    (sheet,) = book.worksheets
    assert sheet.max_row == 3
    marked = {cell.value for row in sheet for cell in row if cell.comment}
    assert marked == {None, "castle"}
    # fixed, the copy is read as the same tables
    for row in sheet:
        for cell in row:
            if cell.comment:
                cell.value = "house" if cell.value == "castle" else "Zoe Other"
    book.save(tmp_path / "fixed.xlsx")
    paths = [tmp_path / "areas.xlsx", tmp_path / "fixed.xlsx"]
    again = read_files(paths, told, nothing_known)[1]
    assert again.problems().is_empty()
    assert {rows.table: rows.good().height for rows in again.sheets} == {
        "households": 1,
        "contacts": 1,
        "registrations": 1,
        "handovers": 1,
    }


def test_a_sheet_of_that_name_in_another_file_is_read_as_what_it_is(tmp_path, told):
    ledger = [["cost_id", "cost_date", "category", "amount"], ["C1", "4/3/2026", "worms", 150]]
    write_book(tmp_path / "ledger.xlsx", {"Bins": ledger})
    (intake,) = read_files([tmp_path / "ledger.xlsx"], told, nothing_known)
    assert [(rows.table, rows.good().height) for rows in intake.sheets] == [("costs", 1)]


def test_tables_that_share_no_sheet_are_named(told):
    wrong = told.model_copy(update={"same_sheet": {"households": {"Bins": "costs"}}})
    with pytest.raises(ProgramError, match="costs"):
        context_of(wrong, None)


def test_tables_that_the_officer_names_are_taken_or_told(tmp_path, program):
    path = tmp_path / "everyone.csv"
    path.write_text(sign_ups(given=False), encoding="utf-8")
    (sheet,), _ = read_sheets(path)
    context = context_of(program, None)
    answers = Answers(tables={"everyone": "households, contacts, registrations, handovers"})
    asker = Asker(answers, lambda question: question.guess, context, {})
    asker.settled(guess_sheet(sheet, context, {}))
    assert asker.same_sheet == {"households": {"everyone": "contacts, registrations"}}
    (note,) = asker.notes
    assert "handovers too" in note
