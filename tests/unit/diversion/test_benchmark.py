"""Surveyed over modelled feed, by round and of young bins, against sums worked out by hand.

Every tonne of a report passes through the ratios of the rounds.
"""

import datetime as dt
from dataclasses import replace

import numpy as np
import polars as pl
import pytest

from planner.diversion.benchmark import (
    LEAST_ANSWERS,
    YOUNG_MONTHS,
    Benchmark,
    RunInFit,
    benchmark,
    fit_run_in,
    modelled_kg,
    reported_kg,
    rounds_in_year,
)
from planner.diversion.feed_share import FeedShare
from planner.errors import EstimateError
from planner.tables import DWELLINGS
from planner.units import DAYS_PER_MONTH

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
        def in_use_share(age, entry_month):
            return np.ones((1 + DRAWS, age.size))

    retention = (_Stays(),) * len(DWELLINGS)
    kg_per_in_use_bin_week = np.full((1 + DRAWS, len(DWELLINGS)), FULL_KG)


class Plain:
    """A kilogram reported is a kilogram weighed."""

    @staticmethod
    def weighed_kg(weights, reports):
        kg = np.nan_to_num(reports.kg)
        return np.column_stack([weights @ kg])

    @staticmethod
    def central_kg(reports):
        return np.nan_to_num(reports.kg)


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
    return np.vstack([np.ones(count), drawn])


def fitted(young_ratio, counts=(200, 300), levels=(0.7, 1.6)):
    waves = [
        survey(young_ratio, level, count, f"F{n}", n)
        for n, (count, level) in enumerate(zip(counts, levels, strict=True))
    ]
    return fit_run_in(
        pl.concat(waves),
        np.hstack([weights_of(wave, 9) for wave in waves]),
        Plain(),
        Estimates(),
        Everything(),
    )


def test_a_known_ratio_comes_back_whatever_the_season_of_the_rounds():
    found = fitted(0.6)
    assert found.ratio[0] == pytest.approx(0.6, abs=0.04)
    assert found.is_known
    assert (found.young_count, found.settled_count) == (250, 250)
    uneven = fitted(0.6, counts=(201, 301))
    assert (uneven.young_count, uneven.settled_count) == (250, 252)


def test_a_run_in_that_fits_has_a_ratio_of_one():
    found = fitted(1.0)
    low, high = np.percentile(found.ratio[1:], [2.5, 97.5])
    assert low < 1.0 < high


def test_a_bin_given_days_ago_tells_of_those_days_and_is_held_against_them():
    """Fed alike every day since the hand-over, bins of any age stand to the model alike."""
    ages = np.array([1, 3, 7, 300])
    told = survey(1.0, 1.0, 4, "F1", 1).with_columns(
        age_days=pl.Series(ages),
        fed_kg_last_week=pl.Series(FULL_KG * 0.5 * np.minimum(ages, 7) / 7.0),
    )
    for place in range(4):
        one, weights = told[place : place + 1], np.ones((1 + DRAWS, 1))
        sides = (one, weights, Estimates(), Everything())
        reported = reported_kg(one, weights, Plain(), Estimates())
        assert modelled_kg(*sides) == pytest.approx(reported)


def test_few_answers_change_nothing():
    found = fitted(0.2, counts=(LEAST_ANSWERS, LEAST_ANSWERS - 2))
    assert not found.is_known
    assert (found.ratio == 1.0).all()
    share = Everything()
    assert found.of(share) is share


def test_where_settled_bins_are_fed_nothing_young_ones_cannot_be_held_against_them():
    count = 2 * LEAST_ANSWERS
    young, settled = answered([1.0] * count, age_days=30), answered([0.0] * count)
    both = pl.concat([young, settled]).with_columns(
        household_id=pl.int_range(2 * count).cast(pl.String)
    )
    found = fit_run_in(both, weighed(*[1.0] * 2 * count), Plain(), Estimates(), Everything())
    assert not found.is_known
    assert (found.ratio == 1.0).all()


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


JANUARY = dt.date(2025, 1, 1)


def rounds_on(*days, ratios):
    """Write down the benchmark of rounds on some days after 1 January 2025."""
    dates = tuple(JANUARY + dt.timedelta(days=day) for day in days)
    names = tuple(f"F{place}" for place in range(len(days)))
    drawn = np.array([ratios, ratios], dtype=float)
    return Benchmark(names, dates, drawn, np.full(len(days), 0.1))


