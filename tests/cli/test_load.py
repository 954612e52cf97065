"""planner load: what is taken in, what is tried again, and what the officer is told."""

from __future__ import annotations

import hashlib
import shlex

import polars as pl
import pytest
from typer.testing import CliRunner

from planner import loading
from planner.cli import app
from planner.errors import IntakeError
from planner.loading import load_files
from planner.paths import CONTACTS_FILE, INTAKE_FILE, PROGRAM_FILE, REFUSED_FOLDER
from planner.starting import start_program
from planner.store.opening import open_store
from planner.store.writing import Writer

runner = CliRunner()
AREAS = (
    "area_id,area_name,houses_count,townhouses_count,apartments_count,residents_count,"
    "kerbside_service,is_priority\n"
)
AREA = "A1,North,10,0,0,30,residual_only,no\n"
HOUSEHOLDS = "household_id,area_id,dwelling,people_count,registered_date,channel,may_contact\n"
FATES = ("new", "corrected", "unchanged", "repeated", "skipped", "refused")


@pytest.fixture
def folder(begun):
    return begun


def file(folder, name, text):
    path = folder / name
    path.write_text(text, encoding="utf-8")
    return path


def fates(loaded):
    totals = loaded.counts.select(pl.col("^.*_count$").sum(), pl.col("rows_read").sum())
    counted = {fate: totals[f"{fate}_count"].item() for fate in FATES}
    assert sum(counted.values()) == totals["rows_read"].item()
    return {fate: count for fate, count in counted.items() if count}


def load(folder, *paths, **options):
    return [fates(loaded) for loaded in load_files(folder, paths, **options).files]


def test_a_file_is_taken_in_with_its_mark_and_counts(folder):
    path = file(folder, "areas.csv", AREAS + AREA + AREA + AREA.replace("A1", "A2") + "A3,,,\n")
    assert load(folder, path) == [{"new": 2, "repeated": 1, "refused": 1}]
    with open_store(folder, read_only=True) as store:
        noted = store.query("loads").row(0, named=True)
    assert noted["sha256"] == hashlib.sha256(path.read_bytes()).hexdigest()
    assert (noted["load_id"], noted["file"], noted["rows_read"]) == ("L0001", "areas.csv", 4)
    assert (noted["new_count"], noted["refused_count"]) == (2, 1)


def test_the_same_file_twice_changes_nothing(folder):
    path = file(folder, "areas.csv", AREAS + AREA + "A3,,,\n")
    load(folder, path)
    with open_store(folder, read_only=True) as store:
        before = store.query("loads"), store.query("refusals"), store.records("areas")
    assert load(folder, path) == [{"unchanged": 1, "refused": 1}]
    with open_store(folder, read_only=True) as store:
        after = store.query("loads"), store.query("refusals"), store.records("areas")
    assert all(was.equals(now) for was, now in zip(before, after, strict=True))


def test_an_old_file_does_not_undo_a_later_correction(folder):
    old = file(folder, "areas.csv", AREAS + AREA)
    load(folder, old)
    corrected = file(folder, "areas2.csv", AREAS + AREA.replace(",30,", ",31,"))
    assert load(folder, corrected) == [{"corrected": 1}]
    assert load(folder, old) == [{"unchanged": 1}]
    with open_store(folder, read_only=True) as store:
        assert store.records("areas")["residents_count"].to_list() == [31]
        assert store.load_ids() == ["L0001", "L0002"]


def test_refused_rows_of_a_known_file_are_tried_again(folder):
    households = file(folder, "households.csv", HOUSEHOLDS + "H1,A1,house,3,4/3/2025,,yes\n")
    assert load(folder, households) == [{"refused": 1}]
    load(folder, file(folder, "areas.csv", AREAS + AREA))
    assert load(folder, households) == [{"new": 1}]
    with open_store(folder, read_only=True) as store:
        assert store.query("refusals")["resolved_by_load_id"].to_list() == ["L0003"]
        assert store.records("households").height == 1


def test_a_refused_row_does_not_undo_what_another_file_brought(folder):
    old = file(folder, "old.csv", HOUSEHOLDS + "H1,A1,house,3,4/3/2025,,yes\n")
    load(folder, old)
    load(folder, file(folder, "areas.csv", AREAS + AREA))
    load(folder, file(folder, "households.csv", HOUSEHOLDS + "H1,A1,house,4,4/3/2025,,yes\n"))
    assert load(folder, old) == [{"unchanged": 1}]
    with open_store(folder, read_only=True) as store:
        assert store.records("households")["people_count"].to_list() == [4]
        assert store.query("refusals")["resolved_by_load_id"].to_list() == ["L0003"]


