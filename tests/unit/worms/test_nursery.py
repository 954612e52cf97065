"""Laws of a nursery bed, and plans that are the least that do."""

import datetime as dt
from dataclasses import replace

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from planner.errors import OrderError
from planner.factors import read_factors
from planner.factors.draws import draw_factors
from planner.worms.life_history import (
    COCOON_STEPS,
    FACTOR_IDS,
    JUVENILE_STEPS,
    life_history,
    pace,
)
from planner.worms.nursery_plan import (
    NURSERY_FACTOR_IDS,
    Need,
    Nursery,
    Season,
    _bed_by_day_c,
    _next_day,
    run_bed,
    seed_numbers,
)
from planner.worms.temperature import arrhenius_response
from tests.unit.worms.points import temperature_points

TABLE = read_factors()
DRAWS = 200


def drawn(names=NURSERY_FACTOR_IDS):
    rows = [TABLE.find(n, "bed") if n == "doubling_days" else TABLE.find(n) for n in names]
    return draw_factors(rows, DRAWS, seed=3)


FACTORS = drawn()
LIFE = life_history(FACTORS, FACTORS["doubling_days"])
QUIET = Season(np.ones(400), np.zeros(400, dtype=bool), np.zeros(400))
MILD = [14.0, 15.0, 17.0, 18.0, 19.0, 20.0, 20.0, 20.0, 19.0, 17.0, 15.0, 14.0]
NEEDS = [
    Need("E1", dt.date(2027, 3, 6), 20.0),
    Need("E2", dt.date(2027, 5, 8), 30.0),
    Need("E3", dt.date(2027, 9, 4), 25.0),
]


def test_the_seed_weighs_what_was_bought():
    assert run_bed(LIFE, QUIET, 7.5, 100.0).worms_kg[:, 0] == pytest.approx(7.5)


def test_the_mixed_sizes_of_a_delivery_are_those_of_a_bed_that_grows_steadily():
    """In steady growth what enters a step makes up for what leaves it and for the growth."""
    growth, juvenile = LIFE.growth_per_day, LIFE.juvenile_rate_per_day
    numbers = seed_numbers(LIFE, 3.0)
    for step in range(1, JUVENILE_STEPS):
        entering = juvenile * numbers[:, step - 1]
        assert (juvenile + growth) * numbers[:, step] == pytest.approx(entering)
    grown_up = juvenile * numbers[:, JUVENILE_STEPS - 1]
    leaving = (growth + LIFE.adult_death_per_day) * numbers[:, JUVENILE_STEPS]
    assert leaving == pytest.approx(grown_up)


def test_each_step_of_a_young_worm_weighs_what_the_growth_equation_gives_in_its_middle():
    # johnston_2014: dM/dt = k (Mm^(1/3) M^(2/3) - M), integrated apart from its solution
    one = {name: float(values[0]) for name, values in FACTORS.items()}
    energies = (one["activation_energy_ev"], one["boltzmann_ev_per_k"])
    rate = one["growth_rate_per_day"] * arrhenius_response(
        20.0, *energies, one["arrhenius_reference_c"]
    )
    largest, days = one["largest_mass_g"], one["maturity_days"]
    found = life_history(FACTORS, FACTORS["doubling_days"]).mass_kg
    steps = found.shape[1] - 1
    middles = days * np.arange(1, 2 * steps, 2) / (2 * steps)
    grown = solve_ivp(
        lambda _, mass: rate * (np.cbrt(largest) * np.cbrt(mass) ** 2 - mass),
        (0.0, days), [one["hatchling_mass_g"]], t_eval=[*middles, days], rtol=1e-9, atol=1e-12,
    ).y[0]  # fmt: skip
    wanted = grown / grown[-1] * one["adult_mass_g"] / 1000.0
    assert found[0] == pytest.approx(wanted, rel=1e-6)


def test_a_bed_never_carries_more_than_its_ceiling():
    bed = run_bed(LIFE, QUIET, 30.0, 50.0)
    assert bed.worms_kg.max() <= 50.0 + 1e-9


