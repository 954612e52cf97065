"""How areas differ in keeping and feeding bins, against simulated areas of known habits."""

import datetime as dt

import numpy as np
import polars as pl
import pytest

from planner.diversion.area_differences import (
    LEAST_VARIANCE,
    SPREAD_OF_FEED,
    SPREAD_OF_STOPPING,
    AreaPlaces,
    feed_model,
    score_of_hazard,
    stopping_model,
)
from planner.survey.interval_likelihood import Intervals
from tests.unit.survey.alone import weibull_curve

CURVE = weibull_curve(np.array([30.0]), np.array([1.0]))
DRAWS = 300


def places(count):
    areas = pl.DataFrame(
        {
            "area_id": [f"a{place}" for place in range(count)],
            "kerbside_service": ["residual_only"] * count,
            "is_priority": [False] * count,
            "people_per_household": [2.5] * count,
        }
    )
    return AreaPlaces.of(areas, np.tile([100.0, 0.0, 0.0], (count, 1)))


def asked(rng, log_ratio, count):
    """Households visited once between 3 and 24 months after their hand-over."""
    age = rng.uniform(3.0, 24.0, count)
    stopped = rng.exponential(30.0 / np.exp(log_ratio), count)
    return age, stopped <= age


def states(rng, log_ratios, counts):
    ages, gone, area = [], [], []
    for place, (log_ratio, count) in enumerate(zip(log_ratios, counts, strict=True)):
        age, is_gone = asked(rng, log_ratio, count)
        ages.append(age)
        gone.append(is_gone)
        area += [f"a{place}"] * count
    age, is_gone = np.concatenate(ages), np.concatenate(gone)
    frame = pl.DataFrame({"area_id": area, "dwelling": ["house"] * len(area)}).with_columns(
        entry_date=dt.date(2025, 1, 1)
    )
    seen = Intervals(np.where(is_gone, 0.0, age), np.where(is_gone, age, np.inf))
    return frame, seen


@pytest.mark.parametrize(
    ("low", "high"), [(0.4, np.inf), (0.0, 0.9), (0.3, 1.4), (0.7, 0.7 + 1e-12)]
)
def test_the_score_is_the_slope_of_the_log_likelihood(low, high) -> None:
    def log_likelihood(log_ratio):
        ratio = np.exp(log_ratio)
        if not np.isfinite(high):
            return -low * ratio
        if high - low < 1e-9:
            return log_ratio - low * ratio
        return np.log(np.exp(-low * ratio) - np.exp(-high * ratio))

    step = 1e-5
    slope = (log_likelihood(step) - log_likelihood(-step)) / (2 * step)
    assert score_of_hazard(np.array([low]), np.array([high]))[0] == pytest.approx(slope, rel=1e-6)


def test_stopping_of_large_areas_comes_out_as_it_was_simulated() -> None:
    rng = np.random.default_rng(1)
    truth = np.array([-0.6, 0.0, 0.5])
    frame, seen = states(rng, truth, [4000] * 3)
    town = places(3)
    model = stopping_model(town, frame, seen, np.ones(12_000), (CURVE,) * 3)
    found = town.effects(model, SPREAD_OF_STOPPING, DRAWS, rng).predictor[0]
    assert found == pytest.approx(truth, abs=0.1)


@pytest.mark.parametrize(("areas", "towns"), [(6, 40), (12, 20), (40, 6)])
@pytest.mark.parametrize("spread", [0.0, 0.4])
def test_intervals_of_stopping_hold_the_truth(areas, towns, spread) -> None:
    """240 areas a case; below 88% would come by chance less than once in 100,000."""
    held = []
    for number in range(towns):
        rng = np.random.default_rng([areas, number])
        truth = spread * rng.standard_normal(areas)
        frame, seen = states(rng, truth, 10 + rng.poisson(20, areas))
        town = places(areas)
        model = stopping_model(town, frame, seen, np.ones(frame.height), (CURVE,) * 3)
        drawn = town.effects(model, SPREAD_OF_STOPPING, DRAWS, rng).predictor
        low, high = np.percentile(drawn[1:], (2.5, 97.5), axis=0)
        held.append((low <= truth) & (truth <= high))
    assert np.mean(held) > 0.88


@pytest.mark.parametrize(("areas", "towns"), [(6, 40), (40, 6)])
def test_intervals_of_feed_hold_the_truth(areas, towns) -> None:
    """Lognormal households with a coefficient of variation of 0.6 about their area's mean."""
    held = []
    for number in range(towns):
        rng = np.random.default_rng([areas, number])
        truth = 0.2 * rng.standard_normal(areas)
        codes = np.repeat(np.arange(areas), 5 + rng.poisson(15, areas))
        sigma = np.sqrt(np.log1p(0.6**2))
        ratio = np.exp(truth[codes] + sigma * rng.standard_normal(codes.size) - sigma**2 / 2)
        town = places(areas)
        model = feed_model(town, codes, ratio, np.ones(codes.size))
        drawn = town.effects(model, SPREAD_OF_FEED, DRAWS, rng).predictor
        low, high = np.percentile(drawn[1:], (2.5, 97.5), axis=0)
        held.append((low <= truth) & (truth <= high))
    assert np.mean(held) > 0.88


