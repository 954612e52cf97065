"""Refused rows go to a copy that is fixed and loaded: the fixed rows only, and once."""

from __future__ import annotations

import os
import re
import shutil
import zipfile

import openpyxl
import pytest

from planner.intake.headings import REFUSAL_HEADING
from planner.loading import load_files
from planner.messages import say
from planner.paths import PROGRAM_FILE, REFUSED_FOLDER, TEMPLATES
from planner.store import drafts
from planner.store.keys import make_key
from planner.store.opening import open_store
from planner.tables import PRIOR_SHARES

AREAS = (
    "area_id,area_name,houses_count,townhouses_count,apartments_count,residents_count,"
    "kerbside_service,is_priority\n"
)
AREA = "A1,North,10,0,0,30,residual_only,no\n"
COSTS = "cost_id,cost_date,category,amount,booked by\n"
FATES = ("new", "corrected", "unchanged", "repeated", "skipped", "refused")


@pytest.fixture
def folder(tmp_path):
    shutil.copyfile(TEMPLATES / PROGRAM_FILE, tmp_path / PROGRAM_FILE)
    return tmp_path


def load(folder, *paths):
    loaded = load_files(folder, paths).files
    return [
        {fate: n for fate in FATES if (n := one.counts[f"{fate}_count"].sum())} for one in loaded
    ]


def csv(folder, name, text):
    path = folder / name
    path.write_text(text, encoding="utf-8")
    return path


def records(folder, table):
    with open_store(folder, read_only=True) as store:
        return store.records(table)


def open_refusals(folder):
    with open_store(folder, read_only=True) as store:
        refusals = store.query("refusals")
    return refusals.filter(refusals["resolved_by_load_id"].is_null()).height


def copy_of(folder, load_id="L0001"):
    (path,) = (folder / REFUSED_FOLDER).glob(f"{load_id}_*.xlsx")
    return path


def test_the_copy_holds_the_refused_rows_alone_under_the_officers_headings(folder):
    text = COSTS + "1,1/3/2025,bins,5,Jo\n2,31/2/2025,bins,7.5,Jo\n3,2/3/2025,binns,8,Al\n"
    load(folder, csv(folder, "ledger costs.csv", text))
    if os.name == "posix":  # they may hold personal details
        written = [folder / REFUSED_FOLDER, *(folder / REFUSED_FOLDER).iterdir()]
        assert len(written) == 3
        assert [path.stat().st_mode & 0o077 for path in written] == [0, 0, 0]
    sheet = openpyxl.load_workbook(copy_of(folder))["ledger costs"]
    headings, *rows = sheet.iter_rows(min_row=2, values_only=True)
    assert headings == (
        "cost_id",
        "cost_date",
        "category",
        "amount",
        "booked by",
        say(REFUSAL_HEADING),
    )
    assert [row[0] for row in rows] == ["2", "3"]
    assert rows[0][1:5] == ("31/2/2025", "bins", 7.5, "Jo")
    assert rows[1][1].date().isoformat() == "2025-03-02"
    assert [row[5] for row in rows] == ["L0001, row 3", "L0001, row 4"]


def test_the_offending_cells_are_marked_with_what_was_found_and_what_to_write(folder):
    load(folder, csv(folder, "costs.csv", COSTS + "2,1/3/2025,binns,7.5,Jo\n"))
    sheet = openpyxl.load_workbook(copy_of(folder))["costs"]
    marked = {cell.coordinate: cell.comment.text for row in sheet for cell in row if cell.comment}
    assert list(marked) == ["C3"]
    assert 'Found "binns"' in marked["C3"]
    assert "Did you mean bins?" in marked["C3"]
    plain, offending = sheet["B3"].fill.fill_type, sheet["C3"].fill.fill_type
    assert (plain, offending) == (None, "solid")


def test_mending_the_copy_takes_in_the_mended_rows_only_and_nothing_twice(folder):
    text = (
        COSTS + "1,1/3/2025,bins,5,Jo\n2,1/3/2025,binns,7,Jo\n,1/3/2025,worms,9,Jo\n4,x,bins,1,\n"
    )
    original = csv(folder, "costs.csv", text)
    assert load(folder, original) == [{"new": 1, "refused": 3}]
    book = openpyxl.load_workbook(copy_of(folder))
    book["costs"]["C3"], book["costs"]["A4"] = "bins", "3"
    book.save(copy_of(folder))
    assert load(folder, copy_of(folder)) == [{"new": 2, "refused": 1}]
    assert records(folder, "costs")["cost_id"].to_list() == ["1", "2", "3"]
    assert open_refusals(folder) == 1
    assert load(folder, copy_of(folder)) == [{"unchanged": 2, "refused": 1}]
    assert load(folder, original)[0].get("new") is None
    second = openpyxl.load_workbook(copy_of(folder, "L0002"))["costs"]
    assert [row[0] for row in second.iter_rows(min_row=3, values_only=True)] == ["4"]
    assert records(folder, "costs").height == 3


