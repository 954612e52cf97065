"""Feed of sites, and the caution about workshops, against published and simulated numbers."""

import datetime as dt

import numpy as np
import polars as pl
import pytest
from scipy import stats

from planner.field.shared_bins import feed_per_bin_week
from planner.field.workshop_effect import compare, e_value, rate_ratio, read_workshop_effect
from planner.paths import PROGRAM_FILE
from tests.queries.given import store_with
from tests.unit.checks.test_checks import PROGRAM
from tests.unit.field.test_dropout import simulated


def sites(kg, weeks):
    return pl.DataFrame({"weighed_kg": kg, "weighed_bin_weeks": weeks}, schema_overrides=FLOATS)


FLOATS = {"weighed_kg": pl.Float64, "weighed_bin_weeks": pl.Float64}


def test_the_ratio_and_its_interval_worked_by_hand():
    # sums 24 and 12, ratio 2; residuals 1, -2, 1: variance 3/2 x 6 / 144; t of 2 degrees 4.3027
    value, low, high = feed_per_bin_week(sites([5.0, 6.0, 13.0], [2.0, 4.0, 6.0]))
    half = 4.302653 * np.sqrt(1.5 * 6.0 / 144.0)
    assert (value, low, high) == pytest.approx((2.0, 2.0 - half, 2.0 + half), abs=1e-6)


def test_too_few_weighed_sites_say_nothing():
    assert feed_per_bin_week(sites([5.0, 6.0, 0.0], [2.0, 4.0, 0.0])) is None


def test_the_interval_of_the_ratio_holds_the_truth_about_as_often_as_it_says():
    rng = np.random.default_rng(6)
    held = 0
    for _ in range(400):
        weeks = rng.integers(4, 40, 12) * 1.0
        kg = weeks * 1.8 * np.exp(0.3 * rng.standard_normal(12) - 0.045)
        _, low, high = feed_per_bin_week(sites(kg, weeks))
        held += low <= 1.8 <= high
    # 12 unequal sites: a little under 95%, as Cochran says of ratios in small samples
    assert 0.88 <= held / 400 <= 0.98


def test_the_ratio_of_rates_is_that_of_the_exact_conditional_test():
    # of n counts the first are binomial with odds ratio x exposures: at a limit of the ratio
    # scipy's binomial test rejects with just 2.5%
    for counts, spent in (((8, 30), (10.0, 20.0)), ((3, 17), (4.0, 9.0))):
        _, low, high = rate_ratio(counts, spent)
        for limit, side in ((low, "greater"), (high, "less")):
            share = limit * spent[0] / (limit * spent[0] + spent[1])
            exact = stats.binomtest(counts[0], sum(counts), share, alternative=side)
            assert exact.pvalue == pytest.approx(0.025, abs=1e-6)


def test_the_e_value_is_that_of_its_paper():
    # VanderWeele and Ding (2017): a risk ratio of 3.9 needs 7.2-fold (from memory)
    assert e_value(3.9) == pytest.approx(7.26, abs=0.005)
    assert e_value(1 / 3.9) == pytest.approx(e_value(3.9))
    assert e_value(1.0) == 1.0


def with_taught(spells, rng, ratio):
    """Let a third come to a workshop; the hazard of those who come is `ratio` times as large."""
    taught = rng.random(spells.height) < 1 / 3
    other = simulated(spells.height, 1.0, rng, rate=0.03 * ratio, never=0.0)
    changed = pl.when(pl.Series(taught)).then(other["has_stopped"])
    same_time = pl.when(pl.Series(taught)).then(other["end_age_days"]).otherwise("end_age_days")
    return spells.with_columns(
        is_taught=pl.Series(taught),
        has_stopped=changed.otherwise("has_stopped"),
        end_age_days=same_time,
    )


def test_a_difference_between_those_who_came_and_others_is_found():
    rng = np.random.default_rng(12)
    plain = simulated(4000, 1.0, rng, never=0.0)
    found = compare(with_taught(plain, rng, 0.5), 4, 1300)
    ratio, low, high = found.ratio
    assert low < 0.5 < high
    assert ratio == pytest.approx(0.5, abs=0.12)


def test_none_is_claimed_where_there_is_none():
    rng = np.random.default_rng(13)
    plain = simulated(3000, 1.0, rng, never=0.0)
    found = compare(with_taught(plain, rng, 1.0), 4, 1000)
    assert found.ratio[1] < 1.0 < found.ratio[2]


def test_few_stops_are_not_compared():
    rng = np.random.default_rng(14)
    few = compare(with_taught(simulated(30, 1.0, rng), rng, 1.0), 1, 10)
    assert few.ratio is None


def test_no_site_feeds_less_than_nothing():
    """One site of three feeds ten times as much: the interval ends at nothing."""
    value, low, high = feed_per_bin_week(sites([1.0, 1.0, 10.0], [5.0, 5.0, 5.0]))
    assert value == pytest.approx(0.8)
    assert low == 0.0
    assert high > value


def test_what_those_who_came_did_tells_nothing_of_what_is_expected_of_them():
    rng = np.random.default_rng(15)
    spells = with_taught(simulated(900, 1.0, rng, never=0.0), rng, 1.0)
    turned = spells.with_columns(
        has_stopped=pl.when("is_taught").then(~pl.col("has_stopped")).otherwise("has_stopped")
    )
    one, other = (compare(rows, 4, 300) for rows in (spells, turned))
    assert other.expected_count == pytest.approx(one.expected_count, rel=1e-9)
    assert other.stopped_count != one.stopped_count


def test_a_workshop_counts_from_its_own_day_on(tmp_path):
    day = dt.date(2026, 3, 7)
    (tmp_path / PROGRAM_FILE).write_text(PROGRAM, encoding="utf-8")
    rows = {
        "households": [{"household_id": "H1"}],
        "workshops": [{"workshop_id": "W1", "workshop_date": day}],
        "attendances": [{"workshop_id": "W1", "household_id": "H1"}],
    }
    with store_with(tmp_path, rows):
        pass
    for on_date, count in ((day - dt.timedelta(days=1), 0), (day, 1)):
        found = read_workshop_effect(tmp_path, on_date)
        assert (found.workshops_count, found.attended_count) == (count, count)