def test_what_is_known_of_areas_before_any_answer_by_hand() -> None:
    """Three areas with 30, 10 and no bins: the last has neither homes nor people of its own."""
    areas = pl.DataFrame(
        {
            "area_id": ["n", "s", "w"],
            "kerbside_service": [
                "residual_only",
                "garden_organics",
                "food_and_garden_organics",
            ],
            "is_priority": [False, True, False],
            "people_per_household": [2.0, 4.0, None],
        }
    )
    town = AreaPlaces.of(areas, np.array([[30.0, 0.0, 0.0], [5.0, 3.0, 2.0], [0.0, 0.0, 0.0]]))
    constant, garden, food, priority, houses, people = town.covariates.T
    assert constant.tolist() == [1.0, 1.0, 1.0]
    assert (garden.tolist(), food.tolist()) == ([0.0, 1.0, 0.0], [0.0, 0.0, 1.0])
    assert priority.tolist() == [0.0, 1.0, 0.0]
    # 35 of 40 bins went to houses; by bins a household has (30 x 2 + 10 x 4) / 40 people
    assert houses == pytest.approx([1.0 - 0.875, 0.5 - 0.875, -0.875])
    assert people == pytest.approx([2.0 - 2.5, 4.0 - 2.5, 3.0 - 2.5])
    assert town.bins_given.tolist() == [30.0, 10.0, 0.0]
    assert town.codes(pl.DataFrame({"area_id": ["w", "n"]})).tolist() == [2, 0]


def test_feed_of_an_area_is_as_sure_as_its_households_are_alike() -> None:
    """By hand: 0.5 and 1.5 about a mean of 1 in both areas, so a variance of 1 over 4 - 2."""
    codes = np.array([0, 0, 1, 1])
    model = feed_model(places(3), codes, np.array([0.5, 1.5, 0.5, 1.5]), np.full(4, 7.0))
    assert model.precision == pytest.approx([2.0 / 0.5, 2.0 / 0.5, 0.0])
    assert model.weighted_values == pytest.approx(np.zeros(3), abs=1e-9)
    # equal answers are not taken as certain
    alike = feed_model(places(3), codes, np.ones(4), np.ones(4))
    assert alike.precision == pytest.approx([2.0 / LEAST_VARIANCE, 2.0 / LEAST_VARIANCE, 0.0])


def test_stopping_as_the_town_expects_it_says_nothing_of_an_area() -> None:
    """Half of forty stopped by the age at which the curve has half in use: score 0.

    By hand, with hazard h = ln 2: squared scores h² each over information 1/2 each, so the
    precision is 40 / 2 over 2 h². Of a day known exactly the score is 1 - h, here nothing.
    """
    half = 30.0 * np.log(2.0)
    gone = np.arange(40) < 20
    frame = pl.DataFrame({"area_id": ["a1"] * 40, "dwelling": ["house"] * 40}).with_columns(
        entry_date=dt.date(2025, 1, 1)
    )
    seen = Intervals(np.where(gone, 0.0, half), np.where(gone, half, np.inf))
    model = stopping_model(places(2), frame, seen, np.full(40, 3.0), (CURVE,) * 3)
    assert model.weighted_values == pytest.approx(np.zeros(2), abs=1e-9)
    assert model.precision == pytest.approx([0.0, 20.0 / (2.0 * np.log(2.0) ** 2)])
    exact = Intervals(np.full(40, 30.0), np.full(40, 30.0))
    as_expected = stopping_model(places(2), frame, exact, np.ones(40), (CURVE,) * 3)
    # all on the mean age: a hazard of 1 each, as the curve has it
    assert as_expected.weighted_values == pytest.approx(np.zeros(2), abs=1e-9)


def test_an_area_without_answers_follows_those_like_it() -> None:
    """Two areas with a collection feed twice what the others do; so, about, does a third."""
    services = ["residual_only"] * 3 + ["garden_organics"] * 3
    areas = pl.DataFrame(
        {
            "area_id": [f"a{place}" for place in range(6)],
            "kerbside_service": services,
            "is_priority": [False] * 6,
            "people_per_household": [2.5] * 6,
        }
    )
    town = AreaPlaces.of(areas, np.tile([100.0, 0.0, 0.0], (6, 1)))
    rng = np.random.default_rng(1)
    codes = np.repeat([0, 1, 3, 4], 200)
    ratios = np.exp(0.1 * rng.standard_normal(800)) * np.where(codes > 2, 1.25, 0.75)
    model = feed_model(town, codes, ratios, np.ones(800))
    effects = town.effects(model, SPREAD_OF_FEED, DRAWS, rng)
    assert np.exp(effects.predictor[0, [2, 5]]) == pytest.approx([0.75, 1.25], rel=0.1)
    assert effects.own_weight[[2, 5]].tolist() == [0.0, 0.0]
    # what is borrowed is less sure than what was asked
    spread = effects.predictor[1:].std(axis=0)
    assert spread[[2, 5]].min() > spread[[0, 1, 3, 4]].max()
