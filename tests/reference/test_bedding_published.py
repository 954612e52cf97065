"""Moisture and C:N of mixes against published and recomputed worked examples.

- C1, C2: Cornell Waste Management Institute, "Composting in the Classroom" calculations,
  read as a copy: 10 kg of grass at 77% and leaves at 35% make 60% with 6.8 kg of leaves.
- C3: the same page's example for C:N 30; its inputs are from memory, the answer recomputed.
- C5: an extension example on shares of wet mass, 50 lb hay, 10 lb scraps, 2 lb coffee: 34.7.
- C6 to C8: materials of Bertrand, Missouri University of Science and Technology, table of
  materials; answers worked out by hand from the balance.
"""

import pytest

from planner.factors import read_factors
from planner.worms.bedding import (
    Material,
    bedding_for_moisture_kg,
    bedding_for_ratio_kg,
    material,
    mix,
    water_to_add_kg,
)

GRASS = Material("grass", 45.0 / 2.4, 0.77, 0.024, 200.0)
LEAVES = Material("leaves", 50.0 / 0.75, 0.35, 0.0075, 120.0)
TABLE = read_factors()
FOOD, CARD, PAPER, COFFEE = (
    material(TABLE, name)
    for name in ("food_scraps", "corrugated_cardboard", "newspaper", "coffee_grounds")
)


def test_c1_leaves_that_bring_grass_to_sixty_per_cent():
    # the answer, 6.8 kg, is printed exactly
    assert mix([GRASS, LEAVES], [10.0, 6.8]).moisture_share == pytest.approx(0.60, abs=1e-9)


def test_c1_the_leaves_that_are_solved_for_are_those_printed():
    # the page prints 6.8 kg; the dry end of leaves is what takes the water up
    assert bedding_for_moisture_kg([GRASS], [10.0], LEAVES, 0.60) == pytest.approx(6.8, abs=1e-9)


def test_c2_moisture_of_a_dried_sample():
    water = Material("water", 1.0, 1.0, 0.0, 1000.0)
    dry = Material("dry", 20.0, 0.0, 0.02, 200.0)
    assert mix([water, dry], [7.7, 2.3]).moisture_share == pytest.approx(0.77)


def test_c3_leaves_that_bring_grass_to_thirty_to_one():
    made = mix([GRASS, LEAVES], [10.0, 3.474])
    assert made.carbon_to_nitrogen_ratio == pytest.approx(30.0, abs=0.005)
    assert made.moisture_share == pytest.approx(0.6617, abs=5e-5)


def test_c3_the_leaves_that_are_solved_for():
    assert bedding_for_ratio_kg([GRASS], [10.0], LEAVES, 30.0) == pytest.approx(3.474, abs=5e-4)


def test_c4_the_ratio_at_the_mix_for_moisture():
    made = mix([GRASS, LEAVES], [10.0, 6.8])
    assert made.carbon_to_nitrogen_ratio == pytest.approx(36.73, abs=5e-3)
    assert made.moisture_share == pytest.approx(0.6, abs=5e-5)


def test_c5_shares_of_the_whole_mass_are_those_of_a_dry_material():
    # the example states carbon and nitrogen of the mass as it is, 1% nitrogen in each
    as_is = [Material(name, ratio, 0.0, 0.01, 100.0) for name, ratio in
             (("hay", 40.0), ("scraps", 10.0), ("coffee", 25.0))]  # fmt: skip
    made = mix(as_is, [50.0, 10.0, 2.0])
    assert made.carbon_to_nitrogen_ratio == pytest.approx(34.7, abs=0.05)


def test_c6_food_cardboard_and_newspaper():
    made = mix([FOOD, CARD, PAPER], [1.0, 0.2, 0.1])
    assert made.moisture_share == pytest.approx(0.55462, abs=5e-6)
    assert made.carbon_to_nitrogen_ratio == pytest.approx(36.474, abs=5e-4)


def test_c7_food_coffee_and_cardboard():
    made = mix([FOOD, COFFEE, CARD], [2.0, 0.5, 0.4])
    assert made.moisture_share == pytest.approx(0.63172, abs=5e-6)
    assert made.carbon_to_nitrogen_ratio == pytest.approx(27.557, abs=5e-4)


def test_c8_cardboard_to_thirty_then_water_to_three_quarters():
    card = 0.2215
    water = water_to_add_kg([FOOD, CARD], [1.0, card], 0.75)
    assert water == pytest.approx(0.7936, abs=2e-4)
    made = mix([FOOD, CARD], [1.0, card], water)
    assert made.moisture_share == pytest.approx(0.75)
    assert made.carbon_to_nitrogen_ratio == pytest.approx(30.0, abs=0.005)
    assert made.mass_kg == pytest.approx(1.0 + card + water)


@pytest.mark.parametrize(
    ("name", "share", "water_kg"),
    [
        ("corrugated_cardboard", 0.75, 2.68),
        ("newspaper", 0.75, 2.80),
        ("corrugated_cardboard", 0.8, 3.6),
    ],
)
def test_water_for_a_kilogram_of_dry_bedding(name, share, water_kg):
    # (m - M) / (1 - m) by hand from the table's moistures of 8% and 5%
    found = water_to_add_kg([material(TABLE, name)], [1.0], share)
    assert found == pytest.approx(water_kg, abs=5e-3)


def test_a_kilogram_of_coir_wets_to_thirteen_litres():
    # suppliers' instructions: 650 g to 8 to 11 litres, 5 kg to 60 to 75 litres
    litres = material(TABLE, "coir").litres_per_kg
    assert 8 / 0.65 <= litres <= 11 / 0.65
    assert 60 / 5 <= litres <= 75 / 5
