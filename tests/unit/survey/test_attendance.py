"""The law of who comes: exact where it is known, and it keeps its promise where days differ."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from planner.survey.attendance import attendance_law, thinned_likeness, turnout


def beyond(law, booked):
    """Probability that more than 0, 1 and so on come."""
    return [law.beyond_probability(booked, places) for places in range(booked)]


def test_a_share_that_is_certain_gives_the_binomial():
    # scipy's binomial: the largest n with P(more than 50 come) of at most 5% at 85%
    law = attendance_law([], [], 0.85, prior_bookings=1e9)
    wanted = max(n for n in range(50, 80) if stats.binom.sf(50, n, 0.85) <= 0.05)
    assert law.most_bookings(50, 0.05) == wanted
    assert beyond(law, 54) == pytest.approx(stats.binom.sf(np.arange(54), 54, 0.85), abs=1e-6)


def test_without_days_the_law_is_the_beta_binomial_of_the_stated_share():
    # scipy's beta-binomial, a Beta(17, 3) for 85% worth twenty bookings
    law = attendance_law([], [], 0.85)
    wanted = stats.betabinom.sf(np.arange(40), 40, 17, 3)
    assert beyond(law, 40) == pytest.approx(wanted, abs=1e-9)
    assert law.expected_share == pytest.approx(0.85, abs=1e-3)


def test_days_that_are_alike_give_the_conjugate_posterior():
    # with the likeness set to nothing, a Beta(17, 3) and 83 of 100 make a Beta(100, 20)
    law = attendance_law([83], [100], 0.85)
    alone = law.likeness == 0.0
    mean = law.share[alone] @ law.weight[alone] / law.weight[alone].sum()
    assert mean == pytest.approx(100 / 120, abs=1e-6)


def test_days_that_differ_leave_room_for_fewer_places_beyond_those_there_are():
    alike = attendance_law([80] * 12, [100] * 12, 0.8)
    differing = attendance_law([62, 95, 70, 91, 66, 96, 75, 85, 64, 93, 72, 91], [100] * 12, 0.8)
    assert alike.expected_share == pytest.approx(differing.expected_share, abs=0.02)
    assert differing.most_bookings(80, 0.05) < alike.most_bookings(80, 0.05)


def test_a_full_house_is_never_beyond_its_places():
    assert attendance_law([], [], 0.9).beyond_probability(40, 40) == 0.0
    assert attendance_law([], [], 1.0).most_bookings(40, 0.05) == 40


@pytest.mark.parametrize("likeness", [0.0, 0.03])
def test_more_come_than_places_no_oftener_than_was_said(likeness):
    """Councils simulated apart: shares of their own, days alike or not, ten days of record."""
    rng = np.random.default_rng(11)
    missed, said = [], []
    for _ in range(100):
        share = rng.beta(17, 3)
        size = 1.0 / likeness - 1.0 if likeness else 1e9
        of_days = rng.beta(share * size, (1.0 - share) * size, 11)
        came = rng.binomial(60, of_days[:10])
        law = attendance_law(came, np.full(10, 60), 0.85)
        booked = law.most_bookings(50, 0.1)
        missed.append(rng.binomial(booked, of_days[10]) > 50)
        said.append(law.beyond_probability(booked, 50))
    # three standard deviations of so many councils
    assert np.mean(missed) <= 0.1 + 3.0 * np.sqrt(0.1 * 0.9 / 100)
    assert abs(np.mean(missed) - np.mean(said)) <= 3.0 * np.sqrt(0.1 * 0.9 / 100)


def test_turnout_is_the_binomial_of_scipy_or_its_beta_binomial():
    came = np.arange(31)
    assert turnout(30, 0.8).pmf(came) == pytest.approx(stats.binom.pmf(came, 30, 0.8))
    # a correlation of 1/25 is a Beta whose two parameters add up to 24
    wanted = stats.betabinom.pmf(came, 30, 0.8 * 24, 0.2 * 24)
    assert turnout(30, 0.8, 0.04).pmf(came) == pytest.approx(wanted)


def test_a_thinned_turnout_has_the_mean_and_variance_of_the_law_it_stands_for():
    """Simulated apart: a day's share from a Beta, who comes, and who of them takes the item."""
    rng = np.random.default_rng(3)
    day = rng.beta(0.8 * 24, 0.2 * 24, 400_000)
    taken = rng.binomial(rng.binomial(30, day), 0.6)
    law = turnout(30, 0.48, thinned_likeness(0.8, 0.04, 0.48))
    assert law.mean() == pytest.approx(taken.mean(), abs=0.02)
    assert law.var() == pytest.approx(taken.var(), rel=0.01)
