"""Dates: working days, last days for orders, and the shipping window of live worms."""

from __future__ import annotations

import datetime as dt

import numpy as np
import pytest
from scipy import stats

from planner.errors import OrderError
from planner.ordering.shipping_window import (
    DayForecast,
    Weather,
    normal_c,
    probability_within,
    read_forecast,
)
from planner.ordering.working_days import WorkingDays, weekdays_between

D = dt.date
EASTER = (D(2026, 4, 3), D(2026, 4, 6))  # Good Friday and Easter Monday of 2026
MILD = (15.0,) * 12


def weather(means=MILD, forecasts=None):
    return Weather(tuple(means), forecasts=forecasts or {})


def test_a_parcel_over_easter_comes_on_the_tuesday():
    days = WorkingDays(EASTER)
    assert days.delivery(D(2026, 4, 2), 1) == D(2026, 4, 7)
    assert WorkingDays().delivery(D(2026, 4, 2), 1) == D(2026, 4, 3)


def test_a_depot_that_receives_on_wednesdays_waits_for_one():
    days = WorkingDays((), ("wednesday",))
    assert days.delivery(D(2026, 3, 9), 1) == D(2026, 3, 11)
    assert days.delivery(D(2026, 3, 11), 1) == D(2026, 3, 18)


def test_orders_go_out_by_the_last_weekday_before_the_lead_time():
    days = WorkingDays(EASTER)
    # sent Monday 13 April, 7 days ahead is Easter Monday; the Thursday before is 2 April
    assert days.order_by(D(2026, 4, 13), 7, "thursday") == D(2026, 4, 2)
    assert days.order_by(D(2026, 4, 13), 7, None) == D(2026, 4, 2)
    assert days.order_by(D(2026, 4, 14), 1, None) == D(2026, 4, 13)


def test_nothing_is_sent_on_a_holiday_or_off_the_supplier_s_days():
    sent = WorkingDays(EASTER).dispatch_days(D(2026, 3, 30), D(2026, 4, 8), "monday", "tuesday")
    assert sent == [D(2026, 3, 30), D(2026, 3, 31), D(2026, 4, 7)]
    assert list(weekdays_between("monday", "monday")) == [0]


def test_normals_lie_on_lines_between_the_middles_of_months():
    means = [0.0, 10.0, *[20.0] * 10]
    assert normal_c(means, D(2026, 2, 15)) == pytest.approx(10.0, abs=0.5)
    assert normal_c(means, D(2026, 1, 1)) == pytest.approx(10.0, abs=0.5)  # December is 20


def test_the_chance_of_staying_inside_is_that_of_the_multivariate_normal_law():
    low, high = np.array([-1.2, -0.8, -1.0]), np.array([1.0, 1.4, 0.9])
    lags = np.abs(np.subtract.outer(range(3), range(3)))
    law = stats.multivariate_normal(np.zeros(3), 0.7**lags, seed=np.random.default_rng(1))
    expected = law.cdf(high, lower_limit=low)
    assert probability_within(low, high, 0.7) == pytest.approx(expected, abs=2e-4)


def test_days_that_do_not_hang_together_multiply():
    low, high = np.array([-1.0, -0.5]), np.array([1.5, 2.0])
    singles = stats.norm.cdf(high) - stats.norm.cdf(low)
    assert probability_within(low, high, 0.0) == pytest.approx(singles.prod(), abs=1e-9)


def test_a_normal_month_near_the_limit_has_a_chance_and_a_mild_one_hardly_any():
    days = [D(2026, 1, 5), D(2026, 1, 6), D(2026, 1, 7)]
    # warmest hour 22.5 + 4.5 = 27: one day alone is over the limit half of the time
    assert weather([22.5] * 12).held_chance(days[:1]) == pytest.approx(0.5, abs=1e-4)
    assert weather([22.5] * 12).held_chance(days) > 0.5
    assert weather(MILD).held_chance(days) < 0.1


def test_a_normal_month_near_the_cold_limit_is_as_uncertain_as_one_near_the_warm_limit():
    day = [D(2026, 1, 5)]
    # coldest hour 8.5 - 4.5 = 4, the limit: colder half of the time
    assert weather([8.5] * 12).held_chance(day) == pytest.approx(0.5, abs=1e-4)
    assert weather([6.0] * 12).held_chance(day) > 0.75
    assert weather([11.0] * 12).held_chance(day) < 0.25


@pytest.mark.parametrize(
    ("coldest", "warmest", "is_held"),
    [(4.0, 27.0, False), (3.9, 20.0, True), (10.0, 27.1, True)],
)
def test_a_forecast_decides_for_its_day(coldest, warmest, is_held):
    day = D(2026, 1, 5)
    known = weather([30.0] * 12, {day: DayForecast(coldest, warmest)})
    assert known.held_chance([day]) == float(is_held)


def test_one_day_outside_the_window_holds_the_parcel_whatever_the_others():
    days = [D(2026, 6, 1), D(2026, 6, 2)]
    known = weather(MILD, {days[1]: DayForecast(12.0, 31.0)})
    assert known.held_chance(days) == 1.0


def test_a_forecast_is_read_with_either_comma(tmp_path):
    path = tmp_path / "forecast.csv"
    path.write_text("date;coldest_c;warmest_c\n2026-06-01;9,5;21,0\n", encoding="utf-8")
    assert read_forecast(path) == {D(2026, 6, 1): DayForecast(9.5, 21.0)}
    path.write_text("date,warmest_c,coldest_c\n2026-06-01,21.0,9.5\n", encoding="utf-8")
    assert read_forecast(path) == {D(2026, 6, 1): DayForecast(9.5, 21.0)}


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("day,low,high\n", "found no column date, coldest_c, warmest_c"),
        ("date,coldest_c,warmest_c\n1/6/2026,9,21\n", 'row 2, date: found "1/6/2026"'),
        ("date,coldest_c,warmest_c\n2026-06-01,9,hot\n", 'row 2, warmest_c: found "hot"'),
        ("date,coldest_c,warmest_c\n2026-06-01,9,210\n", "expected degrees Celsius"),
        ("date,coldest_c,warmest_c\n2026-06-01,19,9\n", "warmest hour below the coldest"),
    ],
)
def test_a_wrong_forecast_is_told_by_row_and_column(tmp_path, text, said):
    path = tmp_path / "forecast.csv"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(OrderError, match=said):
        read_forecast(path)