def test_a_share_mended_in_the_copy_leaves_nothing_to_the_columns_that_the_file_lacks(folder):
    load(folder, csv(folder, "areas.csv", AREAS + AREA))
    households = "household_id,area_id,dwelling,people_count,registered_date,may_contact\n"
    two = "H1,A1,flat,2,1/3/2025,yes\nH2,A1,flat,2,1/3/2025,yes\n"
    load(folder, csv(folder, "h.csv", households + two))
    rounds = "wave_id,wave_kind,opens_date,closes_date\nB,baseline,1/3/2025,31/3/2025\n"
    load(folder, csv(folder, "waves.csv", rounds))
    shares = "prior_residual_bin_share,prior_garden_compost_share"
    answers = "B,H1,2/3/2025,0.7,0.3\nB,H2,2/3/2025,1,some\n"
    text = f"wave_id,household_id,answer_date,{shares}\n{answers}"
    assert load(folder, csv(folder, "answers.csv", text)) == [{"new": 1, "refused": 1}]
    path = copy_of(folder, "L0004")
    book = openpyxl.load_workbook(path)
    book["answers"]["E3"] = 0
    book.save(path)
    assert load(folder, path) == [{"new": 1}]
    taken = records(folder, "answers").select(PRIOR_SHARES).rows()
    assert taken == [(0.7, 0.3, 0.0, 0.0, 0.0), (1.0, 0.0, 0.0, 0.0, 0.0)]


def german(folder):
    path = folder / PROGRAM_FILE
    path.write_text(path.read_text(encoding="utf-8").replace('"en_GB"', '"de_DE"', 1), "utf-8")


UNMENDED = {
    "unread": "2;1.3.2025;binns;7;Jo\n",
    "contradiction": "1;1.3.2025;bins;5;Jo\n1;1.3.2025;bins;6;Jo\n",
    "moved": "2;1.3.2025;bins;1;5;Jo\n",
    "two readings": "2;1.3.2025;bins;2.5;Jo\n",
    "thousands": "2;1.3.2025;binns;1.234;Jo\n",
    "limits": "2;1.3.1925;bins;1;Jo\n",
    "no key": ";1.3.2025;bins;1;Jo\n",
    "formula": "=1+1;1.3.2025;#N/A;1;Jo\n",
}


@pytest.mark.parametrize("rows", UNMENDED.values(), ids=UNMENDED)
def test_a_copy_loaded_as_it_is_takes_nothing_in(folder, rows):
    german(folder)
    load(folder, csv(folder, "costs.csv", COSTS.replace(",", ";") + rows))
    before = records(folder, "costs")
    (fates,) = load(folder, copy_of(folder))
    assert fates == {"refused": 1}
    assert records(folder, "costs").equals(before)
    assert open_refusals(folder) >= 1


def test_a_number_of_a_text_file_means_the_same_in_the_copy(folder):
    german(folder)
    text = COSTS.replace(",", ";") + "2;1.3.2025;binns;1.234;Jo\n3;1.3.2025;binns;1.234,5;Jo\n"
    load(folder, csv(folder, "costs.csv", text))
    book = openpyxl.load_workbook(copy_of(folder))
    book["costs"]["C3"] = book["costs"]["C4"] = "bins"
    book.save(copy_of(folder))
    load(folder, copy_of(folder))
    assert records(folder, "costs")["amount"].to_list() == [1234.0, 1234.5]


def test_a_heading_with_a_unit_keeps_its_numbers_in_the_copy(folder):
    load(folder, csv(folder, "areas.csv", AREAS + AREA))
    households = "household_id,area_id,dwelling,people_count,registered_date,may_contact\n"
    load(folder, csv(folder, "h.csv", households + "H1,A1,flat,2,1/3/2025,yes\n"))
    weighings = "household_id,week_start_date,fed (g)\nH1,31/2/2025,1500\n"
    load(folder, csv(folder, "weighings.csv", weighings))
    path = copy_of(folder, "L0003")
    book = openpyxl.load_workbook(path)
    assert book["weighings"]["C3"].value == 1500
    book["weighings"]["B3"] = "3/3/2025"
    book.save(path)
    load(folder, path)
    assert records(folder, "weighings")["fed_kg"].to_list() == [1.5]


