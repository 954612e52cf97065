"""What was given out, arranged by model and reporting year."""

from __future__ import annotations

import datetime as dt

import polars as pl
import pytest

from planner.paths import PROGRAM_FILE, TEMPLATES
from planner.program import read_program
from planner.report.activity import arrange_supplies

D = dt.date
TEMPLATE = read_program(TEMPLATES / PROGRAM_FILE)
(TWO_TRAY,) = TEMPLATE.bin_models
TUBE = TWO_TRAY.model_copy(update={"model_id": "tube", "plastic_kg": 2.0})
PROGRAM = TEMPLATE.model_copy(update={"bin_models": (TWO_TRAY, TUBE)})
MONTHS = [D(2025, 11, 1), D(2025, 12, 1), D(2026, 3, 1), D(2026, 4, 1)]


def _supplies(*rows):
    columns = ("model_id", "supply_month", "bins_given", "reissued_count", "bedding_kg", "worms_kg")
    return pl.DataFrame(list(rows), schema=columns, orient="row")


def test_months_fall_to_their_reporting_year_and_bins_that_return_are_made_once():
    found = arrange_supplies(
        _supplies(
            ("two_tray", D(2025, 11, 1), 20, 0, 40.0, 10.0),
            ("two_tray", D(2026, 3, 1), 30, 5, 60.0, 15.0),
            ("tube", D(2026, 4, 1), 12, 0, 12.0, 3.0),
            ("two_tray", D(2026, 4, 1), 0, 1, 0.0, 0.0),
        ),
        PROGRAM,
        MONTHS,
    )
    assert found.bins_given.tolist() == [[50.0, 0.0], [0.0, 12.0]]
    # the bin of April had come back before, and went out with one of the year's hand-overs
    assert found.bins_made.tolist() == [[45.0, 0.0], [0.0, 12.0]]
    assert found.bedding_kg.tolist() == [100.0, 12.0]
    assert found.moved_kg.tolist() == [50 * 6.0 + 125.0, 12 * 2.0 + 15.0]


def test_small_counts_raise_all_to_whole_multiples_of_the_threshold():
    found = arrange_supplies(
        _supplies(
            ("two_tray", D(2025, 11, 1), 11, 0, 22.0, 5.5),
            ("tube", D(2026, 4, 1), 4, 0, 4.0, 1.0),
        ),
        PROGRAM,
        MONTHS,
    )
    assert PROGRAM.privacy.small_cell_threshold == 10
    assert found.bins_given.tolist() == [[20.0, 0.0], [0.0, 10.0]]
    assert found.bedding_kg.tolist() == pytest.approx([40.0, 10.0])


def test_nothing_given_out():
    columns = {
        "model_id": pl.String,
        "supply_month": pl.Date,
        "bins_given": pl.Int64,
        "reissued_count": pl.Int64,
        "bedding_kg": pl.Float64,
        "worms_kg": pl.Float64,
    }
    found = arrange_supplies(pl.DataFrame(schema=columns), PROGRAM, MONTHS)
    assert found.bins_given.sum() == 0.0


def test_a_model_that_the_program_file_no_longer_names_counts_with_the_first():
    found = arrange_supplies(_supplies(("old", D(2026, 4, 1), 10, 0, 10.0, 5.0)), PROGRAM, MONTHS)
    assert found.bins_given.tolist() == [[0.0, 10.0], [0.0, 0.0]]