def test_a_full_bed_settles_where_each_adult_is_replaced_once():
    long = Season(np.ones(4000), np.zeros(4000, dtype=bool), np.zeros(4000))
    settled = run_bed(LIFE, long, 30.0, 50.0).worms_kg[:, -1]
    # hatchlings × survival × room = deaths, so room = deaths / (hatchlings × survival)
    room = LIFE.adult_death_per_day / (
        LIFE.hatchlings_per_adult_day * LIFE.hatchlings_surviving_share
    )
    assert settled == pytest.approx(50.0 * (1.0 - room), rel=1e-3)


def test_a_bed_scales_with_its_seed_and_area():
    one, ten = (run_bed(LIFE, QUIET, 3.0 * n, 40.0 * n).worms_kg for n in (1.0, 10.0))
    assert ten == pytest.approx(10.0 * one)


def test_cold_stops_growth_and_heat_ends_it():
    still = Season(np.zeros(90), np.zeros(90, dtype=bool), np.zeros(90))
    kept = run_bed(LIFE, still, 5.0, 100.0).worms_kg
    # nothing is laid, hatched or grown; adults of two years' life go on dying
    assert (np.diff(kept, axis=1) <= 0.0).all()
    assert kept[0, -1] > 5.0 * 0.85
    hot = np.zeros(90, dtype=bool)
    hot[30] = True
    ended = run_bed(LIFE, Season(np.ones(90), hot, np.zeros(90)), 5.0, 100.0).worms_kg
    assert ended[:, 31:].max() == 0.0


def test_heads_in_a_bed_are_those_of_the_morning_with_the_hatched_and_without_the_dead():
    """Law of the balance of heads: nobody leaves but adults of the morning that die."""
    rng = np.random.default_rng(7)
    cocoons = rng.uniform(0.0, 50.0, (DRAWS + 1, COCOON_STEPS))
    worms = rng.uniform(0.0, 50.0, (DRAWS + 1, JUVENILE_STEPS + 1))
    later, grown = _next_day(LIFE, 0.8, cocoons, worms, 1e9)
    through = 0.8 * LIFE.cocoon_rate_per_day * cocoons[:, -1]
    hatched = through * LIFE.hatchlings_surviving_share
    dead = LIFE.adult_death_per_day * worms[:, -1]
    balance = worms.sum(axis=1) + hatched - dead
    assert grown.sum(axis=1) == pytest.approx(balance, rel=1e-9)
    laid = 0.8 * LIFE.hatchlings_per_adult_day * worms[:, -1]
    # beside a ceiling of a million tonnes the bed is empty, and all that may be is laid
    kept = cocoons.sum(axis=1) + laid - through
    assert later.sum(axis=1) == pytest.approx(kept, rel=1e-6)


@pytest.mark.parametrize(("beyond", "chance"), [(1e-3, 0.0), (1e-6, 1.0)])
def test_a_kilogram_in_a_thousand_lacks_and_a_gram_in_a_tonne_does_not(beyond, chance):
    days = 30
    cold = Season(np.zeros(days), np.zeros(days, dtype=bool), np.zeros(days))
    there = nursery()._run(cold, 50.0).worms_kg[1:, -1]
    wanted = np.zeros(days)
    wanted[-1] = (there.max() if chance == 0.0 else there.min()) * (1.0 + beyond)
    season = replace(cold, wanted_kg=wanted)
    assert nursery()._chance(season, 50.0) == chance


def test_what_is_wanted_is_harvested_or_lacking():
    wanted = np.zeros(120)
    wanted[[40, 80, 119]] = [2.0, 6.0, 9.0]
    bed = run_bed(LIFE, Season(np.ones(120), np.zeros(120, dtype=bool), wanted), 6.0, 100.0)
    assert bed.harvested_kg + bed.lacking_kg == pytest.approx(
        np.broadcast_to(wanted, (DRAWS + 1, 120))
    )
    assert bed.worms_kg.min() >= 0.0