@pytest.mark.parametrize("start", ["=", "+", "-", "@", "\t="])
def test_nothing_in_a_copy_is_run_by_a_spreadsheet(folder, start):
    text = (
        COSTS.replace("booked by", f"{start}1+1") + f'{start}cmd|"/c calc"!A1,x,bins,7,{start}2\n'
    )
    load(folder, csv(folder, "costs.csv", text.replace("\t", "")))
    path = copy_of(folder)
    with zipfile.ZipFile(path) as archive:
        sheets = [archive.read(name) for name in archive.namelist() if "worksheets/sheet" in name]
    assert not any(re.search(rb"<f[ >]", sheet) for sheet in sheets)
    risky = [
        cell
        for row in openpyxl.load_workbook(path)["costs"]
        for cell in row
        if isinstance(cell.value, str) and cell.value[0] in "=+-@"
    ]
    assert len(risky) == 3
    assert all(cell.data_type == "s" and cell.quotePrefix for cell in risky)


def test_a_copy_that_is_being_mended_is_not_written_over(folder):
    path = csv(folder, "areas.csv", AREAS + "A3,,,\n")
    load(folder, path)
    copy_of(folder).write_bytes(b"half fixed")
    load(folder, path)
    assert copy_of(folder).read_bytes() == b"half fixed"


def test_a_copy_lost_to_a_crash_comes_back_when_the_file_is_loaded_again(folder):
    path = csv(folder, "areas.csv", AREAS + "A3,,,\n")
    load(folder, path)
    copy_of(folder).unlink()
    load(folder, path)
    assert copy_of(folder).exists()


@pytest.mark.parametrize("when", ["before", "after"])
def test_a_load_that_is_cut_off_has_happened_with_its_copy_or_not_at_all(folder, monkeypatch, when):
    """Stop before or after the records take their place, with which the load has happened."""
    load(folder, csv(folder, "areas.csv", AREAS + AREA))
    path = csv(folder, "costs.csv", COSTS + "1,1/3/2025,bins,5,Jo\n2,1/3/2025,binns,7,Jo\n")
    put_in_place = drafts.put_in_place

    def stop(draft, target):
        if when == "after":
            put_in_place(draft, target)
        raise KeyboardInterrupt

    with monkeypatch.context() as patch:
        patch.setattr(drafts, "put_in_place", stop)
        with pytest.raises(KeyboardInterrupt):
            load(folder, path)
    has_happened = when == "after"
    assert (open_refusals(folder), copy_of(folder, "L0002").exists()) == (has_happened, True)
    (fates,) = load(folder, path)
    assert fates.get("new", 0) == (not has_happened)
    assert fates["refused"] == 1
    assert open_refusals(folder) == 1
    sheet = openpyxl.load_workbook(folder / REFUSED_FOLDER / "L0002_costs.xlsx")["costs"]
    assert [row[0] for row in sheet.iter_rows(min_row=3, values_only=True)] == ["2"]


def test_personal_details_stand_in_the_copy_and_not_in_the_store(folder):
    make_key(folder)
    load(folder, csv(folder, "areas.csv", AREAS + AREA))
    contacts = "household_id,full_name,street_address,postcode\nH9,Ada Quillfeather,1 Row,0123\n"
    load(folder, csv(folder, "contacts.csv", contacts))
    rows = openpyxl.load_workbook(copy_of(folder, "L0002"))["contacts"].iter_rows(
        min_row=3, values_only=True
    )
    assert next(rows)[1] == "Ada Quillfeather"
    with open_store(folder, read_only=True) as store:
        assert "Quillfeather" not in str(store.query("refusals").rows())


def test_a_folder_that_cannot_be_written_is_a_note_and_the_rows_stay_in(folder):
    (folder / REFUSED_FOLDER).write_text("in the way", encoding="utf-8")
    loaded = load_files(folder, [csv(folder, "areas.csv", AREAS + AREA + "A3,,,\n")]).files[0]
    assert loaded.copy_file is None
    assert "could not be written to" in loaded.notes[-1]
    assert records(folder, "areas").height == 1
