"""Spares: least quantities by the exact law, against scipy and against every outcome."""

from __future__ import annotations

import itertools

import numpy as np
import pytest
from scipy import stats

from planner.ordering.demand import live_show_ups, sent_kg_for
from planner.ordering.spares import (
    Supply,
    demand_pmf,
    enough_probability,
    overall_probability,
    raise_level,
    schedule,
)


@pytest.mark.parametrize("booked", [1, 12, 50, 400])
@pytest.mark.parametrize("level", [0.5, 0.9, 0.95, 0.999])
def test_without_breakage_the_need_is_the_binomial_quantile(booked, level):
    expected = int(stats.binom.ppf(level, booked, 0.85))
    assert Supply(demand_pmf([booked], 0.85), 1.0, 0).needed_count(level) == expected


def test_sums_of_like_binomials_are_one_binomial():
    pmf = demand_pmf([30, 45], 0.8)
    assert pmf == pytest.approx(stats.binom.pmf(np.arange(76), 75, 0.8), abs=1e-14)


@pytest.mark.parametrize(("bought", "in_stock"), [(3, 0), (4, 0), (2, 2)])
def test_the_chance_of_enough_counts_every_outcome(bought, in_stock):
    booked, comes, usable = 3, 0.7, 0.8
    chance = 0.0
    for people in itertools.product((0, 1), repeat=booked):
        for bins in itertools.product((0, 1), repeat=bought):
            weight = np.prod([comes if one else 1 - comes for one in people])
            weight *= np.prod([usable if one else 1 - usable for one in bins])
            chance += weight * (in_stock + sum(bins) >= sum(people))
    found = enough_probability(bought, usable, demand_pmf([booked], comes), in_stock)
    assert found == pytest.approx(chance, abs=1e-12)


def test_one_bin_fewer_would_not_be_enough():
    pmf = demand_pmf([120], 0.85)
    count = Supply(pmf, 0.97, 0).needed_count(0.95)
    assert enough_probability(count, 0.97, pmf) >= 0.95
    assert enough_probability(count - 1, 0.97, pmf) < 0.95


def test_stock_that_is_enough_needs_nothing_bought():
    assert Supply(demand_pmf([10], 0.85), 0.97, 10).needed_count(0.95) == 0


def test_no_usable_bins_are_refused():
    with pytest.raises(ValueError, match="usable_share"):
        Supply(demand_pmf([5], 0.5), 0.0, 0)


def test_the_overall_chance_counts_every_outcome_of_two_events():
    bought, booked, comes, usable = [2, 4], [2, 3], 0.6, 0.9
    chance = 0.0
    for people in itertools.product((0, 1), repeat=5):
        for bins in itertools.product((0, 1), repeat=4):
            weight = np.prod([comes if one else 1 - comes for one in people])
            weight *= np.prod([usable if one else 1 - usable for one in bins])
            first = sum(bins[:2]) - sum(people[:2])
            chance += weight * (first >= 0 and first + sum(bins[2:]) - sum(people[2:]) >= 0)
    assert overall_probability(bought, usable, booked, comes) == pytest.approx(chance, abs=1e-12)


def test_the_overall_chance_agrees_with_many_simulated_seasons():
    rng = np.random.default_rng(20260301)
    booked, bought, seasons = np.array([40, 25, 60]), np.array([40, 62, 118]), 200_000
    usable = rng.binomial(np.diff(bought, prepend=0), 0.97, (seasons, 3))
    came = rng.binomial(booked, 0.85, (seasons, 3))
    enough = np.all(np.cumsum(usable - came, axis=1) >= 0, axis=1).mean()
    found = overall_probability(bought, 0.97, booked, 0.85)
    assert found == pytest.approx(enough, abs=4 * np.sqrt(0.25 / seasons))


def test_a_schedule_keeps_both_levels_and_no_common_level_below_does():
    booked = np.array([30, 30, 30, 30])
    plan = schedule(booked, 0.85, 0.0, 0.97, 0.9, 0.95)
    for until, bought in enumerate(plan.bought_count, start=1):
        assert enough_probability(bought, 0.97, demand_pmf(booked[:until], 0.85)) >= 0.9
    assert plan.overall_level >= 0.95
    assert np.all(np.diff(plan.bought_count) >= 0)
    fewer = plan.bought_count - 1
    assert overall_probability(fewer, 0.97, booked, 0.85) < plan.overall_level


def test_a_level_that_is_enough_as_it_is_is_not_raised():
    assert raise_level(lambda level: level, 0.9, 0.8) == 0.9


def test_worms_for_independent_events_keep_the_product():
    counts, levels = live_show_ups(np.array([40, 25, 60]), 0.85, 0.9, 0.95)
    assert float(np.prod(levels)) >= 0.95
    assert np.all(stats.binom.cdf(counts, [40, 25, 60], 0.85) >= levels)
    assert np.all(stats.binom.cdf(counts - 1, [40, 25, 60], 0.85) < levels)


def test_a_sure_loss_divides_the_mass():
    kilos = stats.binom.ppf(0.95, 80, 0.85) * 0.45
    assert sent_kg_for(80, 0.85, 0.45, 0.95, np.array([0.9])) == pytest.approx(kilos / 0.9)


def test_an_unsure_loss_asks_for_more_than_its_mean():
    unsure = sent_kg_for(80, 0.85, 0.45, 0.95, np.array([0.8, 1.0]))
    sure = sent_kg_for(80, 0.85, 0.45, 0.95, np.array([0.9]))
    assert unsure > sure
    households = np.floor(unsure * np.array([0.8, 1.0]) / 0.45 + 1e-9)
    assert stats.binom.cdf(households, 80, 0.85).mean() >= 0.95


def test_days_that_differ_ask_for_more_spares_and_keep_their_level_in_a_simulation():
    """Shares of days from a Beta of mean 0.8 and correlation 0.05, drawn by numpy."""
    booked, level = np.array([60, 60, 60]), 0.95
    alike = schedule(booked, 0.8, 0.0, 1.0, level, 0.9)
    differing = schedule(booked, 0.8, 0.05, 1.0, level, 0.9)
    assert (differing.bought_count >= alike.bought_count).all()
    assert differing.bought_count[0] > alike.bought_count[0]
    rng = np.random.default_rng(4)
    shares = rng.beta(0.8 * 19, 0.2 * 19, (200_000, 3))
    taken = np.cumsum(rng.binomial(booked, shares), axis=1)
    never_short = (taken <= differing.bought_count).all(axis=1).mean()
    assert never_short == pytest.approx(differing.overall_level, abs=0.004)
    assert (taken[:, 0] <= differing.bought_count[0]).mean() >= level - 0.002
