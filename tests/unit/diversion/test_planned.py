"""Planned bins follow the curves of the measured estimate, and closed forms where there are."""

from __future__ import annotations

import datetime as dt
from types import SimpleNamespace

import numpy as np
import pytest

from planner.diversion.cohorts import Cohorts, by_month, months_between
from planner.diversion.feed_share import FACTOR_IDS
from planner.diversion.planned import one_bin, planned_capacity
from planner.factors import read_factors
from planner.factors.draws import draw_factors
from planner.paths import TEMPLATES
from planner.program import read_program
from tests.unit.diversion.planned_feed import planned_fed_kg
from tests.unit.survey.alone import weibull_curve

PROGRAM = read_program(TEMPLATES / "program.toml")
TEMPERATURES = PROGRAM.climate.monthly_mean_temperature_c
TABLE = read_factors()
MONTHS = months_between(dt.date(2026, 7, 1), dt.date(2029, 7, 1))
DRAWS = 20


def worms(draws=DRAWS):
    return draw_factors([*map(TABLE.of_new_bin, FACTOR_IDS)], draws, 7)


def capacity(demand=1.0, draws=DRAWS):
    return planned_capacity(
        PROGRAM.bin_models[0], TEMPERATURES, np.full(draws + 1, demand), worms(draws)
    )


def curve(draws=DRAWS):
    rng = np.random.default_rng(3)
    return weibull_curve(rng.uniform(20, 60, draws + 1), rng.uniform(0.5, 1.2, draws + 1))


def test_planned_bins_do_what_the_measured_estimate_says_of_the_same_bins():
    given = np.zeros((len(MONTHS), 2, 3))
    given[[1, 1, 6], [0, 1, 0], 0] = [40.0, 25.0, 10.0]
    cohorts = Cohorts(tuple(MONTHS), ("A", "B"), given)
    feed = np.linspace(0.6, 1.4, DRAWS + 1)
    estimates = SimpleNamespace(retention=(curve(),), kg_per_in_use_bin_week=feed[:, None])
    even = np.ones((DRAWS + 1, len(MONTHS)))
    levels = SimpleNamespace(ratios=even, by_month=lambda _: even)
    routes = np.zeros((DRAWS + 1, 2, 1, 5))
    sums = by_month(cohorts, estimates, levels, capacity(), routes, estimates.retention)
    # before their hand-over bins are in use nowhere, and when it ends most of the first month's are
    assert (sums.bins_in_use[:, 0] == 0.0).all()
    assert (sums.bins_in_use[:, 1] > 0.0).all()
    assert (sums.bins_in_use[:, 1] <= 65.0).all()
    assert (np.diff(sums.bins_in_use[:, 1:6], axis=1) < 0.0).all()
    expected = np.einsum("dmc,ca->dam", sums.kg_per_bin[0], given[:, :, 0])
    np.testing.assert_allclose(sums.fed_kg, expected.sum(axis=1), rtol=1e-12)

    one = one_bin(MONTHS, [MONTHS[1], MONTHS[6]], curve(), capacity())
    bins = np.array([[40.0, 10.0], [25.0, 0.0]])
    planned = planned_fed_kg(bins, one.full_feed_weeks, np.stack([feed, feed], axis=1))
    np.testing.assert_allclose(planned, expected, rtol=1e-12)


def test_a_bin_that_nobody_gives_up_is_in_use_all_the_weeks_since_its_hand_over():
    for_ever = weibull_curve(np.full(1, 1e12), np.ones(1))
    one = one_bin(MONTHS, [MONTHS[0], MONTHS[12]], for_ever, capacity(draws=0))
    days = (dt.date(2029, 7, 1) - dt.date(2026, 7, 1)).days
    # half of July 2026 passes before the hand-over
    assert one.in_use_weeks[0, :, 0].sum() == pytest.approx((days - 31 / 2) / 7)
    assert one.weeks_there[:, 0].sum() == pytest.approx((days - 31 / 2) / 7)
    assert one.in_use_weeks[0, :12, 1].sum() == 0.0


def test_a_constant_hazard_leaves_the_exponential_share():
    one = one_bin(
        MONTHS, [MONTHS[0]], weibull_curve(np.array([24.0]), np.ones(1)), capacity(draws=0)
    )
    share = one.in_use_weeks[0, :, 0] / one.weeks_there[:, 0]
    assert share[1:] == pytest.approx(np.exp(-np.arange(1, len(MONTHS)) / 24.0))


def test_nothing_is_fed_beyond_the_service_life_and_never_more_than_in_use():
    one = one_bin(MONTHS, [MONTHS[0]], curve(), capacity(), service_life_months=12.0)
    assert (one.in_use_weeks[:, 12:] == 0.0).all()
    assert (one.in_use_weeks[:, 1:12] > 0.0).all()
    assert (one.full_feed_weeks <= one.in_use_weeks + 1e-12).all()


def test_a_household_that_feeds_little_is_never_held_up_by_its_worms():
    one = one_bin(MONTHS, [MONTHS[0]], curve(), capacity(demand=1e-6))
    np.testing.assert_allclose(one.full_feed_weeks, one.in_use_weeks)
