"""planner factors, as an officer types it."""

from __future__ import annotations

import pytest
from typer.testing import CliRunner

from planner.cli import app
from planner.paths import PROGRAM_FILE, TEMPLATES

NEEDS_MENDING = 2
OWN = """
[[factors]]
factor_id = "food_degradable_carbon_share"
value = 0.17
unit = "kg C per kg wet waste"
source = "Laboratory report 12 (invented)"
"""


@pytest.fixture
def folder(tmp_path):
    text = (TEMPLATES / PROGRAM_FILE).read_text("utf-8")
    (tmp_path / PROGRAM_FILE).write_text(text + OWN, encoding="utf-8")
    return tmp_path


def planner(*words):
    return CliRunner().invoke(app, ["factors", *words])


def test_a_factor_is_told_in_full_by_its_id():
    told = planner("compost_bin_kg_per_household_year")
    assert told.exit_code == 0
    assert "House of Commons" in told.stdout
    assert "300,000 t over 2.0 million bins" in told.stdout


def test_editions_stand_beside_each_other():
    shown = planner("gwp100", "--compare").stdout
    (line,) = [line for line in shown.splitlines() if line.startswith("nitrous_oxide_gwp100")]
    assert line.index("298") < line.index("265") < line.index("273")


def test_a_factor_of_the_councils_own_is_listed_as_such(folder):
    listed = planner("degradable", "--table", "landfill", "--program", str(folder))
    (line,) = [line for line in listed.stdout.splitlines() if "food_degradable" in line]
    assert line.split()[-1] == "own"
    told = planner("food_degradable_carbon_share", "--program", str(folder))
    assert "the council's own" in told.stdout
    assert "Laboratory report 12 (invented)" in told.stdout
    assert "in place of the published 0.15 (0.08 to 0.2)" in told.stdout


def test_a_factor_that_cannot_stand_needs_mending(folder):
    path = folder / PROGRAM_FILE
    path.write_text(path.read_text("utf-8").replace("kg C per kg wet", "g C per kg"), "utf-8")
    refused = planner("--program", str(folder))
    assert refused.exit_code == NEEDS_MENDING
    assert 'found unit "g C per kg waste", expected "kg C per kg wet waste"' in " ".join(
        refused.output.split()
    )


def test_words_that_nothing_holds_need_mending():
    refused = planner("zork")
    assert refused.exit_code == NEEDS_MENDING
    assert "No factor matches zork" in refused.output
