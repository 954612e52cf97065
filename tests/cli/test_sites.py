"""planner sites and workshops on a few invented sites: what is said against sums by hand."""

from __future__ import annotations

import datetime as dt
import shutil

import pytest
from typer.testing import CliRunner

from planner.cli import app
from planner.paths import PROGRAM_FILE, TEMPLATES
from tests.queries.given import store_with

MONDAY = dt.date(2026, 8, 3)
SITES = ("S1", "S2", "S3")
GIVEN = {
    "areas": [{"area_id": "A"}],
    "sites": [{"site_id": site} for site in SITES],
    "site_bins": [{"site_id": site, "given_date": MONDAY} for site in SITES],
    "site_weighings": [
        {"site_id": site, "week_start_date": MONDAY, "fed_kg": kg}
        for site, kg in zip(SITES, (4.0, 6.0, 8.0), strict=True)
    ],
    "households": [{"household_id": name} for name in ("H1", "H2", "H3")],
    "workshops": [{"workshop_id": "W1", "workshop_date": MONDAY}],
    "attendances": [{"workshop_id": "W1", "household_id": name} for name in ("H1", "H2")],
    # the newest record: the sites' bins count up to the day of it
    "costs": [{"cost_id": "C", "cost_date": MONDAY + dt.timedelta(days=13)}],
}


def planner(folder, *words):
    ended = CliRunner().invoke(app, [*words, "--program", str(folder)])
    assert ended.exit_code == 0, ended.output
    return " ".join(ended.stdout.split())


@pytest.fixture
def folder(tmp_path):
    shutil.copyfile(TEMPLATES / PROGRAM_FILE, tmp_path / PROGRAM_FILE)
    return tmp_path


def test_what_sites_feed_is_said_with_its_interval(folder):
    with store_with(folder, GIVEN):
        pass
    told = planner(folder, "sites")
    assert "3 sites (school 3) for 900 people; 6 of 6 bins in use." in told
    # 18 kg of 6 bins: 3 kg; residuals -2, 0, 2 and Student's t of 2 degrees, 4.303:
    # 4.303 x sqrt(3/2 x 8 / 36) = 2.48. In two weeks 6 bins take 12 times as much
    assert "3.0 kg a bin and week (0.5 to 5.5)" in told
    assert "0.036 t (0.006 to 0.066), from 3 weighed weeks of 3 sites" in told


def test_two_sites_are_too_few_and_none_is_told(folder):
    with store_with(folder, {**GIVEN, "site_weighings": GIVEN["site_weighings"][:2]}):
        pass
    assert "2 sites weighed their feed; three are needed" in planner(folder, "sites")


def test_who_came_to_workshops_is_counted_and_nothing_is_claimed_of_few(folder):
    with store_with(folder, {"areas": GIVEN["areas"], "costs": GIVEN["costs"]}):
        pass
    assert "No sites yet" in planner(folder, "sites")
    assert "No workshops yet" in planner(folder, "workshops")
    with store_with(folder, GIVEN):
        pass
    told = planner(folder, "workshops", "--day", "2026-08-31")
    assert "2 households came to 1 workshops." in told
    assert "Too few to compare." in told