def test_a_month_takes_the_mean_over_its_days_of_the_line_between_the_rounds():
    # rounds 400 days apart, their ratios 400 apart: the line is a day's number; days count
    # from their noon, and a month's mean of a line is its middle, whatever its length
    months = [dt.date(2025, month, 1) for month in range(1, 13)]
    found = rounds_on(0, 400, ratios=(0.0, 400.0)).by_month(months)
    first = np.array([(month - JANUARY).days for month in months])
    length = np.diff([*first, 365])
    assert found[0] == pytest.approx(first + length / 2, abs=1.3)  # February is the shortest
    assert found[0].mean() == pytest.approx((first + length / 2).mean(), abs=0.3)


def test_before_the_first_round_and_after_the_last_their_ratios_hold():
    found = rounds_on(100, 200, ratios=(0.8, 1.2))
    edges = found.by_month([dt.date(2024, 1, 1), dt.date(2025, 1, 1), dt.date(2026, 1, 1)])
    assert edges[0] == pytest.approx([0.8, 0.8, 1.2])


class Summer:
    """A season of one wave, the same in every draw, and no other error."""

    round_errors = np.zeros((2, 1))

    @staticmethod
    def log_factor(days):
        wave = 0.3 * np.cos(2.0 * np.pi * (days - JANUARY.toordinal()) / 365.25)
        return np.tile(wave, (2, 1))


def test_with_a_season_the_model_still_passes_through_the_round():
    """Law of a benchmark: on the day of a round the ratio is the round's."""
    levels = replace(rounds_on(50, 210, 330, ratios=(1.1, 0.7, 0.9)), season=Summer())
    assert levels.at(levels.days)[0] == pytest.approx([1.1, 0.7, 0.9])


def test_one_round_in_the_high_season_stands_for_less_over_the_year():
    """By hand: exp(0.3 cos) averages I0(0.3) = 1.02263 (Abramowitz and Stegun, 9.6.12)."""
    levels = replace(rounds_on(0, ratios=(1.0,)), season=Summer())
    months = [dt.date(2025, month, 1) for month in range(1, 13)]
    expected = 1.02263 * np.exp(-0.3)
    assert levels.by_month(months)[0].mean() == pytest.approx(expected, rel=2e-3)
    assert levels.last_level_over_year[0] == pytest.approx(expected, rel=2e-3)


def test_the_rounds_share_the_level_of_every_day_in_full():
    shares = rounds_on(100, 200, ratios=(0.8, 1.2)).round_shares(
        JANUARY.toordinal() + np.array([0.0, 100.0, 125.0, 900.0])
    )
    assert shares.T.tolist() == [[1.0, 0.0], [1.0, 0.0], [0.75, 0.25], [0.0, 1.0]]


def answered(kg, *, in_use=None, age_days=300, wave_id="F0", day=JANUARY):
    """Answers of houses, None for no answer on feed."""
    count = len(kg)
    return pl.DataFrame(
        {
            "wave_id": [wave_id] * count,
            "household_id": [f"{wave_id}-{n}" for n in range(count)],
            "dwelling": ["house"] * count,
            "answer_date": [day] * count,
            "age_days": [age_days] * count,
            "is_in_use": [True] * count if in_use is None else in_use,
            "fed_kg_last_week": pl.Series(kg, dtype=pl.Float64),
            "fed_litres_last_week": pl.Series([None] * count, dtype=pl.Float64),
        }
    )


def weighed(*weights):
    return np.tile(np.array(weights, dtype=float), (1 + DRAWS, 1))


def test_a_bin_in_use_whose_feed_is_unanswered_counts_as_its_dwellings_mean():
    answers = answered([2.0, None, None], in_use=[True, True, False])
    weights = np.tile([3.0, 5.0, 7.0], (1 + DRAWS, 1))
    # 3 × 2.0 kg told, 5 × 1.5 kg filled in, nothing for the bin out of use
    assert reported_kg(answers, weights, Plain(), Estimates()) == pytest.approx(13.5)


def test_the_model_gives_every_bin_asked_about_its_share_in_use_of_the_feed():
    answers = answered([2.0, None], in_use=[True, False])
    weights = np.tile([3.0, 5.0], (1 + DRAWS, 1))
    # all stay in use and take half of 1.5 kg
    found = modelled_kg(answers, weights, Estimates(), Everything())
    assert found == pytest.approx(8 * 0.75)


def test_the_model_times_the_ratio_is_what_the_round_reported():
    """Law of a benchmark: scaled by it, the model passes through the round's weekly total."""
    answers = answered([2.0, 1.0, 0.0])
    weights = weighed(1.0, 2.0, 5.0)
    found = benchmark(answers, weights, Plain(), Estimates(), Everything())
    modelled = modelled_kg(answers, weights, Estimates(), Everything())
    assert found.ratios[:, 0] * modelled == pytest.approx(1 * 2.0 + 2 * 1.0)


