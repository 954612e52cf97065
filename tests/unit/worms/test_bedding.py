"""The cheapest bedding: laws of the balance, small recipes searched in full, what clashes."""

import itertools
from types import SimpleNamespace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from planner.errors import EstimateError, OrderError
from planner.factors import read_factors
from planner.worms.bedding import bedding_for_moisture_kg, bedding_for_ratio_kg, material, mix
from planner.worms.bedding_recipe import Recipe, Supply, _best_ratio, cheapest_mix

TABLE = read_factors()
CARD, COIR, LEAVES, MANURE = (
    material(TABLE, name)
    for name in ("corrugated_cardboard", "coir", "shredded_leaves", "horse_manure")
)
MASS = st.floats(0.0, 1e4)


@given(st.lists(MASS, min_size=3, max_size=3).filter(lambda masses: sum(masses) > 0.1), MASS)
def test_mass_and_water_balance_to_the_gram(masses, water_kg):
    made = mix([CARD, COIR, LEAVES], masses, water_kg)
    assert made.mass_kg == pytest.approx(sum(masses) + water_kg, abs=1e-3)
    dry = sum(
        mass * (1 - one.moisture_share)
        for mass, one in zip(masses, (CARD, COIR, LEAVES), strict=True)
    )
    assert made.mass_kg * (1 - made.moisture_share) == pytest.approx(dry, abs=1e-3)


@given(st.floats(0.1, 1e3))
def test_a_mix_scales_with_its_masses(times):
    one, many = (mix([CARD, MANURE], np.array([2.0, 3.0]) * n) for n in (1.0, times))
    assert many.moisture_share == pytest.approx(one.moisture_share)
    assert many.carbon_to_nitrogen_ratio == pytest.approx(one.carbon_to_nitrogen_ratio)


def test_splitting_a_material_changes_nothing():
    whole, halves = mix([CARD, COIR], [2.0, 1.0]), mix([CARD, CARD, COIR], [0.5, 1.5, 1.0])
    assert (halves.moisture_share, halves.carbon_to_nitrogen_ratio) == pytest.approx(
        (whole.moisture_share, whole.carbon_to_nitrogen_ratio)
    )


def test_bedding_no_richer_than_the_wanted_ratio_never_lifts_a_mix_to_it():
    assert bedding_for_ratio_kg([MANURE], [1.0], CARD, CARD.carbon_to_nitrogen_ratio) == np.inf
    assert bedding_for_moisture_kg([MANURE], [1.0], COIR, COIR.moisture_share) == np.inf


def test_scraps_that_are_dry_and_rich_enough_need_no_bedding():
    dry = CARD
    assert bedding_for_moisture_kg([dry], [10.0], dry, 0.99) == 0.0
    assert bedding_for_ratio_kg([dry], [10.0], dry, 1.0) == 0.0


def test_a_mass_below_nothing_is_refused():
    with pytest.raises(EstimateError, match="none below 0"):
        mix([CARD], [-1.0])


SUPPLIES = [
    Supply(CARD, 0.0, 4.0),
    Supply(COIR, 1.6),
    Supply(LEAVES, 0.4, 20.0),
    Supply(MANURE, 0.1),
]
RECIPE = Recipe(
    300.0,
    0.75,
    carbon_to_nitrogen_low=50.0,
    carbon_to_nitrogen_high=120.0,
    most_volume_share={"corrugated_cardboard": 0.4},
    least_volume_share={"coir": 0.3},
)


def keeps(made, recipe, masses):
    litres = np.array([one.material.litres_per_kg for one in SUPPLIES]) * masses
    return (
        made.volume_litres >= recipe.volume_litres - 1e-6
        and made.moisture_share <= recipe.moisture_share + 1e-9
        and recipe.carbon_to_nitrogen_low - 1e-6 <= made.carbon_to_nitrogen_ratio
        and made.carbon_to_nitrogen_ratio <= recipe.carbon_to_nitrogen_high + 1e-6
        and litres[0] <= 0.4 * litres.sum() + 1e-6
        and litres[1] >= 0.3 * litres.sum() - 1e-6
    )


