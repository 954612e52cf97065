"""Weighed weeks that no answer is near: which they are, and the level they are joined to."""

import datetime as dt
from types import SimpleNamespace

import numpy as np
import polars as pl
import pytest

from planner.diversion.benchmark import Benchmark
from planner.diversion.diaries import (
    LEAST_HOUSEHOLDS,
    SELECTION_SPREAD,
    fit_level,
    settled_weeks,
    survey_variance,
)
from planner.survey.feed import Calibration, UnitCalibration
from planner.tables import DWELLINGS

DRAWS = 3000
FULL_KG = 1.5
DAY = dt.date(2025, 3, 3)


def weeks(kg, *, households=None, is_calibrating=False, age_days=300):
    count = len(kg)
    owner = range(count) if households is None else households
    return pl.DataFrame(
        {
            "household_id": [f"H{number:03d}" for number in owner],
            "week_start_date": [DAY + dt.timedelta(days=7 * n) for n in range(count)],
            "dwelling": ["house"] * count,
            "age_days": [age_days] * count,
            "fed_kg": np.asarray(kg, dtype=float),
            "is_calibrating": [is_calibrating] * count,
        },
        schema_overrides={"is_calibrating": pl.Boolean},
    )


class Half:
    """Every bin takes half of its household's full feed."""

    def __call__(self, age, month):
        return np.full((1 + DRAWS, age.size), 0.5)


def survey(error, seed=1):
    """Survey a level of 1 with a relative error, over a feed of 1.5 kg."""
    drawn = np.exp(error * np.random.default_rng(seed).standard_normal((1 + DRAWS, 1)))
    drawn[0] = 1.0
    estimates = SimpleNamespace(
        kg_per_in_use_bin_week=np.full((1 + DRAWS, len(DWELLINGS)), FULL_KG)
    )
    return estimates, Benchmark(("F",), (DAY,), drawn, np.array([error]))


def fitted(frame, error=0.05):
    estimates, levels = survey(error)
    rng = np.random.default_rng(3)
    return fit_level(frame, estimates, Half(), levels, error**2, rng), levels


def test_the_ratio_is_that_of_households_whatever_each_of_them_weighed():
    # nine households weigh once what the survey says, the tenth four times twice as much
    kg = [0.75] * 9 + [1.5] * 4
    found = fitted(weeks(kg, households=[*range(9), 9, 9, 9, 9]))[0]
    assert found.ratio[0] == pytest.approx((9 * 1.0 + 1 * 2.0) / 10)
    assert (found.households_count, found.weeks_count) == (10, 13)


def test_the_two_levels_are_joined_by_the_inverse_of_their_variances():
    """By hand: nothing apart, so weights are v2 / (v1 + v2), and the variance is below both."""
    rng = np.random.default_rng(8)
    count = 100
    kg = 0.75 * rng.lognormal(-0.125, 0.5, count)
    found, levels = fitted(weeks(kg * 0.75 * count / kg.sum()), error=0.2)
    of_diaries = 0.5**2 / count + SELECTION_SPREAD**2
    assert found.weight == pytest.approx(0.2**2 / (0.2**2 + of_diaries), abs=0.04)
    joined = np.log(levels.ratios[1:, 0] * found.factor[1:])
    assert joined.std() == pytest.approx(np.sqrt(1 / (1 / 0.2**2 + 1 / of_diaries)), rel=0.06)


def test_who_weighs_much_or_little_weighs_in_the_variance_of_the_diaries():
    """Worked by hand: ten weigh 0.5 kg too little, ten as much too much, of 15 kg in all.

    The variance of a ratio of sums is the sum of squared residuals over the square of the sum
    (Cochran, Sampling Techniques, 3rd ed., section 6.4): 20 x 0.5² / 15².
    """
    found = fitted(weeks([0.25] * 10 + [1.25] * 10), error=0.2)[0]
    of_diaries = 20 * 0.5**2 / 15**2 + SELECTION_SPREAD**2
    assert found.ratio[0] == pytest.approx(1.0)
    assert found.weight == pytest.approx(0.2**2 / (0.2**2 + of_diaries))


