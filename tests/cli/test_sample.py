"""planner sample, as an officer types it."""

from __future__ import annotations

import datetime as dt
import shutil
import stat
import sys

import pytest
from openpyxl import load_workbook
from typer.testing import CliRunner

from planner.cli import app
from planner.paths import TEMPLATES
from planner.store.opening import open_store
from planner.store.writing import writing
from tests.queries.given import frame

NEEDS_MENDING = 2
WORDS = ("--kind", "followup", "--response", "0.5", "--opens", "2026-03-02")
IDS = [f"H{number:02d}" for number in range(40)]


@pytest.fixture
def folder(prepared, tmp_path):
    return shutil.copytree(prepared, tmp_path, dirs_exist_ok=True)


@pytest.fixture(scope="module")
def prepared(tmp_path_factory):
    """Give forty households that hold a bin."""
    place = tmp_path_factory.mktemp("prepared")
    shutil.copyfile(TEMPLATES / "program.toml", place / "program.toml")
    given = {
        "areas": [{"area_id": "A"}],
        "households": [{"household_id": name, "may_contact": name != "H00"} for name in IDS],
        "contacts": [
            {
                "household_id": name,
                "full_name": f"Person {name}",
                "street_address": "1 Mill Lane",
                "postcode": "0001",
                "phone": "555",
            }
            for name in IDS
        ],
        "handovers": [{"handover_id": name, "household_id": name} for name in IDS],
    }
    with (
        open_store(place, encrypt_contacts=False) as store,
        writing(store, written_at=dt.datetime(2026, 1, 1)) as writer,
    ):
        load_id = writer.begin_load("register.xlsx", "mark")
        for table, rows in given.items():
            writer.write(load_id, table, frame(table, rows))
    return place


def planner(folder, *words):
    return CliRunner().invoke(app, [*words, "--program", str(folder)])


def drawn(path):
    sheet = load_workbook(path)["samples"]
    return [row[1].value for row in sheet.iter_rows(min_row=2)]


def test_a_round_is_drawn_loaded_and_rests_before_the_next(folder):
    first = planner(folder, "sample", "F1", *WORDS, "--size", "10")
    assert first.exit_code == 0, first.output
    assert "Stands for 39 households that hold a bin and may be contacted" in first.stdout
    assert "1 may not be contacted" in first.stderr
    samples, calls = folder / "samples_F1.xlsx", folder / "private" / "calling_list_F1.xlsx"
    one = drawn(samples)
    assert len(one) == 10
    assert "H00" not in one
    listed = [row[2].value for row in load_workbook(calls)["calls"].iter_rows(min_row=3)]
    assert sorted(listed) == sorted(one)
    loaded = planner(folder, "load", str(samples))
    assert loaded.exit_code == 0, loaded.output
    with open_store(folder, read_only=True) as store:
        shares = store.records("samples")["inclusion_probability"]
    # intake keeps nine decimals of a spreadsheet's numbers
    assert shares.to_list() == pytest.approx([10 / 39] * 10, abs=1e-9)
    second = planner(folder, "sample", "F2", *WORDS, "--size", "10")
    assert "Those resting" in second.stderr
    assert not set(one) & set(drawn(folder / "samples_F2.xlsx"))


def answered(folder, wave_id, households, day):
    lines = ["wave_id,household_id,answer_date,is_in_use"]
    lines += [f"{wave_id},{name},{day},yes" for name in households]
    (folder / f"answers_{wave_id}.csv").write_text("\n".join(lines), encoding="utf-8")
    return planner(folder, "load", str(folder / f"answers_{wave_id}.csv"))


def test_the_silent_of_a_round_are_asked_again_and_their_answers_are_of_that_round(folder):
    planner(folder, "sample", "F1", *WORDS, "--size", "38")
    planner(folder, "load", str(folder / "samples_F1.xlsx"))
    asked = drawn(folder / "samples_F1.xlsx")
    answered(folder, "F1", asked[:14], "2026-03-09")
    words = ("--silent", "F1", "--response", "0.8", "--opens", "2026-04-06", "--size", "15")
    again = planner(folder, "sample", "F1S", *words)
    assert again.exit_code == 0, again.output
    assert "Stands for 24 households silent in round F1" in again.stdout
    assert "carry the weight of all who were silent in F1" in again.stdout
    reached = drawn(folder / "samples_F1S.xlsx")
    assert len(reached) == 15
    assert not set(reached) & set(asked[:14])
    loaded = planner(folder, "load", str(folder / "samples_F1S.xlsx"))
    assert loaded.exit_code == 0, loaded.output
    assert answered(folder, "F1S", reached[:12], "2026-04-07").exit_code == 0
    with open_store(folder, read_only=True) as store:
        frames = store.query("wave_frames", before_date=dt.date(2027, 1, 1))
    assert frames["wave_id"].unique().to_list() == ["F1"]
    assert int(frames["has_answered"].sum()) == 26
    assert int(frames["has_answered_again"].sum()) == 12
    assert frames["again_probability"].drop_nulls().to_list() == pytest.approx([15 / 24] * 15)
    once = planner(folder, "sample", "F1T", *words)
    assert once.exit_code == NEEDS_MENDING
    assert "asked again by F1S already" in once.output