def test_a_correction_that_was_refused_is_taken_in_when_tried_again(folder):
    load(folder, file(folder, "areas.csv", AREAS + AREA))
    load(folder, file(folder, "h.csv", HOUSEHOLDS + "H1,A1,house,3,4/3/2025,,yes\n"))
    moved = file(folder, "moved.csv", HOUSEHOLDS + "H1,A2,house,3,4/3/2025,,yes\n")
    assert load(folder, moved) == [{"refused": 1}]
    load(folder, file(folder, "areas2.csv", AREAS + AREA.replace("A1", "A2")))
    assert load(folder, moved) == [{"corrected": 1}]
    with open_store(folder, read_only=True) as store:
        assert store.records("households")["area_id"].to_list() == ["A2"]


def test_rows_taken_in_stay_when_the_program_file_would_refuse_them_now(folder):
    load(folder, file(folder, "areas.csv", AREAS + AREA))
    path = file(folder, "h.csv", HOUSEHOLDS + "H1,A1,house,3,24/3/2025,,yes\n")
    load(folder, path)
    program_file = folder / PROGRAM_FILE
    changed = program_file.read_text(encoding="utf-8").replace('"en_GB"', '"en_US"', 1)
    program_file.write_text(changed, encoding="utf-8")
    assert load(folder, path) == [{"unchanged": 1}]


def test_a_mended_file_resolves_the_refusals_of_the_first(folder):
    load(folder, file(folder, "areas.csv", AREAS + AREA.replace(",10,", ",ten,")))
    assert load(folder, file(folder, "areas.csv", AREAS + AREA)) == [{"new": 1}]
    with open_store(folder, read_only=True) as store:
        assert store.query("refusals")["resolved_by_load_id"].to_list() == ["L0002"]


def test_one_file_that_cannot_be_read_keeps_all_out(folder):
    good = file(folder, "areas.csv", AREAS + AREA)
    bad = file(folder, "households.csv", "household_id\nH1\n")
    with pytest.raises(IntakeError, match="found no column"):
        load_files(folder, [good, bad])
    with open_store(folder) as store:
        assert store.records("areas").is_empty()


def test_a_dry_run_tells_and_keeps_nothing(folder):
    path = file(folder, "areas.csv", AREAS + AREA + "A3,,,\n")
    assert load(folder, path, dry_run=True) == [{"new": 1, "refused": 1}]
    assert not (folder / REFUSED_FOLDER).exists()
    with open_store(folder, read_only=True) as store:
        assert store.query("loads").is_empty()


def test_contacts_go_to_their_own_file(folder):
    load(folder, file(folder, "areas.csv", AREAS + AREA))
    load(folder, file(folder, "h.csv", HOUSEHOLDS + "H1,A1,house,3,4/3/2025,,yes\n"))
    contacts = "household_id,full_name,street_address,postcode\nH1,Ada Quill,1 Row,0123\n"
    assert load(folder, file(folder, "contacts.csv", contacts)) == [{"new": 1}]
    assert (folder / CONTACTS_FILE).exists()
    with open_store(folder, read_only=True) as store:
        assert store.records("contacts")["full_name"].to_list() == ["Ada Quill"]


def test_the_command_prints_counts_cases_and_the_file_of_all(folder):
    path = file(folder, "areas.csv", AREAS + AREA + "A3,,,\nA4,,,\nA5,,,\nA6,,,\n")
    ended = runner.invoke(app, ["load", str(path), "--program", str(folder)])
    assert ended.exit_code == 3
    lines = ended.stdout.splitlines()
    assert lines[0] == "areas.csv: loaded as L0001"
    assert "4 rows refused: 28 cells to fix." in lines
    cases = [line for line in lines if line.startswith("  areas.csv, 4 rows, 3, 4, 5, 6, ")]
    assert len(cases) == 7
    written = folder / REFUSED_FOLDER / "L0001.csv"
    assert f"Every fault, as a list: {written}" in lines
    assert pl.read_csv(written).height == 28
    copy = folder / REFUSED_FOLDER / "L0001_areas.xlsx"
    assert f"Refused rows, with the cells to fix marked: {copy}" in lines
    next_line = ended.stderr.splitlines()[-1].strip()
    assert shlex.split(next_line) == ["planner", "load", str(copy), "--program", str(folder)]


