"""Laws of first-order decay, whatever the numbers."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from planner.emissions.landfill import Decay, methane_between_kg
from tests.landfill_forms import monthly_methane_kg, yearly_methane_kg

RATES = st.floats(0.02, 0.7)
SHARES = st.floats(0.0, 1.0)
DELAYS = st.floats(0.0, 12.0)
DEPOSITS = st.lists(st.floats(0.0, 1e4), min_size=1, max_size=40).map(np.array)
START_MONTHS = st.integers(1, 13)
CARBON_TO_METHANE = 0.5 * 16 / 12
FOREVER_MONTHS = 1e7


@st.composite
def schedules(draw):
    later = draw(st.lists(st.integers(1, 40), max_size=4, unique=True).map(sorted))
    shares = draw(st.lists(SHARES, min_size=1 + len(later), max_size=1 + len(later)))
    return (0, *later), tuple(shares)


def _close(expected, scale=1.0):
    return pytest.approx(expected, rel=1e-9, abs=1e-9 * max(1.0, scale))


@given(DEPOSITS, RATES, START_MONTHS)
def test_yearly_form_is_the_stock_of_equations_3_4_to_3_6_year_by_year(deposits, rate, month):
    stock, methane = 0.0, []
    for carbon in deposits:
        in_own_year = carbon * (1 - np.exp(-rate * (13 - month) / 12))
        decayed = stock * (1 - np.exp(-rate)) + in_own_year
        stock = stock * np.exp(-rate) + carbon - in_own_year
        methane.append(decayed * CARBON_TO_METHANE)
    found = yearly_methane_kg(deposits * CARBON_TO_METHANE, Decay(rate), start_month=month)
    assert found == _close(methane, deposits.sum())
    decayed_in_all = found.sum() / CARBON_TO_METHANE
    assert stock + decayed_in_all == _close(deposits.sum(), deposits.sum())


@given(DEPOSITS, RATES)
def test_start_month_1_is_the_sum_of_the_clean_development_tool(deposits, rate):
    years = np.arange(len(deposits))
    age = years[:, None] - years[None, :]
    kernel = np.where(age >= 0, np.exp(-rate * np.maximum(age, 0)) * (1 - np.exp(-rate)), 0)
    found = yearly_methane_kg(deposits, Decay(rate), start_month=1)
    assert found == _close(kernel @ deposits, deposits.sum())


@given(DEPOSITS, RATES, SHARES)
def test_the_guidelines_default_is_that_sum_a_year_later(deposits, rate, oxidised):
    decay = Decay(rate, oxidised_share=oxidised)
    tool = yearly_methane_kg(deposits, decay, start_month=1)
    guidelines = yearly_methane_kg(deposits, decay, start_month=13)
    assert guidelines == _close([0.0, *tool[:-1]], deposits.sum())


@given(DEPOSITS, RATES, DELAYS, SHARES)
def test_in_the_end_all_of_the_potential_is_given_off(deposits, rate, delay, oxidised):
    decay = Decay(rate, delay, oxidised)
    found = methane_between_kg(deposits, decay, (0, FOREVER_MONTHS))
    assert float(found[0]) == _close((1 - oxidised) * deposits.sum(), deposits.sum())


@given(DEPOSITS, RATES, DELAYS, schedules(), st.integers(0, 60), st.integers(0, 600))
def test_moments_in_between_are_sums_of_months(deposits, rate, delay, schedule, start, length):
    decay = Decay(rate, delay, 0.1, *schedule)
    series = monthly_methane_kg(deposits, decay, months_count=700)
    found = methane_between_kg(deposits, decay, (start, start + length))
    assert float(found[0]) == _close(series[start : start + length].sum(), deposits.sum())


@given(DEPOSITS, DEPOSITS, RATES, st.floats(0.0, 10.0), schedules())
def test_twice_the_waste_gives_twice_the_methane(first, second, rate, factor, schedule):
    months = max(len(first), len(second))
    first, second = (np.pad(kg, (0, months - len(kg))) for kg in (first, second))
    decay = Decay(rate, 6.5, 0.1, *schedule)
    apart = monthly_methane_kg(first, decay) + factor * monthly_methane_kg(second, decay)
    together = monthly_methane_kg(first + factor * second, decay)
    assert together == _close(apart, 11 * (first.sum() + second.sum()))


@given(DEPOSITS, RATES, RATES, DELAYS, st.floats(1.0, 1200.0))
def test_faster_decay_gives_more_by_any_day(deposits, rate, other, delay, months):
    slow, fast = (
        float(methane_between_kg(deposits, Decay(k, delay), (0, months))[0])
        for k in sorted([rate, other])
    )
    assert slow <= fast * (1 + 1e-12)


@given(RATES, DELAYS, schedules(), st.floats(0.0, 1e4))
def test_capture_only_lowers_and_never_below_nothing(rate, delay, schedule, age):
    with_wells = float(Decay(rate, delay, 0.1, *schedule).emitted_share(age))
    without = float(Decay(rate, delay, 0.1).emitted_share(age))
    assert -1e-12 <= with_wells <= without + 1e-12
    lowest = without * (1 - max(schedule[1]))
    assert with_wells >= lowest - 1e-12


@given(RATES, DELAYS, schedules(), st.integers(1, 500))
def test_what_has_gone_up_does_not_come_back(rate, delay, schedule, months):
    shares = Decay(rate, delay, 0.1, *schedule).emitted_share(np.arange(months))
    assert (np.diff(shares) >= -1e-12).all()


@given(RATES, st.integers(0, 12), st.integers(0, 30))
def test_a_first_day_deposit_gives_the_same_by_month_and_by_year(rate, delay, years):
    month = delay + 1
    by_month = monthly_methane_kg([1.0], Decay(rate, delay), months_count=12 * (years + 1))
    by_year = yearly_methane_kg([1.0], Decay(rate), start_month=month, years_count=years + 1)
    assert by_month.reshape(-1, 12).sum(axis=1) == _close(by_year)
