"""A council in its first year: one list of households, no survey yet."""

from __future__ import annotations

import datetime as dt
import re

import pytest
from typer.testing import CliRunner

from planner.cli import app
from planner.errors import EstimateError
from planner.figures import read_register
from planner.program import FirstAnswers
from planner.starting import start_program
from tests.unit.intake.conftest import write_book

pytestmark = pytest.mark.thorough

runner = CliRunner()
GIVEN, WAITING = 25, 15
AREAS = ["Area", "Houses", "Townhouses", "Apartments", "Residents", "Collection", "Priority"]
LIST = [
    *("No.", "Name", "Address", "Postcode", "Area", "Home", "People", "Signed up", "OK to ring?"),
    *("Bin given on", "Model", "Worms (g)", "Bedding (kg)"),
]


@pytest.fixture
def folder(tmp_path):
    answers = FirstAnswers(country_locale="en_NZ", reporting_year="2026-27")
    start_program(tmp_path / "town", answers)
    north = ["North", 900, 80, 20, 2500, "residual_only", "no"]
    everyone = [
        [
            *(n, f"Ann Other{n}", f"{n} Invented Road", "9010", "North", "house", 1 + n % 5),
            *(dt.date(2026, 8, 1 + n % 20), "yes" if n % 3 else "no"),
            *((dt.date(2026, 10, 17), "two_tray", 450, 0.5) if n <= GIVEN else (None,) * 4),
        ]
        for n in range(1, GIVEN + WAITING + 1)
    ]
    day = ["D2", dt.date(2027, 2, 13), 70]
    write_book(
        tmp_path / "town" / "ours.xlsx",
        {
            "Areas": [AREAS, north],
            "Everybody": [LIST, *everyone],
            "Events": [["event_id", "event_date", "places_count"], day],
        },
    )
    return tmp_path / "town"


def called(folder, *words):
    return runner.invoke(app, [*words, "--program", str(folder)])


def test_from_one_list_to_invitations_and_a_page_of_progress(folder):
    looked = called(folder, "look", str(folder / "ours.xlsx"), "--accept")
    assert looked.exit_code == 0, looked.output
    loaded = called(folder, "load", str(folder / "ours.xlsx"))
    assert loaded.exit_code == 0, loaded.output
    counts = re.findall(r"Everybody\s+(\w+)\s+(\d+)\s+(\d+)", loaded.output)
    everybody = str(GIVEN + WAITING)
    assert {table: new for table, _, new in counts} == {
        **dict.fromkeys(("households", "contacts", "registrations"), everybody),
        "handovers": str(GIVEN),
    }
    # those with a bin are not in line for another
    events = called(folder, "events")
    assert events.exit_code == 0, events.output
    assert f"{WAITING} households were in line" in " ".join(events.output.split())

    # tonnes need a survey, bins do not
    counted = called(folder, "report", "--as-of", "2026-11-30")
    assert counted.exit_code == 0, counted.output
    assert f"{GIVEN} bins given to {GIVEN} households" in " ".join(counted.output.split())
    page = called(folder, "progress", "--as-of", "2026-11-30")
    assert page.exit_code == 0, page.output
    text = (folder / "progress" / "progress.html").read_text("utf-8")
    assert "No tonnes are estimated yet" in text
    assert "13 Feb 2027" in text
    register = read_register((folder / "progress" / "figures.json").read_text("utf-8"))
    assert register["bins_given"].value == GIVEN
    assert "kept_out_of_landfill_t" not in register


def test_what_else_stops_an_estimate_is_not_told_as_a_survey_to_come(folder, monkeypatch):
    called(folder, "look", str(folder / "ours.xlsx"), "--accept")
    assert called(folder, "load", str(folder / "ours.xlsx")).exit_code == 0

    def unsettled(*_):
        raise EstimateError("the weights do not settle")

    monkeypatch.setattr("planner.report.year.measure", unsettled)
    page = called(folder, "progress", "--as-of", "2026-11-30")
    assert page.exit_code == 2
    assert "do not settle" in page.output
    assert not (folder / "progress").exists()


def test_an_answer_that_names_no_table_is_refused_in_words(folder):
    asked = called(folder, "look", str(folder / "ours.xlsx"), "--sheet", "Everybody=,")
    assert asked.exit_code == 2
    assert "Everybody" in asked.output
