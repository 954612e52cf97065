"""Pairs set out, decided and merged: all of it, in one load that can be undone."""

from __future__ import annotations

import datetime as dt
import stat
import zipfile

import openpyxl
import polars as pl
import pytest

from planner.duplicates import decide, propose
from planner.duplicates.sheet import HEADINGS, read_decisions
from planner.errors import IntakeError, StoreError
from planner.messages import say
from planner.store.keeping import erase_households
from planner.store.opening import open_store
from planner.store.undoing import undo_load
from planner.store.writing import writing
from planner.tables import TABLES
from tests.queries.given import frame

pytestmark = pytest.mark.thorough

D = dt.date
NOON = dt.datetime(2026, 7, 1, 12)

GIVEN = {
    "areas": [{"area_id": "A", "houses_count": 900}],
    "households": [
        {"household_id": "H1", "registered_date": D(2025, 1, 5)},
        {"household_id": "H2", "registered_date": D(2025, 2, 5), "may_contact": False},
        {"household_id": "H3", "registered_date": D(2025, 3, 5)},
        {"household_id": "H4", "registered_date": D(2025, 3, 6)},
    ],
    "contacts": [
        {"household_id": "H1", "full_name": "=Ann Lee", "street_address": "14 Mill Lane",
         "postcode": "2000", "email": "ann@example.net"},
        {"household_id": "H2", "full_name": "Ann Lee", "street_address": "14 Mill Ln.",
         "postcode": "2000", "phone": "07 5550 1234"},
        {"household_id": "H3", "full_name": "Lee Ann", "street_address": "14, Mill Lane",
         "postcode": "2000"},
        {"household_id": "H4", "full_name": "Zoe Quist", "street_address": "3 Elm Road",
         "postcode": "2001"},
    ],
    "handovers": [
        {"handover_id": "B1", "household_id": "H1"},
        {"handover_id": "B2", "household_id": "H2"},
        {"handover_id": "B4", "household_id": "H4"},
    ],
    "waves": [{"wave_id": "F"}, {"wave_id": "G"}],
    "samples": [{"wave_id": "F", "household_id": "H2"}],
    "answers": [
        {"wave_id": "F", "household_id": "H1", "fed_kg_last_week": 1.0},
        {"wave_id": "F", "household_id": "H2", "fed_kg_last_week": 2.0},
        {"wave_id": "G", "household_id": "H2", "fed_kg_last_week": 3.0},
        {"wave_id": "G", "household_id": "H3", "fed_kg_last_week": 4.0},
    ],
    "weighings": [{"household_id": "H2", "week_start_date": D(2026, 3, 2)}],
}  # fmt: skip


@pytest.fixture
def folder(tmp_path):
    with open_store(tmp_path) as store, writing(store, written_at=NOON) as writer:
        load_id = writer.begin_load("given.xlsx", "mark")
        for table in TABLES:
            if table in GIVEN:
                writer.write(load_id, table, frame(table, GIVEN[table]))
    return tmp_path


def everything(folder):
    """Every record of every table."""
    with open_store(folder) as store:
        return {table: store.records(table).rows() for table in TABLES}


def write_decisions(path, decisions):
    """Write decisions into the spreadsheet by pairs of households."""
    book = openpyxl.load_workbook(path)
    sheet = book.active
    heads = [cell.value for cell in sheet[2]]
    places = [heads.index(name) for name in ("household_id kept", "household_id other")]
    found = 0
    for row in sheet.iter_rows(min_row=3):
        pair = tuple(row[place].value for place in places)
        if pair in decisions:
            row[0].value = decisions[pair]
            found += 1
    assert found == len(decisions)
    book.save(path)


def test_pairs_are_set_out_for_a_decision(folder):
    pairs, path = propose(folder)
    assert {
        tuple(row) for row in pairs.select("household_id_kept", "household_id_other").rows()
    } == {
        ("H1", "H2"),
        ("H1", "H3"),
        ("H2", "H3"),
    }
    book = openpyxl.load_workbook(path)
    sheet = book.active
    assert [cell.value for cell in sheet[2]] == [say(heading) for heading, _ in HEADINGS.values()]
    assert sheet.max_row == 2 + 3
    (choice,) = sheet.data_validations.dataValidation
    assert choice.formula1 == '"same,different"'
    assert "A3" in choice.sqref
    assert stat.S_IMODE(path.stat().st_mode) == 0o600
    assert stat.S_IMODE(path.parent.stat().st_mode) == 0o700


