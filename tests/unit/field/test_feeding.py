"""Feed balance: mixes come into their bands, warnings fall where they should."""

from __future__ import annotations

import datetime as dt
import math

import polars as pl
import pytest
from scipy import stats

from planner.errors import EstimateError, FactorError, StoreError
from planner.factors import read_factors
from planner.field.feeding import Bin, balance_feed
from planner.field.feeding_of import FeedRequest, _of_site, balance_lines
from planner.worms.bedding import (
    Material,
    bedding_for_moisture_kg,
    bedding_for_ratio_kg,
    material,
    mix,
)

FACTORS = read_factors()
MILD = Bin(0.16, 5_000.0, 0.25, 20.0)
FEEDS = ({"grass_clippings": 2.0}, {"vegetable_scraps": 1.0, "coffee_grounds": 0.4})


@pytest.mark.parametrize("fed_kg", FEEDS)
def test_each_bedding_offered_brings_the_mix_into_both_bands(fed_kg):
    balance = balance_feed(fed_kg, MILD, FACTORS)
    assert balance.bedding
    for one in balance.bedding:
        names = [*fed_kg, one.material_id]
        again = mix([material(FACTORS, name) for name in names],
                    [*fed_kg.values(), one.mass_kg], one.water_kg)  # fmt: skip
        assert again.carbon_to_nitrogen_ratio >= 20.0
        assert 0.6 - 1e-9 <= again.moisture_share <= 0.8 + 1e-9
        # a little less of it and one of the bands is broken: no more is asked than needed
        less = mix([material(FACTORS, name) for name in names],
                   [*fed_kg.values(), 0.99 * one.mass_kg])  # fmt: skip
        assert less.carbon_to_nitrogen_ratio < 25.0 or less.moisture_share > 0.8


def test_bedding_that_is_no_richer_or_drier_cannot_put_it_right():
    wet, poor = Material("wet", 30.0, 0.9, 0.01, 100.0), Material("poor", 10.0, 0.5, 0.03, 100.0)
    assert math.isinf(bedding_for_moisture_kg([wet], [1.0], wet, 0.8))
    assert math.isinf(bedding_for_ratio_kg([poor], [1.0], poor, 20.0))
    balance = balance_feed({"grass_clippings": 1.0}, MILD, FACTORS, ("coffee_grounds",))
    assert balance.bedding[0].made is None
    assert any("cannot put it right" in line for line in balance_lines(balance, FACTORS))


def test_grass_alone_warns_of_ammonia_and_fruit_alone_of_acid():
    grass = balance_feed({"grass_clippings": 1.0}, MILD, FACTORS)
    fruit = balance_feed({"citrus_peel": 1.0}, MILD, FACTORS)
    assert grass.is_short_of_carbon
    assert not grass.is_too_acid
    assert fruit.is_too_acid
    assert not fruit.is_short_of_carbon


def test_paper_alone_is_too_dry_and_slow():
    paper = balance_feed({"newspaper": 1.0}, MILD, FACTORS)
    assert paper.is_too_dry
    assert paper.is_slow_to_rot
    assert paper.bedding == ()


def test_what_should_stay_out_is_not_in_the_mix_and_says_why():
    balance = balance_feed({"meat": 1.0, "vegetable_scraps": 1.0}, MILD, FACTORS)
    assert list(balance.fed_kg) == ["vegetable_scraps"]
    assert balance.fed_kg_per_day == pytest.approx(1.0 / 7.0)
    assert balance.left_out == ("meat",)
    assert any("rats" in line for line in balance_lines(balance, FACTORS))
    nothing = balance_feed({"meat": 1.0}, MILD, FACTORS)
    assert nothing.mix is None
    assert list(balance_lines(nothing, FACTORS))


def test_a_pound_of_worms_takes_half_its_mass_a_day_after_the_first_month():
    # New York City guide, 06340: 1 lb of worms takes about 3.5 lb a week; a bin of 250 g,
    # 28 days old and no growth to speak of within the day, takes the table's half
    young = balance_feed(FEEDS[1], Bin(10.0, 28.0, 0.25, 20.0), FACTORS)
    grown = 0.25 * 2.0 ** (28.0 / 90.0)
    # the tray is so large that its ceiling does not bend the growth
    assert young.capacity_kg_per_day.value == pytest.approx(0.5 * grown, rel=0.01)


def test_first_weeks_take_half_and_more_bins_more():
    day_20 = balance_feed(FEEDS[1], Bin(0.16, 27.9, 0.25, 20.0), FACTORS)
    day_28 = balance_feed(FEEDS[1], Bin(0.16, 28.0, 0.25, 20.0), FACTORS)
    three = balance_feed(FEEDS[1], Bin(0.16, 28.0, 0.25, 20.0, 3), FACTORS)
    assert day_20.capacity_kg_per_day.value == pytest.approx(
        0.5 * day_28.capacity_kg_per_day.value, rel=0.01
    )
    assert three.capacity_kg_per_day.value == pytest.approx(3 * day_28.capacity_kg_per_day.value)
    low, high = day_28.capacity_kg_per_day.low, day_28.capacity_kg_per_day.high
    assert low < day_28.capacity_kg_per_day.value < high


