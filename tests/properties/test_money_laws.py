"""Laws of present values, price paths and yearly sums."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from planner.money.appraisal import (
    Appraisal,
    benefit_cost_ratio,
    by_year,
    net_present_value,
    present_value,
)
from planner.money.ledger import price_path

AMOUNT = st.floats(0.0, 1e6)
FLOWS = st.lists(AMOUNT, min_size=1, max_size=15)
RATE = st.floats(0.0, 0.3)
CLOSE = 1e-9


@given(FLOWS)
def test_without_discounting_the_present_value_is_the_sum(flows):
    assert present_value(flows, 0.0) == pytest.approx(sum(flows), rel=CLOSE)


@given(FLOWS, RATE)
def test_a_year_later_is_worth_a_year_of_interest_less(flows, rate):
    later = present_value([0.0, *flows], rate)
    assert later * (1.0 + rate) == pytest.approx(present_value(flows, rate), rel=CLOSE)


@given(FLOWS, RATE, RATE)
def test_receipts_are_worth_less_at_a_higher_rate(flows, one, other):
    low, high = sorted((one, other))
    assert present_value(flows, high) <= present_value(flows, low) * (1.0 + CLOSE)


@given(st.lists(st.tuples(AMOUNT, st.floats(1.0, 1e6)), min_size=1, max_size=12), RATE)
def test_the_ratio_is_above_one_where_the_net_is_above_nothing(pairs, rate):
    benefits, costs = (list(side) for side in zip(*pairs, strict=True))
    net = float(net_present_value(benefits, costs, rate))
    ratio = benefit_cost_ratio(benefits, costs, rate)
    assert ratio is not None
    worth = float(present_value(costs, rate))
    assert net == pytest.approx((float(ratio) - 1.0) * worth, rel=1e-6, abs=1e-6 * worth)


@given(
    st.lists(st.floats(0.1, 1e3), min_size=1, max_size=12),
    st.floats(1.0, 1e6),
    RATE,
    st.floats(-0.05, 0.2),
)
def test_at_the_levelised_price_the_program_breaks_even(tonnes, cost, rate, inflation):
    years = len(tonnes)
    costs = np.zeros((1, years))
    costs[0, 0] = cost
    free = np.zeros(years)
    made = Appraisal(tuple(range(years)), np.array([tonnes]), free, free, costs, inflation)
    price = made.levelised_cost_per_t(rate)
    assert price is not None
    # the price is one of year 0, so it is paid with inflation on it
    path = price[0] * (1.0 + inflation) ** np.arange(years)
    paid = Appraisal(made.years, made.kept_out_t, path, free, costs, inflation)
    assert paid.net_present_value(rate)[0] == pytest.approx(0.0, abs=1e-7 * cost)


@given(FLOWS, RATE, st.floats(-0.05, 0.2))
def test_inflation_on_all_prices_changes_nothing_real(flows, rate, inflation):
    years = len(flows)
    rising = (1.0 + inflation) ** np.arange(years)
    tonnes, free = np.ones((1, years)), np.zeros(years)
    costs = np.ones((1, years))
    plain = Appraisal(tuple(range(years)), tonnes, np.array(flows), free, costs)
    inflated = Appraisal(
        plain.years, tonnes, np.array(flows) * rising, free, costs * rising, inflation
    )
    assert inflated.net_present_value(rate) == pytest.approx(
        plain.net_present_value(rate), rel=1e-9, abs=1e-6
    )


@given(
    st.dictionaries(st.integers(2020, 2030), AMOUNT, min_size=1),
    st.lists(st.integers(2015, 2045), min_size=1, max_size=20),
    st.floats(-0.2, 0.5),
)
def test_known_prices_stand_and_later_ones_rise_from_the_last(known, years, rise):
    path = price_path(known, years, rise)
    last = max(known)
    for year, price in zip(years, path, strict=True):
        if year in known:
            assert price == known[year]
        elif year > last:
            assert price == pytest.approx(known[last] * (1.0 + rise) ** (year - last), rel=CLOSE)
        else:
            assert price in known.values()


@given(st.lists(AMOUNT, min_size=1, max_size=40), st.integers(0, 11))
def test_months_add_up_to_years(amounts, offset):
    began = (np.arange(len(amounts)) + offset) // 12
    years = range(int(began[-1]) + 1)
    sums = by_year(np.array([amounts]), began, years)
    assert sums.sum() == pytest.approx(sum(amounts), rel=CLOSE)