def test_rows_that_wait_on_others_are_counted_apart_from_what_is_to_mend(folder):
    areas = file(folder, "areas.csv", AREAS + AREA.replace(",10,", ",ten,"))
    rows = "".join(f"H{n},A1,house,3,4/3/2025,,yes\n" for n in range(30))
    households = file(folder, "households.csv", HOUSEHOLDS + rows)
    ended = runner.invoke(app, ["load", str(areas), str(households), "--program", str(folder)])
    assert "1 row refused: 1 cell to fix." in ended.stdout
    assert "30 rows refused: 0 cells to fix; 30 rows wait on others." in ended.stdout
    assert ended.stdout.count("households.csv") == 1


def test_a_fault_of_many_rows_is_told_once(folder):
    rows = "".join(f"H{n},A9,house,3,4/3/2025,,yes\n" for n in range(30))
    path = file(folder, "households.csv", HOUSEHOLDS + rows)
    ended = runner.invoke(app, ["load", str(path), "--program", str(folder)])
    assert "30 rows refused: 30 cells to fix." in ended.stdout
    assert " ".join(ended.stdout.split()).count("not among areas") == 1
    assert 'households.csv, 30 rows, 2, 3, 4, 5, 6 ..., area_id: found "A9"' in ended.stdout


def test_the_command_refuses_a_day_that_has_not_come(folder):
    path = file(folder, "costs.csv", "cost_id,cost_date,category,amount\n1,1/3/2095,bins,2\n")
    ended = runner.invoke(app, ["load", str(path), "--program", str(folder)])
    assert "a day still ahead" in ended.stdout


def test_a_text_file_has_no_sheet_column_and_empty_sheets_are_left_out(folder):
    path = file(folder, "areas.csv", AREAS + AREA)
    ended = runner.invoke(
        app, ["load", str(path), str(folder / INTAKE_FILE), "--program", str(folder)]
    )
    lines = [line.split() for line in ended.stdout.splitlines()]
    assert ["table", "rows", "read", "new", "refused"] in [line[:5] for line in lines]
    assert ["areas", "1", "1"] in [line[:3] for line in lines]
    assert lines[-1] == ["no", "rows"]


def test_the_next_command_can_be_pasted(tmp_path):
    folder = tmp_path / "worms of 2026"
    start_program(folder)
    path = file(folder, "my areas.csv", AREAS + AREA)
    ended = runner.invoke(app, ["load", str(path), "--program", str(folder), "--dry-run"])
    again = ended.stderr.splitlines()[-1].strip()
    assert shlex.split(again) == ["planner", "load", str(path), "--program", str(folder)]


def test_a_folder_in_place_of_a_file_is_called_one(folder):
    ended = runner.invoke(app, ["load", str(folder), "--program", str(folder)])
    assert ended.exit_code == 2
    assert "found a folder" in ended.stderr


def test_the_folder_one_stands_in_is_the_program(folder, monkeypatch):
    monkeypatch.chdir(folder)
    file(folder, "areas.csv", AREAS + AREA)
    assert runner.invoke(app, ["load", "areas.csv"]).exit_code == 0


def test_a_fault_of_the_officers_is_told_without_a_traceback(tmp_path):
    ended = runner.invoke(app, ["load", "gone.csv", "--program", str(tmp_path)])
    assert ended.exit_code == 2
    assert ended.stdout == ""
    assert "planner new DIR" in ended.stderr
    assert "Traceback" not in ended.stderr


def test_a_programmers_fault_keeps_its_traceback(folder, monkeypatch):
    def broken(*_, **__):
        raise ZeroDivisionError

    monkeypatch.setattr(loading, "load_files", broken)
    ended = runner.invoke(app, ["load", "a.csv", "--program", str(folder)])
    assert isinstance(ended.exception, ZeroDivisionError)


def test_a_row_that_got_lost_is_told_in_a_sentence_and_nothing_is_taken_in(folder, monkeypatch):
    path = file(folder, "areas.csv", AREAS + AREA + AREA.replace("A1", "A2"))
    counted = Writer.count_fates
    lost = {"new": 1}
    monkeypatch.setattr(Writer, "count_fates", lambda *given: counted(*given) | lost)
    ended = runner.invoke(app, ["load", str(path), "--program", str(folder)])
    assert ended.exit_code == 1
    said = " ".join(ended.stderr.split())
    assert "2 rows were read and 1 accounted for" in said
    assert "Nothing was loaded. Save the sheet" in said
    with open_store(folder, read_only=True) as store:
        assert store.records("areas").is_empty()
        assert store.query("loads").is_empty()
