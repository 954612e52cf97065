"""Audited change beside the surveyed one: values by hand, and what is said when."""

import datetime as dt
from types import SimpleNamespace

import numpy as np
import polars as pl
import pytest

from planner.diversion.cohorts import Cohorts
from planner.diversion.leakage import Leakage
from planner.figures import FigureRegister
from planner.report.figures import CATALOGUE
from planner.report.figures.weighings import AUDITED, DETECTABLE, GAP, PLACEBO, SURVEYED, add_audit
from planner.report.figures.writer import Writer
from tests.prose import HIDDEN
from tests.unit.report.years import YearOf

DRAWS = 2000
MONTHS = tuple(dt.date(2025, month, 1) for month in range(1, 13))
BEFORE, AFTER = dt.date(2024, 11, 4), dt.date(2025, 10, 6)


def visit(arm, cluster, period, food_kg, households=10, number=1):
    day = AFTER if period == "after" else BEFORE - dt.timedelta(days=90 * (number - 1))
    return arm, "A", cluster, period, number, day, households, food_kg


def frame(*rows):
    names = "arm area_id cluster_id period visit_number audit_date households_count food_kg"
    return pl.DataFrame(rows, schema=names.split(), orient="row")


# changes of -2 and 0 where given, 0 and 2 in comparison [kg per household and week]
FOUR = frame(
    visit("given", "1", "before", 40.0),
    visit("given", "1", "after", 20.0),
    visit("given", "2", "before", 30.0),
    visit("given", "2", "after", 30.0),
    visit("comparison", "3", "before", 30.0),
    visit("comparison", "3", "after", 30.0),
    visit("comparison", "4", "before", 30.0),
    visit("comparison", "4", "after", 50.0),
)


def register_of(visits, surveyed_kg_per_household_week=2.0):
    """Register the audit of a year in which 100 households hold bins since January."""
    given = np.zeros((12, 1, 3))
    given[0, 0, 0] = 100
    cohorts = Cohorts(MONTHS, ("A",), given)
    by_route = np.zeros((1 + DRAWS, 5, 12))
    by_route[:, 0] = surveyed_kg_per_household_week * 100 * cohorts.weeks
    year = YearOf(
        counts=SimpleNamespace(audits=visits),
        diversion=SimpleNamespace(
            cohorts=cohorts,
            fed_by_route_kg=by_route,
            fed_kg=by_route.sum(axis=1),
            leakage=Leakage(np.zeros(1 + DRAWS), np.zeros(1 + DRAWS), {}),
        ),
        program=SimpleNamespace(
            method=SimpleNamespace(seed=5, draws_count=DRAWS),
            privacy=SimpleNamespace(small_cell_threshold=10),
        ),
    )
    register = FigureRegister("Brackwell Council (invented)", "2025", "0")
    add_audit(Writer(register, year, CATALOGUE))
    return register


def test_four_clusters_by_hand():
    figure = register_of(FOUR)[AUDITED]
    assert figure.value == pytest.approx(-2.0)
    # standard error √2 with 2 degrees of freedom; t(0.975, 2) = 4.303 in any printed table
    assert figure.low == pytest.approx(-2.0 - 4.303 * 2**0.5, abs=0.1)
    assert figure.high == pytest.approx(-2.0 + 4.303 * 2**0.5, abs=0.1)
    # of the 6 splits of -2, 0, 0, 2 in two pairs, 4 have pairs that differ by as much
    assert "all 6 splits" in figure.method
    assert "0.67 over all" in figure.method


def test_the_smallest_change_that_could_be_found():
    # (4.303 + t(0.8, 2) = 1.061) × √2, from a printed table of t
    assert register_of(FOUR)[DETECTABLE].value == pytest.approx((4.303 + 1.061) * 2**0.5, abs=2e-3)


def test_the_gap_is_the_one_less_the_other():
    register = register_of(FOUR, surveyed_kg_per_household_week=1.5)
    assert register[SURVEYED].value == pytest.approx(-1.5)
    assert register[GAP].value == pytest.approx(-0.5)
    assert "agree: zero lies" in register[GAP].method


def test_a_survey_far_from_the_audit_does_not_agree():
    register = register_of(FOUR, surveyed_kg_per_household_week=30.0)
    assert "do not agree" in register[GAP].method
    assert "less taken out" in register[GAP].method
    other = register_of(FOUR, surveyed_kg_per_household_week=-30.0)
    assert "more taken out" in other[GAP].method


def test_no_audit_has_no_figures():
    assert list(register_of(FOUR.clear())) == []


def test_one_cluster_in_an_arm_says_what_is_missing():
    register = register_of(FOUR.filter(pl.col("cluster_id") != "4"))
    assert register[AUDITED].value is None
    assert "an interval needs 2 of each" in register[AUDITED].method


def test_an_arm_of_fewer_households_than_the_threshold_is_hidden():
    few = FOUR.with_columns(
        households_count=pl.when(pl.col("arm") == "given")
        .then(4)
        .otherwise(pl.col("households_count"))
    )
    register = register_of(few)
    assert {figure.method for figure in register} == {HIDDEN}
    assert all(figure.value is None for figure in register)


def test_two_visits_before_tell_whether_the_arms_went_alike():
    earlier = FOUR.filter(pl.col("period") == "before").with_columns(
        visit_number=pl.lit(2, pl.Int64), audit_date=pl.lit(BEFORE - dt.timedelta(days=90))
    )
    register = register_of(pl.concat([FOUR, earlier.select(FOUR.columns)]))
    assert register[PLACEBO].value == pytest.approx(0.0)
    assert PLACEBO not in register_of(FOUR)
