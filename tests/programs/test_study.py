"""The study of coverage reads the same figures as the report."""

from __future__ import annotations

import pytest

from planner.figures import interval
from tests.benchmarks.councils.council import (
    AREA_FIGURES,
    FIGURES,
    area_figures_of,
    feed_factors,
    figures_of,
)
from tests.benchmarks.councils.table import chance_range, find, find_areas

TOWN, LABEL = "valdorra", "2025"


def test_the_study_s_figures_are_the_report_s(sample):
    year, register = sample(TOWN).year(LABEL)
    found = figures_of(year.diversion, year.counts, year.program)
    for name in FIGURES:
        figure = register[name]
        shown = (figure.value, figure.low, figure.high)
        assert interval(found[name]) == pytest.approx(shown, rel=1e-9), name


def test_the_study_s_areas_are_those_of_the_report(sample):
    year, register = sample(TOWN).year(LABEL)
    found = area_figures_of(year.diversion, year.counts, year.program, interval)
    for name in AREA_FIGURES:
        printed = {
            area_id: (figure.value, figure.low, figure.high)
            for area_id in year.counts.areas["area_id"]
            if (figure := register[f"{name}[{area_id}]"]).value is not None
        }
        assert set(found[name]) == set(printed), name
        for area_id, shown in printed.items():
            assert tuple(found[name][area_id]) == pytest.approx(shown, rel=1e-9), area_id


def test_the_study_draws_the_report_s_factors(sample):
    year = sample(TOWN).year(LABEL)[0]
    drawn = feed_factors(year.program)
    assert set(drawn) == {factor.factor_id for factor in year.feed_factors}
    for factor in year.feed_factors:
        assert drawn[factor.factor_id][0] == pytest.approx(factor.value)


def test_coverage_bias_and_width_are_those_of_a_hand_worked_case():
    # value, low, high, truth of two councils: errors +0.1 and -0.3 of the truth
    rows = [
        {"figures": {"fed_t": [11.0, 9.0, 13.0, 10.0]}},
        {"figures": {"fed_t": [7.0, 6.0, 8.0, 10.0]}},
    ]
    found = find(rows, "fed_t")
    spread = 0.2 * 2**0.5  # standard deviation of +0.1 and -0.3
    assert found.held == 0.5
    assert found.mean_error == pytest.approx(-0.1)
    assert found.bias == pytest.approx(-0.1 / spread)
    assert found.half_width == pytest.approx(0.15)
    assert found.width_ratio == pytest.approx(0.15 / (1.96 * spread))


def test_areas_of_a_council_err_together():
    # errors of two areas +0.2 in one council, -0.2 in the other: as two councils, not as four
    alike = [{"areas": {"fed_t": [[v, 9.0, 11.0, 10.0]] * 2}} for v in (12.0, 8.0)]
    found = find_areas(alike, "fed_t")
    spread = 0.2 * (4 / 3) ** 0.5  # standard deviation of +0.2, +0.2, -0.2 and -0.2
    assert found.held == 1.0
    assert found.bias_error * spread == pytest.approx(0.2 * 2**0.5 / 2**0.5)
    assert find_areas([{"areas": {}}], "fed_t") is None


def test_chance_is_told_by_wilson_s_interval():
    # Agresti and Coull (1998), American Statistician 52, 119-126: the interval of 10 in 10
    # begins at 1 / (1 + z²/n).
    low, high = chance_range(1.0, 10)
    assert low == pytest.approx(1 / (1 + 1.96**2 / 10))
    assert high == pytest.approx(1.0)