def test_no_name_is_run_and_no_more_details_stand_there_than_needed(folder):
    _, path = propose(folder)
    cells = [cell for row in openpyxl.load_workbook(path).active.iter_rows() for cell in row]
    named = [cell for cell in cells if cell.value == "=Ann Lee"]
    assert named
    assert all(cell.data_type == "s" and cell.quotePrefix for cell in named)
    texts = " ".join(str(cell.value) for cell in cells)
    assert "14 Mill Ln." in texts
    assert "example.net" not in texts
    assert "5550" not in texts


def test_a_file_with_decisions_is_not_written_over(folder):
    _, path = propose(folder)
    with pytest.raises(StoreError, match="is there already"):
        propose(folder)
    write_decisions(path, {("H1", "H2"): "same"})
    propose(folder, force=True)
    assert read_decisions(path).is_empty()


def test_households_decided_same_become_one_and_nothing_is_lost(folder):
    _, path = propose(folder)
    write_decisions(path, {("H1", "H2"): "Same "})
    merged = decide(folder, path)
    assert merged.load_id == "L0002"
    assert (merged.households_count, merged.different_count) == (1, 0)
    assert dict(merged.moved) == {"handovers": 1, "samples": 1, "answers": 1, "weighings": 1}
    assert dict(merged.kept_in_history) == {"answers": 1}
    assert not path.exists()
    with open_store(folder) as store:
        handovers = store.records("handovers")
        assert handovers.select("handover_id", "household_id").rows() == [
            ("B1", "H1"),
            ("B2", "H1"),
            ("B4", "H4"),
        ]
        answers = store.records("answers").select("wave_id", "household_id", "fed_kg_last_week")
        assert answers.rows() == [("F", "H1", 1.0), ("G", "H1", 3.0), ("G", "H3", 4.0)]
        assert store.records("samples").select("wave_id", "household_id").rows() == [("F", "H1")]
        assert store.records("weighings")["household_id"].to_list() == ["H1"]
        # H2 asked not to be contacted, so the household is not
        households = store.records("households").select("household_id", "may_contact")
        assert households.rows() == [("H1", False), ("H3", True), ("H4", True)]
        contact = store.records("contacts").filter(household_id="H1")
        assert contact.select("full_name", "email", "phone").row(0) == (
            "=Ann Lee",
            "ann@example.net",
            "07 5550 1234",
        )
        kept = store.query("history").filter(table_name="answers")
        assert set(kept["record_key"]) == {"F | H2", "G | H2"}


def test_a_merge_is_undone_to_the_last_record(folder):
    before = everything(folder)
    _, path = propose(folder)
    write_decisions(path, {("H1", "H2"): "same", ("H2", "H3"): "same"})
    decide(folder, path)
    assert everything(folder) != before
    undo_load(folder, "L0002", NOON)
    assert everything(folder) == before


def test_a_chain_of_pairs_is_one_household_which_registered_first(folder):
    _, path = propose(folder)
    write_decisions(path, {("H2", "H3"): "same", ("H1", "H3"): "same"})
    merged = decide(folder, path)
    assert merged.households_count == 2
    after = everything(folder)
    assert [row[0] for row in after["households"]] == ["H1", "H4"]
    # of the two answers in round G that of H2 comes first, that of H3 is in the history
    assert dict(merged.kept_in_history) == {"answers": 2}


def test_a_dry_run_changes_nothing(folder):
    before = everything(folder)
    _, path = propose(folder)
    write_decisions(path, {("H1", "H2"): "same"})
    assert decide(folder, path, keep=False).households_count == 1
    assert everything(folder) == before
    assert path.exists()


def test_pairs_decided_different_are_not_proposed_again_until_that_is_undone(folder):
    _, path = propose(folder)
    write_decisions(path, {("H1", "H2"): "different", ("H1", "H3"): "different"})
    merged = decide(folder, path)
    assert (merged.households_count, merged.different_count) == (0, 2)
    pairs, path = propose(folder)
    assert pairs.select("household_id_kept", "household_id_other").rows() == [("H2", "H3")]
    undo_load(folder, merged.load_id, NOON)
    assert propose(folder, force=True)[0].height == 3


