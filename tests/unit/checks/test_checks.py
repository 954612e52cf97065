"""Checks together: all run, the worst stands first, and their file is safe to open."""

from __future__ import annotations

import csv
import datetime as dt

import polars as pl
import pytest

from planner.checks import COLUMNS, SEVERITIES, check, count_checks, run_checks
from planner.errors import StoreError
from planner.messages import keys, messages_for
from planner.program import read_program
from planner.starting import start_program
from planner.store.opening import open_store
from planner.store.queries import folder_queries
from tests.queries.given import store_with
from tests.queries.test_cases import CASES

D = dt.date

PROGRAM = """
[council]
name = "Town (invented)"
country_locale = "en_GB"
currency = "GBP"
reporting_year_first_month = 7
[landfill]
climate = "boreal_temperate_wet"
management = "managed_anaerobic"
cover = "oxidising"
landfilled_share_of_residual_waste = 1.0
gas_capture = [{ from_age_years = 0, captured_share = 0.0 }]
[method]
edition = "ipcc_2006"
gwp_set = "ar5"
draws_count = 100
seed = 1
[climate]
monthly_mean_temperature_c = [4, 5, 7, 9, 12, 15, 17, 17, 15, 11, 7, 5]
[privacy]
small_cell_threshold = 10
[[bin_models]]
model_id = "two_tray"
model_name = "Two-tray"
trays_count = 2
tray_area_m2 = 0.16
plastic_kg = 6.0
plastic_recycled_share = 1.0
service_life_years = 10
unit_price = 60.0
[[reporting_years]]
reporting_year = "2024-25"
landfill_levy_per_t = 100.0
gate_fee_per_t = 10.0
[[reporting_years]]
reporting_year = "2025-26"
landfill_levy_per_t = 100.0
gate_fee_per_t = 10.0
"""


@pytest.fixture
def program(tmp_path):
    path = tmp_path / "program.toml"
    path.write_text(PROGRAM.replace("[4, 5,", "[4.0, 5.0,"), "utf-8")
    return read_program(path)


def findings(folder, program, given):
    with store_with(folder, given) as store:
        return run_checks(store, program, D(2026, 7, 1), messages_for("en"))


CONSOLE = ("none", "all_in", "next")
"""Keys beside the checks: lines of the command itself."""

SOUND = {
    "areas": [{"area_id": "A", "houses_count": 500}],
    "households": [{"household_id": f"H{n}"} for n in range(12)],
    "handovers": [
        {"handover_id": f"{n}", "household_id": f"H{n}", "handover_date": D(2025, 3, 10)}
        for n in range(12)
    ],
    "waves": [
        {"wave_id": "E", "opens_date": D(2025, 5, 1), "closes_date": D(2025, 5, 31)},
        {"wave_id": "F", "opens_date": D(2026, 3, 1), "closes_date": D(2026, 3, 31)},
    ],
    "samples": [
        {"wave_id": wave, "household_id": f"H{n}"} for wave in ("E", "F") for n in range(12)
    ],
    "answers": [
        {
            "wave_id": wave,
            "household_id": f"H{n}",
            "answer_date": day,
            "is_in_use": True,
            "fed_kg_last_week": 2.0,
        }
        for wave, day in (("E", D(2025, 5, 2)), ("F", D(2026, 3, 2)))
        for n in range(12)
    ],
    "costs": [{"cost_id": "c", "cost_date": D(2025, 3, 1)}],
}
"""Records that contradict nothing."""


def test_sound_records_pass_every_check(tmp_path, program):
    found = findings(tmp_path, program, SOUND)
    assert found.rows() == []
    assert dict(found.schema) == COLUMNS


def test_the_worst_stands_first_and_counts_add_up(tmp_path, program):
    given = SOUND | {
        "handovers": [
            *SOUND["handovers"],
            {"handover_id": "90", "household_id": "H1", "handover_date": D(2025, 5, 10)},
            {"handover_id": "91", "household_id": "H2", "handover_date": D(2024, 12, 31)},
        ]
    }
    found = findings(tmp_path, program, given)
    order = [SEVERITIES.index(severity) for severity in found["severity"]]
    assert order == sorted(order)
    assert found.select("severity", "check_name", "record_key").rows() == [
        ("wrong", "handover_before_registration", "91"),
        ("doubtful", "two_bins_at_one_household", "2"),
        ("doubtful", "two_bins_at_one_household", "90"),
        ("note", "month_without_handovers", "2025-01"),
        ("note", "month_without_handovers", "2025-02"),
        ("note", "month_without_handovers", "2025-04"),
    ]
    counted = count_checks(found)
    assert counted["rows_count"].to_list() == [1, 2, 3]
    assert counted["table_name"].to_list() == ["handovers"] * 3


@pytest.mark.parametrize("query", folder_queries("check"), ids=lambda query: query.name)
def test_every_check_feeds_the_checks_and_is_shown_by_hand(query):
    assert query.feeds == ("checks.run_checks",)
    shown = [case for case in CASES if case.query == query.name and case.rows]
    assert shown
    assert {row[0] for case in shown for row in case.rows} <= set(SEVERITIES)


def test_every_check_has_its_words_and_no_other_has():
    checks = {query.name for query in folder_queries("check")}
    named = {tuple(key.split(".")[1:3]) for key in keys("check.")}
    wanted = {(name, *part) for name in checks for part in ((), ("found",), ("advice",))}
    assert {one for one in named if one[0] not in {"heading", *CONSOLE}} == wanted


def test_findings_are_in_the_readers_language(tmp_path, program):
    given = SOUND | {"handovers": [SOUND["handovers"][0] | {"worms_kg": 1.5}]}
    with store_with(tmp_path, given) as store:
        found = run_checks(store, program, D(2026, 7, 1), messages_for("fr_FR"))
    (row,) = found.filter(check_name="implausible_worms").rows(named=True)
    assert row["found"] == "remis avec 1,5 kg de vers"


@pytest.fixture
def folder(tmp_path, monkeypatch):
    """Stand for a program in which one check finds what a spreadsheet would run."""
    start_program(tmp_path)
    row = {
        "severity": "wrong",
        "check_name": "c",
        "title": "t",
        "table_name": "samples",
        "record_key": "=1+1",
        "found": " @SUM(A1)",
        "advice": "a - b",
    }
    found = pl.DataFrame([row], schema=COLUMNS)
    monkeypatch.setattr("planner.checks.run_checks", lambda *_: found)
    with open_store(tmp_path):
        pass
    return tmp_path


def test_the_file_holds_all_findings_and_nothing_that_runs(folder):
    (row,), path = check(folder)[0].to_dicts(), check(folder)[1]
    with path.open(encoding="utf-8-sig", newline="") as file:
        (read,) = csv.DictReader(file)
    assert read == row | {"record_key": "'=1+1", "found": "' @SUM(A1)"}


def test_a_file_that_cannot_be_written_is_named(folder):
    (folder / "refused").write_text("a file where the folder should be")
    with pytest.raises(StoreError, match=r"checks\.csv: cannot be written"):
        check(folder)
