"""An export tells of no few households, alone or beside a report of the same year."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import polars as pl
import pytest
from scipy import stats

from planner.errors import PoolError
from planner.pooling.contract import DRAWS_COUNT, FEED
from planner.pooling.exporting import (
    _check_enough,
    _rate,
    _secret_seed,
    _to_reference_size,
    _totals,
)
from planner.store.keys import KEY_VARIABLE

LEAST = 10


@pytest.mark.parametrize(
    ("in_year", "to_date", "households_before", "answers", "is_exported"),
    [
        (60, 60, 0, 30, True),
        (60, 90, 30, 30, True),
        (0, 90, 90, 30, True),
        # bins to date less those of the year are the 4 of the year before
        (60, 64, 4, 30, False),
        # 12 bins that few households took
        (60, 72, 4, 30, False),
        (6, 90, 84, 30, False),
        (60, 90, 30, 9, False),
        (60, 90, 30, 10, True),
    ],
)
def test_a_year_is_exported_where_no_count_or_difference_is_small(
    in_year, to_date, households_before, answers, is_exported
):
    areas = {"bins_given_in_year": [in_year], "bins_given_to_date": [to_date]}
    areas["households_served_in_year"] = [50]
    areas["households_served_to_date"] = [50 + households_before]
    counts = SimpleNamespace(areas=pl.DataFrame(areas), followup=pl.DataFrame({"a": [1] * answers}))
    if is_exported:
        _check_enough(counts, LEAST, "2025-26")
    else:
        with pytest.raises(PoolError, match="nothing is exported"):
            _check_enough(counts, LEAST, "2025-26")


def test_a_household_of_another_size_is_brought_to_the_reference_by_the_stated_power():
    """Eight people against two feed twice as much where feed goes with the root of people."""
    rows = pl.DataFrame({"registered_people_count": [16.0], "registered_count": [2]})
    factors = {"reference_household_people": 2.0, "feed_household_size_exponent": 0.5}
    table = SimpleNamespace(find=lambda name: SimpleNamespace(value=factors[name]))
    assert _to_reference_size(rows, table) == pytest.approx(0.5)
    nobody = rows.with_columns(registered_people_count=pl.lit(0.0))
    assert _to_reference_size(nobody, table) == 1.0


def test_what_factors_do_not_explain_of_a_rate_is_the_surveys_variance():
    """Against the regression of scipy: its residual variance has n - 2 degrees of freedom."""
    rng = np.random.default_rng(5)
    factor = rng.normal(2.0, 0.3, 13)
    draws = np.exp(0.4 + 0.7 * factor + rng.normal(0.0, 0.1, 13))
    still = np.full(13, 5.0)
    found = _rate(FEED, draws, {"moves": factor, "stays": still})
    line = stats.linregress(factor[1:], np.log(draws[1:]))
    left = np.log(draws[1:]) - line.intercept - line.slope * factor[1:]
    assert found.survey_variance == pytest.approx(left @ left / (12 - 2))
    assert found.factor_part[0] == 0.0
    assert found.factor_part[1:] == pytest.approx(line.slope * (factor[1:] - factor[1:].mean()))


def test_draws_begin_from_the_councils_secret_and_its_year(tmp_path, monkeypatch):
    program = SimpleNamespace(council=SimpleNamespace(name="Town"), method=SimpleNamespace(seed=3))
    seeds = []
    for secret, label in (("a" * 32, "2025-26"), ("a" * 32, "2024-25"), ("b" * 32, "2025-26")):
        monkeypatch.setenv(KEY_VARIABLE, secret)
        seeds.append(_secret_seed(tmp_path, program, label))
        assert _secret_seed(tmp_path, program, label) == seeds[-1]
    assert len(set(seeds)) == 3


def test_totals_are_of_the_year_and_in_tonnes():
    """Three months of which the last two are the year's: 2 and 3 tonnes fed, 1 and 2 kept out."""
    months = SimpleNamespace(months_from=lambda _: slice(1, None))
    draws = np.ones((1 + DRAWS_COUNT, 1))
    year = SimpleNamespace(
        cohorts=months,
        bins_in_use=draws * [10.0, 20.0, 30.0],
        fed_kg=draws * [9000.0, 2000.0, 3000.0],
        kept_out_kg=draws * [8000.0, 1000.0, 2000.0],
    )
    basis = SimpleNamespace(methane_avoided_t_co2e=draws[:, 0], net_t_co2e=2.0 * draws[:, 0])
    measured = SimpleNamespace(
        diversion=year,
        emissions=SimpleNamespace(over_100_years=basis, in_year=basis),
        cost=SimpleNamespace(in_year=700.0, to_date=900.0),
    )
    areas = pl.DataFrame({"bins_given_in_year": [4, 5], "bins_given_to_date": [6, 7]})
    found = _totals(measured, SimpleNamespace(from_date=None, areas=areas))
    told = {name: float(values[0]) for name, values in found.items()}
    assert told["fed_t"] == 5.0
    assert told["kept_out_of_landfill_t"] == 3.0
    assert told["bins_in_use"] == 30.0
    assert (told["bins_given"], told["bins_given_to_date"]) == (9.0, 13.0)
    assert told["program_cost"] == 700.0
    assert {values.size for values in found.values()} == {1 + DRAWS_COUNT}
