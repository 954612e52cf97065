"""Bedding of an order: free material first, then the cheapest, to the volume of the trays."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pytest

from planner.errors import OrderError
from planner.factors import read_factors
from planner.ordering.assembling import _recipe, plan_bedding
from planner.program.ordering import Bedding, Ordering
from planner.worms.bedding import material
from tests.unit.ordering.small import offer

FACTORS = read_factors()
AREA_M2, DEPTH_M = 0.2, 0.1
LITRES = 20.0


def program(*materials, models=("m",), areas=(AREA_M2,)):
    bedding = Bedding(materials=materials, depth_m=DEPTH_M, moisture_share=0.75)
    return SimpleNamespace(
        ordering=Ordering(bedding=bedding),
        bin_models=[
            SimpleNamespace(model_id=name, tray_area_m2=area)
            for name, area in zip(models, areas, strict=True)
        ],
    )


def of(name, price, pack=10.0):
    return offer(f"O{price}", "A", [(1, price)], item=name, kind="bedding", pack=pack)


def litres(kilos):
    """Volume of materials as they lie [L]."""
    by_name = {name: material(FACTORS, name) for name in kilos}
    return sum(1000.0 * kilos[n] / one.bulk_density_kg_per_m3 for n, one in by_name.items())


def test_free_material_fills_the_trays_and_nothing_is_bought():
    found = plan_bedding(
        program({"material": "newspaper", "free_kg": 1e4}), FACTORS, {"m": 1.0}, 50,
        [of("newspaper", 8.0)],
    )  # fmt: skip
    assert not found.bought_kg
    assert found.litres_by_model == {"m": pytest.approx(LITRES)}
    assert litres(found.free_kg) == pytest.approx(LITRES, rel=1e-4)
    # three parts of water in four: dry matter of the paper times three, less what it holds
    paper = material(FACTORS, "newspaper")
    dry = found.free_kg["newspaper"] * (1.0 - paper.moisture_share)
    held = found.free_kg["newspaper"] * paper.moisture_share
    assert found.water_litres == pytest.approx(3.0 * dry - held, rel=1e-4)


def test_what_is_free_goes_round_among_all_and_the_rest_is_bought():
    given = program({"material": "newspaper", "free_kg": 12.0})
    few = plan_bedding(given, FACTORS, {"m": 1.0}, 30, [of("newspaper", 8.0)])
    many = plan_bedding(given, FACTORS, {"m": 1.0}, 60, [of("newspaper", 8.0)])
    assert few.free_kg["newspaper"] == pytest.approx(0.4)
    assert many.free_kg["newspaper"] == pytest.approx(0.2)
    for found in (few, many):
        assert litres(found.free_kg) + litres(found.bought_kg) == pytest.approx(LITRES, rel=1e-4)


def test_the_cheapest_offer_by_the_kilogram_prices_a_material():
    """Coir at 4.00 for 10 kg is dearer than at 6.00 for 20 kg; volume decides between materials."""
    given = program({"material": "coir"}, {"material": "newspaper"})
    per_litre = {
        name: material(FACTORS, name).bulk_density_kg_per_m3 for name in ("coir", "newspaper")
    }
    times = per_litre["newspaper"] / per_litre["coir"]
    cheap, dear = (round(0.35 / times, 6), round(0.25 / times, 6))

    def taken(paper_price):
        offers = [of("coir", 4.0), of("coir", 6.0, 20.0), of("newspaper", paper_price, 1.0)]
        return set(plan_bedding(given, FACTORS, {"m": 1.0}, 10, offers).bought_kg)

    # a litre of coir costs 0.30 for each kilogram in it
    assert taken(cheap) == {"coir"}
    assert taken(dear) == {"newspaper"}


def test_households_take_the_mean_of_the_models_that_are_taken():
    given = program({"material": "coir"}, models=("s", "l", "none"), areas=(0.1, 0.3, 9.0))
    found = plan_bedding(given, FACTORS, {"s": 0.75, "l": 0.25}, 4, [of("coir", 5.0)])
    assert found.litres_by_model == {"s": pytest.approx(10.0), "l": pytest.approx(30.0)}
    assert litres(found.bought_kg) == pytest.approx(15.0, rel=1e-4)


def test_what_nobody_offers_is_used_from_the_store_alone():
    given = program({"material": "coir"})
    with pytest.raises(OrderError, match="coir"):
        plan_bedding(given, FACTORS, {"m": 1.0}, 4, [of("newspaper", 5.0)])
    found = plan_bedding(given, FACTORS, {"m": 1.0}, 4, [], has_stock=True)
    assert litres(found.bought_kg) == pytest.approx(LITRES, rel=1e-4)


def test_for_nobody_yet_a_household_takes_as_much():
    given = program({"material": "coir"})
    one, none = (
        plan_bedding(given, FACTORS, {"m": 1.0}, count, [of("coir", 5.0)]) for count in (1, 0)
    )
    assert none.bought_kg == one.bought_kg
    assert np.isfinite(none.water_litres)


def test_a_recipe_holds_each_material_to_the_shares_that_the_program_file_gives():
    shares = (("card", 0.4, 0.0), ("coir", 1.0, 0.2))
    bedding = SimpleNamespace(
        moisture_share=0.75,
        carbon_to_nitrogen_low=25.0,
        carbon_to_nitrogen_high=None,
        materials=[
            SimpleNamespace(material=name, most_volume_share=most, least_volume_share=least)
            for name, most, least in shares
        ],
    )
    found = _recipe(bedding, 12.0)
    assert found.most_volume_share == {"card": 0.4}
    assert found.least_volume_share == {"coir": 0.2}
    assert (found.volume_litres, found.moisture_share) == (12.0, 0.75)