def test_no_mix_of_a_full_search_is_cheaper():
    found = cheapest_mix(SUPPLIES, RECIPE)
    materials = [one.material for one in SUPPLIES]
    assert keeps(mix(materials, found.masses_kg), RECIPE, found.masses_kg)
    grids = (
        np.arange(0, 4.01, 0.5),
        np.arange(0, 24.1, 0.75),
        np.arange(0, 20.1, 1.0),
        np.arange(0, 40.1, 4.0),
    )
    prices = np.array([one.price_per_kg for one in SUPPLIES])
    costs = [
        float(prices @ masses)
        for masses in map(np.array, itertools.product(*grids))
        if masses.sum() > 0 and keeps(mix(materials, masses), RECIPE, masses)
    ]
    assert costs
    assert found.cost <= min(costs) + 1e-9
    # and the search comes near it, so that the program is not merely too cheap
    assert min(costs) <= found.cost * 1.15


def test_watered_mix_has_the_wanted_moisture():
    made = cheapest_mix(SUPPLIES, RECIPE)
    assert made.watered.moisture_share == pytest.approx(0.75)
    assert made.watered.mass_kg == pytest.approx(made.masses_kg.sum() + made.water_kg)


def test_free_material_goes_first():
    free, bought = Supply(COIR, 0.0, 2.0), Supply(COIR, 1.5)
    made = cheapest_mix([bought, free], Recipe(100.0, 0.75))
    assert made.masses_kg[1] == pytest.approx(2.0)
    assert made.cost == pytest.approx(1.5 * (100.0 / COIR.litres_per_kg - 2.0))


def test_too_little_to_be_had_says_how_much_can_be_made():
    with pytest.raises(OrderError, match="at most 100 litres can be made, 300 are wanted"):
        cheapest_mix([Supply(CARD, 0.0, 6.0)], Recipe(300.0, 0.75))


def test_a_band_that_no_mix_reaches_says_where_it_must_be():
    # horse manure has 30, cardboard 560: with no more than these, 20 cannot be reached
    with pytest.raises(OrderError, match="C:N at most: raise it to 30"):
        cheapest_mix(
            [Supply(CARD, 0.0), Supply(MANURE, 0.0)],
            Recipe(100.0, 0.75, carbon_to_nitrogen_high=20.0),
        )


def test_two_bands_that_clash_are_both_named_and_either_change_mends_it():
    supplies = [Supply(CARD, 0.0), Supply(COIR, 1.0)]
    wanted = Recipe(
        100.0, 0.75, carbon_to_nitrogen_high=120.0, least_volume_share={"corrugated_cardboard": 0.5}
    )
    with pytest.raises(OrderError) as told:
        cheapest_mix(supplies, wanted)
    lines = str(told.value).splitlines()[1:]
    assert [line.split(":")[0].strip() for line in lines] == [
        "C",
        "share of corrugated cardboard at least",
    ]
    ratio = float(lines[0].rsplit(" ", 1)[1])
    share = float(lines[1].rsplit(" ", 1)[1])
    cheapest_mix(
        supplies,
        Recipe(
            100.0,
            0.75,
            carbon_to_nitrogen_high=ratio * 1.01,
            least_volume_share={"corrugated_cardboard": 0.5},
        ),
    )
    cheapest_mix(
        supplies,
        Recipe(
            100.0,
            0.75,
            carbon_to_nitrogen_high=120.0,
            least_volume_share={"corrugated_cardboard": share * 0.99},
        ),
    )
    with pytest.raises(OrderError):
        cheapest_mix(
            supplies,
            Recipe(
                100.0,
                0.75,
                carbon_to_nitrogen_high=ratio * 0.98,
                least_volume_share={"corrugated_cardboard": 0.5},
            ),
        )


@given(st.floats(0.0, 2.0), st.floats(0.0, 2.0))
def test_a_dearer_material_never_makes_a_cheaper_mix(price, more):
    cost = [
        cheapest_mix(
            [Supply(CARD, 0.3), Supply(COIR, p)], Recipe(100.0, 0.75, carbon_to_nitrogen_high=150.0)
        ).cost
        for p in (price, price + more)
    ]
    assert cost[0] <= cost[1] + 1e-9


def test_the_best_share_is_what_there_is_of_the_rich_material_in_the_mass_that_is_wanted():
    # at most 2 kg of the one in at least 10 kg: a fifth
    supplies = [SimpleNamespace(most_kg=2.0), SimpleNamespace(most_kg=np.inf)]
    mass = SimpleNamespace(row=np.array([-1.0, -1.0]), limit=-10.0)
    best = _best_ratio(np.array([1.0, 0.0]), np.ones(2), [mass], supplies, is_floor=True)
    assert best == pytest.approx(0.2)
