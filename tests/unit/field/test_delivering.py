"""A delivery day from the waiting list to the driver's papers and back."""

from __future__ import annotations

import datetime as dt
import re
import shutil

import openpyxl
import polars as pl
import pytest

from planner import run
from planner.errors import IntakeError, ProgramError
from planner.field.booking import PlacesRequest, book_places
from planner.messages import say
from planner.paths import SAMPLE_PROGRAMS
from planner.store.opening import open_store
from tests.unit.field.test_booking import load, whole_text, write

TODAY = dt.date(2025, 2, 1)
BLOCK = """[delivery]
start_latitude = 10.0
start_longitude = 20.0
bins_per_vehicle = 3
road_factor = 1.0

[map]"""


@pytest.fixture
def town(prepared, tmp_path):
    return shutil.copytree(prepared, tmp_path, dirs_exist_ok=True)


@pytest.fixture(scope="module")
def prepared(tmp_path_factory):
    """Give places at a delivery day: three households at home, four at a drop point."""
    place = tmp_path_factory.mktemp("prepared")
    text = (SAMPLE_PROGRAMS / "valdorra" / "program.toml").read_text(encoding="utf-8")
    (place / "program.toml").write_text(text.replace("[map]", BLOCK), encoding="utf-8")
    homes = [f"H{n}" for n in range(1, 8)]
    at_home = {"H1": (10.01, 20.0), "H2": (10.02, 20.0), "H3": (10.03, 20.0)}
    contacts = [
        {
            "household_id": h,
            "full_name": f"Person Number{h}",
            "street_address": f"{h} Secret Way",
            "postcode": "0101",
            "latitude": at_home.get(h, (None, None))[0],
            "longitude": at_home.get(h, (None, None))[1],
        }
        for h in homes
    ]
    asked = [
        {"household_id": h, "access_need": "home_delivery"}
        if h in at_home
        else {"household_id": h, "drop_point_id": "P1"}
        for h in homes
    ]
    tables = {
        "areas": [{"area_id": "A"}],
        "households": [{"household_id": h} for h in homes],
        "contacts": contacts,
        "events": [
            {
                "event_id": "V1",
                "event_date": dt.date(2025, 3, 1),
                "places_count": 20,
                "event_kind": "delivery",
            },
            {"event_id": "E1", "event_date": dt.date(2025, 3, 1)},
        ],
        "drop_points": [
            {"drop_point_id": "P1", "place_name": "Library", "latitude": 10.04, "longitude": 20.0}
        ],
        "registrations": [{"registered_date": dt.date(2025, 1, 9), **one} for one in asked],
    }
    write(place, tables, "start")
    book_places(place, PlacesRequest(TODAY, dt.date(2025, 12, 31)))
    load(place, place / "hand_over_days" / "2025-02-01" / "bookings_to_load.xlsx")
    return place


def test_all_bins_are_brought_in_loads_that_fit_and_on_the_shortest_way(town):
    found = run.routes(town, "V1")
    loads = found.stops.group_by("vehicle", "trip").agg(pl.col("bins_count").sum())
    assert loads["bins_count"].max() <= 3
    assert found.stops["bins_count"].sum() == found.places.height == 7
    # the town gives one model alone: the driver's sheet loads as it stands
    assert set(found.places["model_id"]) == {"caja_dos"}
    # four bins at the library (0.04° off) and three on the way, three to a load: three loads, of
    # which two must go to the library and the third at least to H1: 0.01 x 2 + 0.04 x 2 x 2
    degree = 6371.0088 * 3.141592653589793 / 180.0
    assert found.total_km == pytest.approx(0.18 * degree, abs=0.02)


def test_a_drop_point_that_takes_more_than_a_vehicle_is_two_stops(town):
    stops = run.routes(town, "V1", dry_run=True).stops.filter(stop_id="P1")
    assert sorted(stops["bins_count"]) == [1, 3]
    assert not (town / "private" / "driver_V1.xlsx").exists()


def test_front_doors_stand_in_private_alone(town):
    path = run.routes(town, "V1").file
    assert path.parent.name == "private"
    assert "Secret Way" in whole_text(path)
    for other in [town / "program.duckdb", *(town / "hand_over_days").rglob("*.*")]:
        text = whole_text(other)
        assert "Secret Way" not in text
        assert "10.01" not in text
    with open_store(town, read_only=True) as store:
        assert store.records("contacts")["latitude"].drop_nulls().len() == 3


def test_the_drivers_papers_come_back_as_states_and_slots(town):
    path = run.routes(town, "V1").file
    book = openpyxl.load_workbook(path)
    sheet = book["bookings"]
    at = {cell.value: cell.column for cell in sheet[5]}
    for row in range(6, 13):
        sheet.cell(row, at["state"]).value = "moved"
    # what a spreadsheet program works out of the formulas where nobody came
    for line in book["handovers"].iter_rows(min_row=2):
        for cell in line:
            cell.value = None
    book.save(path)
    load(town, path)
    with open_store(town, read_only=True) as store:
        bookings = store.records("bookings")
    assert bookings["state"].cast(pl.String).unique().to_list() == ["moved"]
    assert bookings["slot"].min() >= "08:30"


def test_measured_distances_are_used_and_a_missing_way_is_named(town):
    path = town / "ways.csv"
    path.write_text("from_stop,to_stop,km\nstart,H1,2\n", encoding="utf-8")
    with pytest.raises(
        IntakeError,
        match=re.escape(say("rounds.missing", 13, path=str(path), start="start", end="H2")),
    ):
        run.routes(town, "V1", path, dry_run=True)
    stops = ["start", "H1", "H2", "H3", "P1"]
    ways = [f"{a},{b},5" for n, a in enumerate(stops) for b in stops[n + 1 :]]
    path.write_text("from_stop,to_stop,km\n" + "\n".join(ways) + "\n", encoding="utf-8")
    found = run.routes(town, "V1", path, dry_run=True)
    assert found.is_measured
    # three loads; every leg between two places is 5 km: four stops, one of them met twice
    assert found.total_km == pytest.approx(5.0 * (5 + 3))


def test_what_stands_in_the_way_is_said(town):
    with pytest.raises(ProgramError, match=re.escape(say("rounds.collected", event="E1"))):
        run.routes(town, "E1")
    write(town, {"registrations": [{"household_id": "H4", "access_need": "home_delivery"}]}, "new")
    with pytest.raises(ProgramError, match=re.escape(say("rounds.no_place", names="H4", more=""))):
        run.routes(town, "V1")