def test_decisions_that_contradict_each_other_merge_nothing(folder):
    before = everything(folder)
    _, path = propose(folder)
    write_decisions(path, {("H1", "H2"): "same", ("H2", "H3"): "same", ("H1", "H3"): "different"})
    with pytest.raises(IntakeError, match="H1 and H3 are decided different"):
        decide(folder, path)
    assert everything(folder) == before


def test_a_decision_that_is_no_decision_is_named_by_its_row(folder):
    _, path = propose(folder)
    write_decisions(path, {("H1", "H2"): "perhaps"})
    with pytest.raises(IntakeError, match=r'row \d, decision: found "perhaps"'):
        decide(folder, path)


def test_a_household_that_is_gone_is_named(folder, tmp_path):
    _, path = propose(folder)
    write_decisions(path, {("H1", "H2"): "same", ("H1", "H3"): "different"})
    copy = tmp_path / "copy.xlsx"
    copy.write_bytes(path.read_bytes())
    decide(folder, path)
    assert decide(folder, copy).load_id is None  # the same content, taken in before
    book = openpyxl.load_workbook(copy)
    book.active["A1"] = "changed"
    book.save(copy)
    with pytest.raises(IntakeError, match="H2"):
        decide(folder, copy)


@pytest.mark.parametrize("content", [b"", b"not a workbook", b"PK\x03\x04broken"])
def test_what_is_no_such_spreadsheet_is_told(folder, tmp_path, content):
    path = tmp_path / "other.xlsx"
    path.write_bytes(content)
    with pytest.raises(IntakeError):
        decide(folder, path)
    with pytest.raises(IntakeError, match="no such file"):
        decide(folder, tmp_path / "absent.xlsx")


def test_a_spreadsheet_of_something_else_is_told(folder, tmp_path):
    path = tmp_path / "other.xlsx"
    book = openpyxl.Workbook()
    book.active.append(["household_id", "decision"])
    book.save(path)
    with pytest.raises(IntakeError, match="found no heading row"):
        decide(folder, path)


def texts_in(folder):
    """Every text of every file in the folder, unpacked where it is a workbook."""
    for path in folder.rglob("*"):
        if path.is_file() and zipfile.is_zipfile(path):
            with zipfile.ZipFile(path) as archive:
                yield from (archive.read(name) for name in archive.namelist())
        elif path.is_file():
            yield path.read_bytes()


def test_erasing_a_household_clears_the_spreadsheet_of_pairs(folder):
    _, path = propose(folder)
    assert any(b"14 Mill Ln." in text for text in texts_in(folder))
    erase_households(folder, ["H2"], NOON)
    assert path.exists()
    assert not any(b"14 Mill Ln." in text for text in texts_in(folder))
    with open_store(folder) as store:
        assert set(store.records("contacts")["household_id"]) == {"H1", "H3", "H4"}


@pytest.mark.parametrize("asked", ["H1", "H2", "H3"])
def test_erasing_a_merged_household_erases_what_every_part_of_it_told(folder, asked):
    """H3 went into H2's pair and both into H1: under whichever number it is asked for."""
    _, path = propose(folder)
    write_decisions(path, {("H1", "H2"): "same", ("H2", "H3"): "same"})
    decide(folder, path)
    erase_households(folder, [asked], NOON)
    for detail in (b"14 Mill Lane", b"14 Mill Ln.", b"14, Mill Lane", b"5550 1234", b"ann@exam"):
        assert not any(detail in text for text in texts_in(folder)), detail
    with open_store(folder) as store:
        assert store.records("contacts")["household_id"].to_list() == ["H4"]
        assert "H1" in store.records("households")["household_id"].to_list()


def test_a_register_without_contacts_cannot_be_compared(tmp_path):
    with open_store(tmp_path) as store, writing(store) as writer:
        load_id = writer.begin_load("given.xlsx", "mark")
        writer.write(load_id, "areas", frame("areas", [{"area_id": "A"}]))
    with pytest.raises(StoreError, match="no contacts to compare"):
        propose(tmp_path)


def test_a_register_without_likely_pairs_writes_no_file(folder):
    with open_store(folder) as store, writing(store) as writer:
        load_id = writer.begin_load("more.xlsx", "mark 2")
        for number in ("H2", "H3"):
            writer.withdraw(load_id, "contacts", number)
    pairs, path = propose(folder)
    assert pairs.is_empty()
    assert isinstance(pairs, pl.DataFrame)
    assert not path.exists()
