"""planner check and planner duplicates, as an officer types them."""

from __future__ import annotations

import csv
import shutil

import openpyxl
import pytest
from typer.testing import CliRunner

from planner.cli import app
from planner.paths import PROGRAM_FILE, SAMPLE_PROGRAMS
from planner.starting import sample_towns
from planner.store.opening import open_store
from planner.store.writing import writing
from planner.tables import TABLES
from tests.queries.given import frame
from tests.unit.duplicates.test_deciding import GIVEN

NEEDS_MENDING = 2


def planner(folder, *words):
    return CliRunner().invoke(app, [*words, "--program", str(folder)])


@pytest.fixture
def folder(tmp_path):
    town = sample_towns()[0]
    shutil.copyfile(SAMPLE_PROGRAMS / town / PROGRAM_FILE, tmp_path / PROGRAM_FILE)
    with open_store(tmp_path) as store, writing(store) as writer:
        load_id = writer.begin_load("given.xlsx", "mark")
        for table in TABLES:
            if table in GIVEN:
                writer.write(load_id, table, frame(table, GIVEN[table]))
    return tmp_path


def test_check_lists_the_worst_first_and_sets_all_out(folder):
    told = planner(folder, "check")
    assert told.exit_code == 0
    text = told.stdout
    assert text.index("Wrong: fix these") < text.index("Doubtful:")
    assert "follow-up answers of households that were never given a bin" in text
    assert (
        "answers G | H3: answered a follow-up round on 10 Mar 2025, has no hand-over"
        in " ".join(text.split())
    )
    with (folder / "refused" / "checks.csv").open(encoding="utf-8-sig", newline="") as file:
        rows = list(csv.DictReader(file))
    assert ("answers", "G | H3") in {(row["table_name"], row["record_key"]) for row in rows}
    assert "Mill" not in text
    assert not any("Mill" in cell for row in rows for cell in row.values())


def test_check_needs_records(tmp_path):
    shutil.copyfile(SAMPLE_PROGRAMS / sample_towns()[0] / PROGRAM_FILE, tmp_path / PROGRAM_FILE)
    told = planner(tmp_path, "check")
    assert told.exit_code == NEEDS_MENDING
    assert "no records yet" in told.stderr


def test_duplicates_are_proposed_decided_and_taken_back(folder):
    told = planner(folder, "duplicates")
    assert "3 pairs of registrations" in told.stdout
    assert "Ann" not in told.output
    path = folder / "private" / "duplicates.xlsx"
    book = openpyxl.load_workbook(path)
    for row in book.active.iter_rows(min_row=3):
        row[0].value = "same"
    book.save(path)
    dry = planner(folder, "duplicates", "--decided", str(path), "--dry-run")
    assert "2 households would go into another" in dry.stdout
    done = planner(folder, "duplicates", "--decided", str(path))
    assert "2 households went into another" in done.stdout
    assert "planner undo L0002" in done.stderr
    assert planner(folder, "undo", "L0002").exit_code == 0
    assert "3 pairs" in planner(folder, "duplicates").stdout