def test_levels_far_apart_share_what_lies_between_them():
    """Worked by hand for two estimates log 4 apart, of variances 0.0025 and 0.01.

    Between them lies b = (log² 4 - 0.0125) / 2 (DerSimonian and Laird); both variances take it
    on, weights are by their inverses, and the draws' variance is w² (v2 + b) + (1 - w)² b and
    w² times that of the survey.
    """
    found = fitted(weeks([3.0] * 20))[0]
    between = (np.log(4.0) ** 2 - 0.0125) / 2.0
    weight = (0.0025 + between) / (0.0125 + 2.0 * between)
    assert found.weight == pytest.approx(weight)
    assert found.factor[0] == pytest.approx(4.0**weight)
    variance = weight**2 * (0.0125 + between) + (1.0 - weight) ** 2 * between
    assert np.log(found.factor[1:]).std() == pytest.approx(np.sqrt(variance), rel=0.04)


def test_a_sure_survey_is_hardly_moved_and_an_unsure_one_follows_the_diaries():
    kg = [1.5] * 40
    sure, unsure = fitted(weeks(kg), error=0.01)[0], fitted(weeks(kg), error=0.6)[0]
    assert unsure.factor[0] > 1.8
    assert sure.weight < unsure.weight


def test_levels_farther_apart_than_chance_widen_what_is_joined():
    """DerSimonian and Laird: the variance between is (d² - v1 - v2) / 2 for two estimates."""
    near, far = fitted(weeks([0.78] * 40))[0], fitted(weeks([3.0] * 40))[0]
    assert np.log(far.factor[1:]).std() > 3.0 * np.log(near.factor[1:]).std()


def test_the_variance_of_the_survey_is_that_of_rounds_and_of_what_reports_weigh():
    """By hand: 1 / (1 / 0.1² + 1 / 0.2²) = 0.008, and pairs that miss by 0.3 of a sum of 10."""
    levels = Benchmark(("F", "G"), (DAY, DAY), np.ones((2, 2)), np.array([0.1, 0.2]))
    pairs = pl.DataFrame(
        {
            "fed_kg_last_week": [5.0, 5.0],
            "fed_litres_last_week": pl.Series([None, None], dtype=pl.Float64),
            "weighed_kg_per_week": [5.3, 4.7],
        }
    )
    own = UnitCalibration(np.ones(2), "own weighings")
    found = survey_variance(pairs, Calibration(own, own), levels, ())
    assert found == pytest.approx(0.008 + (0.3**2 + 0.3**2) / 10**2)
    published = UnitCalibration(np.ones(2), "published factors")
    found = survey_variance(pairs, Calibration(published, published), levels, (0.2,))
    assert found == pytest.approx(0.008 + 0.2**2)


@pytest.mark.parametrize("count", [0, LEAST_HOUSEHOLDS - 1])
def test_few_households_change_nothing(count):
    found = fitted(weeks([3.0] * count))[0]
    assert found.weight == 0.0
    assert (found.factor == 1.0).all()


def test_households_with_a_week_near_an_answer_calibrate_and_are_not_used_again():
    near = weeks([9.0] * 20, is_calibrating=True)
    far = weeks([9.0] * 20, households=range(20)).with_columns(
        week_start_date=pl.col("week_start_date") + dt.timedelta(days=200)
    )
    found = fitted(pl.concat([near, far]))[0]
    assert found.households_count == 0
    assert (found.factor == 1.0).all()
    assert (found.calibrating_weeks_count, found.season_weeks_count) == (20, 40)


def test_young_bins_say_nothing_of_the_season():
    estimates, _ = survey(0.05)
    frame = pl.concat([weeks([1.0] * 3, age_days=60), weeks([2.0] * 2, age_days=120)])
    found = settled_weeks(frame, estimates, Half())
    assert found.weighed_kg.tolist() == [2.0, 2.0]
    assert found.modelled_kg == pytest.approx([0.75, 0.75])
    # a week's middle is three days and a half from its start
    assert found.days[0] == DAY.toordinal() + 3.5
