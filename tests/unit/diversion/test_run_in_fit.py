"""Run-in fitted to answers: a known ratio comes back, and is used only where it is sure."""

import datetime as dt

import numpy as np
import polars as pl
import pytest

from planner.diversion.feed_share import FeedShare
from planner.diversion.run_in_fit import LEAST_ANSWERS, YOUNG_MONTHS, fit_run_in
from planner.survey.weights import WaveWeights
from planner.tables import DWELLINGS

DRAWS = 200
FULL_KG = 1.5


class Everything:
    """A feed share of which every bin takes half, as many draws as asked."""

    demand_kg_per_week = np.full(1 + DRAWS, FULL_KG)

    def __call__(self, age, month):
        return np.full((1 + DRAWS, age.size), 0.5)


class Estimates:
    """Every bin stays in use and takes as much."""

    class _Stays:
        @staticmethod
        def in_use_share(age):
            return np.ones((1 + DRAWS, age.size))

    retention = (_Stays(),) * len(DWELLINGS)
    kg_per_in_use_bin_week = np.full((1 + DRAWS, len(DWELLINGS)), FULL_KG)


class Plain:
    """A kilogram reported is a kilogram weighed."""

    @staticmethod
    def weighed_kg(weights, reports):
        kg = np.nan_to_num(reports.kg)
        return np.column_stack([weights @ kg])


def survey(young_ratio, level, count, wave_id, seed):
    """Answers of young and settled bins; the settled report `level` of the model."""
    rng = np.random.default_rng(seed)
    is_young = np.arange(count) < count // 2
    fed = FULL_KG * 0.5 * level * np.where(is_young, young_ratio, 1.0)
    return pl.DataFrame(
        {
            "wave_id": [wave_id] * count,
            "household_id": [f"{wave_id}-{n}" for n in range(count)],
            "dwelling": ["house"] * count,
            "answer_date": [dt.date(2026, 5, 10)] * count,
            "age_days": np.where(is_young, 40, 300),
            "is_in_use": [True] * count,
            "fed_kg_last_week": fed * rng.lognormal(-0.02, 0.2, count),
            "fed_litres_last_week": pl.Series([None] * count, dtype=pl.Float64),
        }
    )


def weights_of(answers, seed):
    """Bootstrap weights: the first row is the answers themselves."""
    rng = np.random.default_rng(seed)
    count = answers.height
    drawn = rng.multinomial(count, np.full(count, 1 / count), DRAWS)
    return WaveWeights(
        answers["wave_id"][0], answers["household_id"], np.vstack([np.ones(count), drawn]), count
    )


def fitted(young_ratio, counts=(200, 300), levels=(0.7, 1.6)):
    waves = [
        survey(young_ratio, level, count, f"F{n}", n)
        for n, (count, level) in enumerate(zip(counts, levels, strict=True))
    ]
    return fit_run_in(
        pl.concat(waves),
        [weights_of(wave, 9) for wave in waves],
        Plain(),
        Estimates(),
        Everything(),
    )


def test_a_known_ratio_comes_back_whatever_the_season_of_the_rounds():
    found = fitted(0.6)
    assert found.ratio[0] == pytest.approx(0.6, abs=0.04)
    assert found.is_known
    assert (found.young_count, found.settled_count) == (250, 250)


def test_a_run_in_that_fits_has_a_ratio_of_one():
    found = fitted(1.0)
    low, high = np.percentile(found.ratio[1:], [2.5, 97.5])
    assert low < 1.0 < high


def test_few_answers_change_nothing():
    found = fitted(0.2, counts=(LEAST_ANSWERS, LEAST_ANSWERS - 2))
    assert not found.is_known
    assert (found.ratio == 1.0).all()
    share = Everything()
    assert found.of(share) is share


def test_young_bins_alone_are_scaled_and_never_above_the_full_feed():
    def share(**young):
        names = ["doubling_days", "ceiling_kg_per_m2", "feed_kg_per_kg_day", "startup_share"]
        values = (90.0, 10.0, 0.5, 0.5)
        worms = {name: np.full(2, value) for name, value in zip(names, values, strict=True)}
        return FeedShare(np.full(2, 0.25), 0.16, np.full(2, 2.0), worms, np.ones((2, 12)), **young)

    ages, month = np.array([0.3, 2.9, 3.0, 24.0]), np.zeros(4, dtype=int)
    plain = share()(ages, month)
    scaled = share(young_months=YOUNG_MONTHS, young_ratio=np.array([0.5, 9.0]))(ages, month)
    assert scaled[0, :2] == pytest.approx(plain[0, :2] * 0.5)
    assert scaled[1, :2] == pytest.approx([1.0, 1.0])
    assert scaled[:, 2:] == pytest.approx(plain[:, 2:])
