"""The recipe for an intake column, as DEVELOPERS.md gives it, works when it is followed."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys

import pytest

from planner.messages import languages
from planner.paths import QUERIES
from planner.store.opening import open_store
from planner.store.queries import folder_queries
from planner.store.writing import writing
from tests.queries.given import frame

ROOT = QUERIES.parent
MIGRATION = """-- {name}: the colour of a bin, from now on.
-- grain:  handover_id
-- params:
-- reads:
-- feeds:  store.migrations
alter table handovers add column colour varchar
"""
pytestmark = pytest.mark.thorough

LOADED_TWICE = """
from pathlib import Path
import polars as pl
from planner.loading import load_files
from planner.store.keeping import back_up, restore_backup
from planner.store.migrations import utc_now
from planner.store.opening import open_store
from planner.store.undoing import undo_load

folder, file = Path("town"), Path("handovers.csv")
head = "handover_id,household_id,model_id,handover_date,worms_kg,bedding_kg,colour\\n"
row = "{},H1,two_tray,2025-03-10,0.5,1,{}\\n"
file.write_text(head + row.format("1", "green") + row.format("3", "x" * 201))
result = load_files(folder, [file])
assert result.files[0].problems["column_name"].to_list() == ["colour"], result
def colours():
    with open_store(folder, read_only=True) as store:
        assert store.query("stage_handovers")["colour"].to_list() == (
            store.records("handovers")["colour"].to_list()
        )
        return dict(store.records("handovers").select("handover_id", "colour").iter_rows())
assert colours() == {"1": "green", "2": None}, colours()
undo_load(folder, "L0002", utc_now())
assert colours() == {"1": None, "2": None}, colours()
kept = back_up(folder, None, utc_now())
load_files(folder, [file])
restore_backup(folder, kept, utc_now())
assert colours() == {"1": None, "2": None}, colours()
"""


@pytest.fixture(scope="module")
def changed(tmp_path_factory):
    """Copy the project and follow the recipe for one column."""
    copy = tmp_path_factory.mktemp("project")
    for folder in ("planner", "queries", "templates", "tests"):
        shutil.copytree(ROOT / folder, copy / folder)
    shutil.copy(ROOT / "pyproject.toml", copy)
    declared = copy / "planner" / "tables" / "giveaway.py"
    serial = "    serial = text_field(nullable=True)\n"
    assert serial in declared.read_text("utf-8")
    colour = "    colour = text_field(nullable=True)\n"
    declared.write_text(declared.read_text("utf-8").replace(serial, serial + colour), "utf-8")
    for language in languages():
        words = copy / "planner" / "words" / language / "tables.po"
        said = f'{words.read_text("utf-8")}\nmsgid "column.handovers.colour"\nmsgstr "colour"\n'
        words.write_text(said, "utf-8")
    examples = copy / "planner" / "intake" / "examples.csv"
    assert "serial,S123456\n" in examples.read_text("utf-8")
    with examples.open("a", encoding="utf-8") as file:
        file.write("colour,green\n")
    newest = max(int(query.name[:3]) for query in folder_queries("schema"))
    name = f"{newest + 1:03d}_handovers_colour"
    (copy / "queries" / "schema" / f"{name}.sql").write_text(MIGRATION.format(name=name), "utf-8")
    stage = copy / "queries" / "stage" / "stage_handovers.sql"
    text = stage.read_text("utf-8").replace("    worms_kg,\n", "    worms_kg,\n    colour,\n")
    stage.write_text(text, "utf-8")
    return copy


def run_in(folder, *words):
    paths = {**os.environ, "PYTHONPATH": str(folder)}
    done = subprocess.run(
        [sys.executable, *words], cwd=folder, env=paths, capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stdout + done.stderr


def test_records_made_before_stand_and_the_column_is_loaded_undone_and_restored(changed):
    town = changed / "town"
    town.mkdir()
    shutil.copy(ROOT / "templates" / "program.toml", town)
    with open_store(town) as store, writing(store) as writer:
        load_id = writer.begin_load("before.csv", "mark")
        writer.write(load_id, "areas", frame("areas", [{"area_id": "A"}]))
        writer.write(load_id, "households", frame("households", [{"household_id": "H1"}]))
        given = [{"handover_id": "1"}, {"handover_id": "2"}]
        writer.write(load_id, "handovers", frame("handovers", given))
    run_in(changed, "-c", LOADED_TWICE)


def test_the_tests_of_schema_headers_and_workbook_hold_after_it(changed):
    files = ("unit/store/test_schema.py", "queries/test_headers.py", "unit/intake/test_template.py")
    about_it = ("-k", "handovers or earlier or migration")
    run_in(changed, "-m", "pytest", "-n", "0", "-x", *about_it, *(f"tests/{f}" for f in files))