def test_the_standard_error_of_a_round_is_that_of_its_weighted_mean_report():
    """By hand: reports 1 and 3 of equal weight, mean 2, each 1 away: root of 2 over 4."""
    answers = answered([1.0, 3.0])
    found = benchmark(answers, weighed(1.0, 1.0), Plain(), Estimates(), Everything())
    assert found.standard_errors == pytest.approx([np.sqrt(2.0) / 4.0])


def test_rounds_stand_in_the_order_of_their_weighted_mean_days():
    late = answered([1.0, 1.0], wave_id="F0", day=dt.date(2025, 9, 1))
    days = pl.Series([dt.date(2025, 3, 1), dt.date(2025, 3, 5)])
    early = answered([2.0, 2.0], wave_id="F1").with_columns(answer_date=days)
    both = pl.concat([late, early])
    found = benchmark(both, weighed(1.0, 1.0, 3.0, 1.0), Plain(), Estimates(), Everything())
    assert found.wave_ids == ("F1", "F0")
    # (3 × 1 March + 1 × 5 March) / 4
    assert found.mean_dates == (dt.date(2025, 3, 2), dt.date(2025, 9, 1))


def test_a_round_of_bins_that_the_model_feeds_nothing_is_refused_by_name():
    answers = answered([1.0])

    def nothing(age, month):
        return np.zeros((1 + DRAWS, age.size))

    with pytest.raises(EstimateError, match="Survey round F0: by the model no bin"):
        benchmark(answers, weighed(1.0), Plain(), Estimates(), nothing)


def test_a_week_is_modelled_in_the_calendar_month_of_its_answer():
    """The share is of January alone: of weights 3 and 5 the one answered then is fed, 1.5 kg."""

    def in_january(age, month):
        return np.tile(np.where(month == 0, 1.0, 0.0), (1 + DRAWS, 1))

    january = answered([1.0], day=dt.date(2026, 1, 10))
    december = answered([1.0], day=dt.date(2026, 12, 10))
    both = pl.concat([january, december])
    weights = np.tile([3.0, 5.0], (1 + DRAWS, 1))
    assert modelled_kg(both, weights, Estimates(), in_january) == pytest.approx(3 * FULL_KG)


def test_a_bin_has_the_age_of_the_middle_of_the_week_told_of():
    """Ages go by half a month, 15.2 days: 7.5 days are nearer to none, 8.5 nearer to a half."""

    def at_first(age, month):
        return np.tile(np.where(age == 0.0, 1.0, 0.0), (1 + DRAWS, 1))

    for age_days, kg in ((11, FULL_KG), (12, 0.0)):
        answers = answered([1.0], age_days=age_days)
        found = modelled_kg(answers, weighed(1.0), Estimates(), at_first)
        assert found == pytest.approx(kg)


def test_a_bin_was_given_as_many_months_before_the_middle_of_the_answers_month_as_it_is_old():
    """Answers of the middle of March, 2.5 months in; told of 7 days, so half a week less old."""
    asked = []

    class Seasonal:
        @staticmethod
        def in_use_share(age, entry_month):
            asked.append((age, entry_month))
            return np.ones((1 + DRAWS, age.size))

    class Given(Estimates):
        retention = (Seasonal(),) * len(DWELLINGS)

    rows = survey(1.0, 1.0, 2, "F", 1).with_columns(
        answer_date=pl.lit(dt.date(2026, 3, 16)), age_days=pl.lit(round(3.5 + 4.0 * DAYS_PER_MONTH))
    )
    modelled_kg(rows, np.ones((1 + DRAWS, 2)), Given(), Everything())
    (age, entry), *_ = asked
    assert age.tolist() == [4.0]
    # four months before mid-March: mid-November
    assert entry.tolist() == [10.5]


def test_a_run_in_is_known_where_young_and_settled_bins_both_tell_of_it():
    ratio = np.ones(3)
    assert not RunInFit(ratio, LEAST_ANSWERS, LEAST_ANSWERS - 1).is_known
    assert not RunInFit(ratio, LEAST_ANSWERS - 1, LEAST_ANSWERS).is_known
    assert RunInFit(ratio, LEAST_ANSWERS, LEAST_ANSWERS).is_known


def test_rounds_share_the_year_among_them():
    days = (dt.date(2025, 9, 1), dt.date(2026, 3, 1))
    levels = Benchmark(("A", "B"), days, np.ones((3, 2)), np.ones(2))
    months = [dt.date(2025 + (n > 5), (n + 6) % 12 + 1, 1) for n in range(12)]
    shares = rounds_in_year(levels, months).year_shares
    assert shares.sum() == pytest.approx(1.0)
    assert shares.min() > 0.0