def test_the_response_of_the_newest_round_is_expected_again(folder):
    unsaid = ("--kind", "followup", "--size", "10", "--rest", "0")
    told = planner(folder, "sample", "F1", *unsaid, "--opens", "2026-03-02")
    assert told.exit_code == NEEDS_MENDING
    assert "--response: expected the share" in told.output
    planner(folder, "sample", "F1", *WORDS, "--size", "36")
    planner(folder, "load", str(folder / "samples_F1.xlsx"))
    answered(folder, "F1", drawn(folder / "samples_F1.xlsx")[:9], "2026-03-09")
    told = planner(folder, "sample", "F2", *unsaid, "--opens", "2026-09-07")
    assert told.exit_code == 0, told.output
    assert "9 of 36 answered round F1 (25%); as many are expected" in told.stdout
    assert "10 households to ask; about 2 answers" in told.stdout


def test_asking_again_wants_a_round_and_a_share_that_will_be_reached(folder):
    told = planner(folder, "sample", "F1S", "--silent", "F1", "--response", "0.5")
    assert told.exit_code == NEEDS_MENDING
    assert "--silent F1: no such round" in told.output
    told = planner(folder, "sample", "F1S", "--silent", "F1")
    assert told.exit_code == NEEDS_MENDING
    assert "you will reach" in told.output


def test_an_erased_household_is_not_drawn_and_leaves_the_calling_list(folder):
    planner(folder, "sample", "F1", *WORDS, "--size", "39")
    erased = planner(folder, "erase", "H07")
    assert erased.exit_code == 0, erased.output
    listed = load_workbook(folder / "private" / "calling_list_F1.xlsx")["calls"]
    assert "Person H07" not in {cell.value for row in listed.iter_rows() for cell in row}
    after = planner(folder, "sample", "F2", *WORDS, "--size", "38")
    assert "Stands for 38 households" in after.stdout
    assert "H07" not in drawn(folder / "samples_F2.xlsx")


def test_a_household_without_contact_is_told(folder):
    (folder / "contacts.duckdb").unlink()
    told = planner(folder, "sample", "F1", *WORDS, "--size", "10")
    assert told.exit_code == 0, told.output
    assert "10 of them have no contact" in told.stderr


@pytest.mark.skipif(sys.platform == "win32", reason="no such permissions there")
def test_the_calling_list_is_its_owners_alone(folder):
    planner(folder, "sample", "F1", *WORDS, "--size", "10")
    private = folder / "private"
    assert stat.S_IMODE(private.stat().st_mode) == 0o700
    assert stat.S_IMODE((private / "calling_list_F1.xlsx").stat().st_mode) == 0o600


def test_a_dry_run_writes_nothing(folder):
    told = planner(folder, "sample", "F1", *WORDS, "--dry-run")
    assert told.exit_code == 0, told.output
    assert "Nothing was written" in told.stderr
    assert not (folder / "private").exists()
    assert not (folder / "samples_F1.xlsx").exists()


def test_files_are_not_written_over_unless_asked(folder):
    planner(folder, "sample", "F1", *WORDS, "--size", "10")
    again = planner(folder, "sample", "F1", *WORDS, "--size", "12")
    assert again.exit_code == NEEDS_MENDING
    assert "is there already" in again.output
    assert len(drawn(folder / "samples_F1.xlsx")) == 10
    forced = planner(folder, "sample", "F1", *WORDS, "--size", "12", "--force")
    assert forced.exit_code == 0, forced.output
    assert len(drawn(folder / "samples_F1.xlsx")) == 12


def test_a_round_in_the_records_is_not_drawn_anew(folder):
    planner(folder, "sample", "F1", *WORDS, "--size", "10")
    planner(folder, "load", str(folder / "samples_F1.xlsx"))
    again = planner(folder, "sample", "F1", *WORDS, "--force")
    assert again.exit_code == NEEDS_MENDING
    assert "in the records already" in again.output
    assert "planner undo" in again.output


def test_a_round_written_down_before_it_was_drawn_can_be_drawn(folder):
    rounds = "wave_id,wave_kind,opens_date,closes_date\nF1,followup,2025-01-01,2025-01-31\n"
    (folder / "waves.csv").write_text(rounds, encoding="utf-8")
    planner(folder, "load", str(folder / "waves.csv"))
    told = planner(folder, "sample", "F1", *WORDS, "--size", "10")
    assert told.exit_code == NEEDS_MENDING
    assert "planner withdraw waves F1" in told.output
    planner(folder, "withdraw", "waves", "F1")
    assert planner(folder, "sample", "F1", *WORDS, "--size", "10").exit_code == 0


@pytest.mark.parametrize(
    ("code", "words", "found"),
    [
        ("../F1", (), "expected a code"),
        ("F1", ("--size", "40"), "between 2 and 39"),
        ("F1", ("--closes", "2026-03-01"), "before it opens"),
    ],
)
def test_what_cannot_be_drawn_needs_mending(folder, code, words, found):
    refused = planner(folder, "sample", code, *WORDS, *words)
    assert refused.exit_code == NEEDS_MENDING
    assert found in refused.output
    assert not (folder / "private").exists()


def test_whole_streets_are_drawn_and_their_addresses_stay_private(folder):
    result = planner(folder, "sample", "S1", *WORDS, "--streets")
    assert result.exit_code == 0, result.output
    assert "1 whole street" in result.stdout
    sheet = load_workbook(folder / "samples_S1.xlsx")["samples"]
    assert {row[3].value for row in sheet.iter_rows(min_row=2)} == {"S1-street-001"}
    loaded = planner(folder, "load", str(folder / "samples_S1.xlsx"))
    assert loaded.exit_code == 0, loaded.output


def test_a_margin_for_every_area_is_said_and_kept(folder):
    words = ("--area-margin", "0.2", "--stratify", "area", "--dry-run")
    result = planner(folder, "sample", "S2", *WORDS, *words)
    assert result.exit_code == 0, result.output
    assert "fewest with which each area is known to ±20.0%" in result.stdout
    assert "without --dry-run" in result.stderr
