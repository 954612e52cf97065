"""planner events and routes, as an officer types them: places, papers of a day, a round."""

from __future__ import annotations

import datetime as dt
import shutil
from pathlib import Path

import pytest
from typer.testing import CliRunner

from planner.cli import app
from planner.paths import PROGRAM_FILE, TEMPLATES
from planner.store.opening import open_store
from tests.queries.given import store_with

DELIVERY = """
[delivery]
start_latitude = 10.0
start_longitude = 20.0
road_factor = 1.0
"""
HOMES = ("H1", "H2", "H3", "H4")
DAY = {"event_date": dt.date(2026, 10, 3), "places_count": 20}
HALL = {"event_id": "E1", "venue": "Hall", **DAY}
GIVEN = {
    "areas": [{"area_id": "A"}],
    "households": [{"household_id": home} for home in HOMES],
    "contacts": [
        {
            "household_id": home,
            "full_name": f"Person {home}",
            "street_address": "1 Secret Way",
            "postcode": "0101",
            "latitude": 10.01,
            "longitude": 20.0,
        }
        for home in HOMES
    ],
    "events": [HALL, {"event_id": "V1", "event_kind": "delivery", **DAY}],
    "registrations": [
        {"household_id": home, "access_need": "home_delivery" if home == "H1" else None}
        for home in HOMES
    ],
}


def planner(folder, *words, code=0):
    ended = CliRunner().invoke(app, [*words, "--program", str(folder)])
    assert ended.exit_code == code, ended.output
    return " ".join(ended.stdout.split()), " ".join(ended.stderr.split())


def give(folder, day, *words, code=0):
    return planner(folder, "events", "--from", day, "--until", "2026-12-31", *words, code=code)


@pytest.fixture(scope="module")
def booked(tmp_path_factory):
    """Give places at a day in a hall and at a delivery day, and load them; keep what was said."""
    folder = tmp_path_factory.mktemp("booked")
    text = (TEMPLATES / PROGRAM_FILE).read_text("utf-8")
    (folder / PROGRAM_FILE).write_text(text + DELIVERY, "utf-8")
    with store_with(folder, GIVEN):
        pass
    dry = give(folder, "2026-09-01", "--dry-run")
    assert not (folder / "hand_over_days").exists()
    said = give(folder, "2026-09-01")
    places = folder / "hand_over_days" / "2026-09-01" / "bookings_to_load.xlsx"
    planner(folder, "load", str(places))
    return folder, dry, said


@pytest.fixture
def folder(booked, tmp_path):
    return shutil.copytree(booked[0], tmp_path, dirs_exist_ok=True)


def test_places_are_counted_and_the_files_named_that_are_there(booked):
    folder, (dry, advice), (told, _) = booked
    for words in (dry, told):
        assert "4 households were in line; 4 get a place, 0 go on waiting." in words
        assert "E1 3 Oct 2026 Hall" in words
        assert "V1 3 Oct 2026 delivery" in words
    assert "Nothing was written" in advice
    # the hour of a delivery is not known before its round
    assert "3 calendar files to attach" in told
    for name in ("bookings_to_load.xlsx", "draw.json"):
        assert (folder / "hand_over_days" / "2026-09-01" / name).is_file()
        assert name in told


def test_the_papers_of_a_day_are_named_and_not_written_over(folder):
    told, advice = planner(folder, "events", "--day", "E1")
    assert "E1, 3 Oct 2026: 3 households hold a place, 3 of them have not answered yet." in told
    sheet = folder / "private" / "run_sheet_E1.xlsx"
    assert str(sheet) in told
    assert f"planner load {sheet}" in advice
    assert "--force" in planner(folder, "events", "--day", "E1", code=2)[1]


def test_a_round_tells_its_loads_and_kilometres(folder):
    told, advice = planner(folder, "routes", "--day", "V1", "--dry-run")
    # there and back by 0.01 degrees of the meridian, 1.1 km each
    assert "V1, 3 Oct 2026: 1 stop, 1 bin, 2 km in all, ways back included." in told
    assert "Vehicle 1, load 1: 1 stop, 1 bin" in told
    assert "straight lines" in advice
    assert not Path(folder, "private", "driver_V1.xlsx").exists()
    told, _ = planner(folder, "routes")
    assert str(folder / "private" / "driver_V1.xlsx") in told
    assert Path(folder, "private", "driver_V1.xlsx").is_file()


def test_who_has_no_place_any_more_is_to_be_told(folder):
    with store_with(folder, {"events": [{**HALL, "event_status": "cancelled"}]}):
        pass
    told, advice = give(folder, "2026-09-04")
    assert "3 places are no longer held" in advice
    assert "calendar files that take the day out of calendars" in told
    with open_store(folder, read_only=True) as store:
        assert store.records("bookings").height == 4
