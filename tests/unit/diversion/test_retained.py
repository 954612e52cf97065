"""Retention by dwelling: what chance its replicates carry."""

import datetime as dt

import numpy as np
import polars as pl
import pytest

from planner.diversion.retained import CHECK_ROWS, check_curve, dwelling_retention
from planner.survey.stopping_season import StoppingSeason
from planner.units import DAYS_PER_MONTH
from tests.unit.survey.test_stopping_season import asked_by_half_years

BEFORE = dt.date(2027, 1, 1)


@pytest.mark.parametrize("back_share", [0.5, 1.0])
def test_bins_that_came_back_vary_like_a_sample_of_bins_to_come(back_share: float) -> None:
    """Of n bins with known days the share still in use has the variance p (1 - p) / n.

    Binomial law; a curve of a few pieces may know it a little better, hardly worse.
    """
    bins, draws = 300, 200
    rng = np.random.default_rng(4)
    age = np.ceil(rng.exponential(12.0, bins) * DAYS_PER_MONTH).astype(int)
    is_back = np.arange(bins) < back_share * bins
    households = pl.DataFrame(
        {
            "dwelling": ["house"] * bins,
            "entry_date": [dt.date(2025, 1 + place % 12, 15) for place in range(bins)],
            "last_in_use_age_days": age,
            "first_out_of_use_age_days": age,
            "is_exact": [True] * bins,
            "is_given_back": is_back,
        }
    )
    weights = np.ones((1 + draws, bins))
    weights[1:, ~is_back] = rng.exponential(size=(draws, int((~is_back).sum())))
    curve = dwelling_retention(households, weights, np.random.default_rng(5), BEFORE).curves[0]
    share = curve.in_use_share(np.array([12.0]))[:, 0]
    law = np.sqrt(share[0] * (1.0 - share[0]) / bins)
    assert 0.75 * law < share[1:].std() < 1.25 * law
    assert share[1:].mean() == pytest.approx(share[0], abs=law / 2.0)


def test_with_a_season_curve_and_answers_are_compared_on_its_clock():
    """By plain age they part: old bins are those given in some months of the year alone."""
    seen, entry = asked_by_half_years(np.random.default_rng(1), 400, StoppingSeason(1.5, 6.5))
    days = [np.where(np.isfinite(end), np.round(end * DAYS_PER_MONTH), -1.0).astype(int)
            for end in (seen.lower, seen.upper)]  # fmt: skip
    households = pl.DataFrame(
        {
            "dwelling": ["house"] * 400,
            "entry_date": [dt.date(2024, 1, 1) + dt.timedelta(30.4 * month) for month in entry],
            "last_in_use_age_days": days[0],
            "first_out_of_use_age_days": days[1],
            "is_exact": [False] * 400,
            "is_given_back": [False] * 400,
        }
    ).with_columns(pl.col("first_out_of_use_age_days").replace(-1, None))
    weights = np.vstack([np.ones(400), np.random.default_rng(2).exponential(size=(60, 400))])
    retained = dwelling_retention(households, weights, np.random.default_rng(3), BEFORE)
    assert retained.season.of_any > 0.95
    assert retained.check.is_negligible or retained.check.is_by_chance
    by_age = check_curve(retained.nonparametric, retained.town.first(CHECK_ROWS))
    assert retained.check.greatest_gap < by_age.greatest_gap
    assert "clock of the season" in retained.check.sentence
    assert "clock" not in by_age.sentence


@pytest.mark.parametrize(("stands_for", "left"), [(1.0, 0.0), (4.0, 0.75**0.5), (400.0, 1.0)])
def test_a_town_whose_bins_are_all_known_leaves_nothing_to_chance(stands_for, left):
    """All told on the year's last day: of a census nothing errs, of one in four sqrt(1 - 1/4)."""
    bins, rng = 200, np.random.default_rng(6)
    entry = [BEFORE - dt.timedelta(int(day)) for day in rng.integers(30, 700, bins)]
    age = np.array([(BEFORE - day).days for day in entry])
    stopped = rng.exponential(500.0, bins).astype(int)
    households = pl.DataFrame(
        {
            "dwelling": ["house"] * bins,
            "entry_date": entry,
            "last_in_use_age_days": np.minimum(stopped, age),
            "first_out_of_use_age_days": [s + 1 if s < a else None
                                          for s, a in zip(stopped, age, strict=True)],
            "is_exact": [False] * bins,
            "is_given_back": [False] * bins,
        }
    )  # fmt: skip
    weights = stands_for * np.vstack([np.ones(bins), rng.exponential(size=(50, bins))])
    retained = dwelling_retention(households, weights, rng, BEFORE)
    months = np.array([6.0, 12.0])
    spreads = [curves[0].in_use_share(months).std(axis=0)
               for curves in (retained.of_town, retained.curves)]  # fmt: skip
    assert spreads[0] == pytest.approx(left * spreads[1], abs=0.004 + 0.02 * left)