@pytest.mark.parametrize(("air_c", "is_fed"), [(-5.0, False), (20.0, True), (36.0, False)])
def test_cold_and_heat_stop_the_feed(air_c, is_fed):
    balance = balance_feed(FEEDS[1], Bin(0.16, 400.0, 0.25, air_c), FACTORS)
    assert (balance.capacity_kg_per_day.value > 0.0) == is_fed
    assert any("Feed nothing" in line for line in balance_lines(balance, FACTORS)) != is_fed


def test_masses_and_names_that_are_not_known_are_told():
    with pytest.raises(EstimateError, match="newspaper: found 0 kg"):
        balance_feed({"newspaper": 0.0}, MILD, FACTORS)
    with pytest.raises(FactorError, match="straw"):
        balance_feed({"straww": 1.0}, MILD, FACTORS)


def test_a_site_is_fed_by_its_bins_in_use_and_its_last_weighed_week():
    day = dt.date(2026, 6, 1)
    given = pl.DataFrame(
        {
            "site_id": ["S1", "S1", "S1", "S2"],
            "model_id": ["small", "large", "small", "small"],
            "given_date": [dt.date(2026, 5, 2), dt.date(2026, 4, 2), dt.date(2026, 1, 1), day],
            "bins_count": [1, 3, 9, 1],
            "worms_kg": [0.25, 1.75, 9.0, 1.0],
            "stopped_date": [None, None, dt.date(2026, 3, 1), None],
        }
    )
    weighed = pl.DataFrame(
        {
            "site_id": ["S1", "S1", "S1"],
            "week_start_date": [dt.date(2026, 5, 4), dt.date(2026, 5, 18), dt.date(2026, 6, 8)],
            "fed_kg": [2.0, 3.0, 99.0],
        }
    )
    asked = FeedRequest({}, day, site_id="S1")
    fed, bins = _of_site(given, weighed, asked, {"small": 0.12, "large": 0.16}, 20.0)
    assert fed == {"food_scraps": 3.0}
    # a bin 30 days old and three of 60: on average 52.5 days, 0.15 m² and half a kilogram
    assert bins.bins_count == 4
    assert bins.age_days == pytest.approx(52.5)
    assert bins.tray_area_m2 == pytest.approx(0.15)
    assert bins.starter_kg == pytest.approx(0.5)
    with pytest.raises(StoreError, match="S9: no bins"):
        _of_site(given, weighed, FeedRequest({}, day, site_id="S9"), {"small": 0.12}, 20.0)


def test_wet_is_what_lies_above_the_dry_end_of_the_best_moisture():
    """Edwards (2004): best from 80 to 90% and 60 to 90% at most; vegetables hold 87% water."""
    balance = balance_feed({"vegetable_scraps": 1.0}, MILD, FACTORS)
    assert 0.8 < balance.mix.moisture_share < 0.9
    assert balance.is_too_wet
    assert not balance_feed({"coffee_grounds": 1.0}, MILD, FACTORS).is_too_wet


@pytest.mark.parametrize(("peel_kg", "is_acid"), [(1.0, False), (1.1, True)])
def test_a_quarter_of_citrus_is_no_more_than_worms_bear(peel_kg, is_acid):
    fed = {"citrus_peel": peel_kg, "vegetable_scraps": 3.0}
    assert balance_feed(fed, MILD, FACTORS).is_too_acid == is_acid


def test_twice_the_worms_take_twice_the_feed_and_unsaid_they_are_the_published_starter():
    """On a tray so large that nothing bends the growth."""
    given = {
        kg: balance_feed(FEEDS[1], Bin(10.0, 28.0, kg, 20.0), FACTORS).capacity_kg_per_day.value
        for kg in (None, 0.25, 0.5)
    }
    assert given[0.5] == pytest.approx(2.0 * given[0.25], rel=0.01)
    assert given[None] == pytest.approx(given[0.25])


def test_the_range_of_what_a_stock_takes_is_that_of_the_published_rate():
    """A full tray, 1.6 kg of worms, varies by the rate alone: 0.25 to 0.75, likeliest 0.5 a day."""
    taken = balance_feed(FEEDS[1], MILD, FACTORS).capacity_kg_per_day
    low, high = stats.triang(0.5, 0.25, 0.5).ppf([0.025, 0.975])
    assert (taken.value, taken.low, taken.high) == pytest.approx(
        (1.6 * 0.5, 1.6 * low, 1.6 * high), rel=0.01
    )


def test_bedding_that_dries_the_mix_takes_water_up_to_the_lowest_moisture_and_no_more():
    balance = balance_feed({"garden_waste": 1.0}, MILD, FACTORS)
    assert balance.bedding
    for one in balance.bedding:
        assert one.water_kg > 0.0
        assert one.made.moisture_share == pytest.approx(0.6)
