"""A year forecast from its middle, against what the sample's simulation really had."""

from __future__ import annotations

import datetime as dt

import pytest

from planner.factors import read_factors
from planner.report.document.building import build_document
from planner.report.document.contents import Contents
from planner.report.register import register_year
from planner.report.year import count_year, estimate_year
from planner.store.opening import open_store
from tests.unit.report import synthetic

pytestmark = pytest.mark.thorough

TOWN, LABEL = "port_marrow", "2025-26"


@pytest.fixture(scope="module")
def halfway(sample):
    """Estimate the sample's last year as it stood on the last day of December."""
    one = sample(TOWN)
    with open_store(one.folder, read_only=True) as store:
        counts = count_year(store, one.program, LABEL, dt.date(2025, 12, 31))
    year = estimate_year(one.program, LABEL, counts, read_factors())
    return year, register_year(year)


@pytest.mark.parametrize("name", ["bins_given", "bins_in_use", "fed_t", "kept_out_of_landfill_t"])
def test_the_forecast_holds_what_the_year_came_to(sample, halfway, name):
    _, register = halfway
    forecast, true = register[f"forecast_{name}"], sample(TOWN).true_year(LABEL)[name]
    assert forecast.low <= true <= forecast.high


def test_to_date_is_what_a_whole_year_has_by_then(sample, halfway):
    year, register = halfway
    _, whole = sample(TOWN).year(LABEL)
    months = [f"2025-{month:02d}" for month in range(7, 13)]
    given = sum(whole[f"bins_given_in_month[{month}]"].value or 0.0 for month in months)
    if all(whole[f"bins_given_in_month[{month}]"].value is not None for month in months):
        assert register["bins_given"].value == given
    assert year.forecast.bins_given[0] > given
    assert register["bins_in_use"].label == "Bins in use on 31 December 2025"
    assert register["fed_t"].label == "Food scraps fed to bins in the year to 31 December 2025"


def test_nothing_is_called_missed_while_the_year_runs(sample, halfway):
    year, register = halfway
    contents = Contents(register, sample(TOWN).program, year.factor_table, {}, synthetic.quality())
    document = build_document(contents)
    judged = [
        cell.words
        for section in document.sections
        for block in section.blocks
        for row in getattr(block, "rows", ())
        for cell in row
        if getattr(block, "key", "") == "targets"
    ]
    assert judged
    assert not any(words.startswith(("missed", "close")) for words in judged)
    chance = register["on_track_share[kept_out_of_landfill_t]"].value
    draws = year.forecast.kept_out_t[1:]
    target = year.reporting_year.kept_out_of_landfill_t_target
    assert chance == pytest.approx((draws >= target).mean())


def test_a_year_that_is_over_has_no_forecast(sample):
    year, register = sample(TOWN).year(LABEL)
    assert year.forecast is None
    assert not [figure.id for figure in register if figure.id.startswith("forecast_")]
