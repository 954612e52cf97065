"""How areas differ in keeping and feeding bins, against simulated areas of known habits."""

import datetime as dt

import numpy as np
import polars as pl
import pytest

from planner.diversion.area_differences import (
    SPREAD_OF_FEED,
    SPREAD_OF_STOPPING,
    AreaPlaces,
    feed_model,
    score_of_hazard,
    stopping_model,
)
from planner.survey.interval_likelihood import Intervals
from planner.survey.retention import Retention

CURVE = Retention.weibull(np.array([30.0]), np.array([1.0]))
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