def test_a_smaller_harvest_never_leaves_fewer_worms():
    stocks = []
    for taken in (0.0, 1.0, 3.0):
        wanted = np.zeros(200)
        wanted[100] = taken
        season = Season(np.ones(200), np.zeros(200, dtype=bool), wanted)
        stocks.append(run_bed(LIFE, season, 6.0, 1e6).worms_kg[:, -1])
    assert (np.diff(stocks, axis=0) < 0.0).all()


def test_pace_is_full_at_twenty_degrees_and_nothing_at_the_limits():
    points = temperature_points(TABLE)
    found = pace([4.0, 10.0, 20.0, 25.0, 30.0, 35.0], points, drawn(FACTOR_IDS))
    assert found[[0, 2, 3, 5]] == pytest.approx([0.0, 1.0, 1.0, 0.0])
    assert 0.0 < found[1] < 0.6
    assert found[4] == pytest.approx(0.5)


def nursery(area_m2=60.0, chance=0.9):
    return Nursery(MILD, FACTORS, area_m2, chance)


def test_a_bed_as_hot_as_worms_bear_counts_as_too_hot():
    limit = float(FACTORS["feeding_highest_c"][0])
    for bed_c, is_too_hot in ((limit, True), (limit - 0.1, False)):
        season = Nursery((bed_c,) * 12, FACTORS, 60.0, 0.9).season(dt.date(2026, 9, 1), NEEDS)
        assert season.is_deadly.all() == is_too_hot


def test_the_plan_meets_its_needs_and_a_twentieth_less_does_not():
    found = nursery().plan(dt.date(2026, 9, 1), NEEDS)
    assert found.chance >= 0.9
    # of all draws, and of no fewer
    assert found.chance < 1.0
    assert found.chance * DRAWS == pytest.approx(round(found.chance * DRAWS))
    season = nursery().season(dt.date(2026, 9, 1), NEEDS)
    assert nursery()._chance(season, found.seed_kg * 0.95) < 0.9
    assert np.all(found.ready_kg[0] >= [need.worms_kg for need in NEEDS])


def test_worms_that_multiply_for_a_year_take_less_than_half_as_much_seed():
    need = [Need("E1", dt.date(2027, 9, 4), 25.0)]
    found = nursery().plan(dt.date(2026, 9, 1), need)
    assert found.seed_kg < 25.0 / 2.0
    season = nursery().season(dt.date(2026, 9, 1), need)
    assert nursery()._chance(season, found.seed_kg * 0.95) < 0.9


def test_more_certainty_and_a_later_start_take_more_seed():
    seeds = [nursery(chance=c).plan(dt.date(2026, 9, 1), NEEDS).seed_kg for c in (0.5, 0.8, 0.95)]
    assert seeds == sorted(seeds)
    later = nursery().plan(dt.date(2027, 2, 1), NEEDS).seed_kg
    assert later > nursery().plan(dt.date(2026, 9, 1), NEEDS).seed_kg


def test_a_need_the_day_after_seeding_takes_as_much_seed():
    need = [Need("E1", dt.date(2027, 3, 2), 10.0)]
    found = nursery(chance=0.99).plan(dt.date(2027, 3, 1), need)
    assert found.seed_kg == pytest.approx(10.0, rel=0.02)


def test_too_small_a_bed_says_what_lacks():
    with pytest.raises(OrderError, match=r"3 m² of bed cannot give 75 kg"):
        nursery(area_m2=3.0).plan(dt.date(2026, 9, 1), NEEDS)


def test_a_hand_over_before_the_seeding_is_named():
    with pytest.raises(OrderError, match="E1 is on 6 March 2027"):
        nursery().plan(dt.date(2027, 4, 1), NEEDS)


def test_the_bed_warms_in_a_line_from_the_middle_of_december_to_that_of_january():
    """31 days lie between: the last of December is 16 of them on, 1 January 17."""
    days = [dt.date(2026, 12, 15), dt.date(2026, 12, 31), dt.date(2027, 1, 1), dt.date(2027, 1, 15)]
    found = _bed_by_day_c([31.0, *[0.0] * 11], days)
    assert found == pytest.approx([0.0, 16.0, 17.0, 31.0])
