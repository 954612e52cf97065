"""Worms on order in frost and heat, and back orders: what can be counted on, by hand.

The day is Monday 4 May 2026; hand-overs are on Saturday 16 and Sunday 17 May, for which worms
may be held three days. Eight degrees on every day keep plain parcels going.
"""

from __future__ import annotations

import datetime as dt

import numpy as np
import polars as pl
import pytest

from planner.ordering.commitments import allot_worms, commit, position_on, worm_batches
from planner.ordering.demand import Events, plan_demand
from planner.ordering.problem import Commitments
from planner.ordering.request import Effort
from planner.ordering.shipping_window import DayForecast, TravelLimits, Weather
from planner.ordering.slots import Calendar
from planner.ordering.solving import solve
from planner.ordering.working_days import WorkingDays
from planner.program.ordering import Ordering
from tests.plain_purchase import faults, least_cost
from tests.unit.ordering.small import MONDAY, day, live, offer, problem, slot, supplier
from tests.unit.ordering.test_commitments import NOTHING_IN_STORE, TODAY, orders, position

D = dt.date
SATURDAY, SUNDAY = D(2026, 5, 16), D(2026, 5, 17)
FROST, MILD, HEAT = DayForecast(-9.0, 2.0), DayForecast(8.0, 14.0), DayForecast(18.0, 36.0)
WORMS = {"item_kind": "worms", "item_id": "Eisenia fetida", "stock_item": "worms",
         "delivery_date": D(2026, 5, 14), "outstanding_quantity": 2.0}  # fmt: skip
SETTINGS = Ordering(holding_days_most=3, holding_loss_share_per_day=0.0)


def may(number):
    return D(2026, 5, number)


def calendar(weather, holidays=(), receiving=("monday", "tuesday", "wednesday", "thursday")):
    """Calendar of mild days but for those given; nobody receives on a Friday."""
    forecasts = {may(n): MILD for n in range(1, 32)} | {may(n): one for n, one in weather.items()}
    days = WorkingDays(tuple(may(n) for n in holidays), receiving)
    return Calendar(TODAY, (SATURDAY, SUNDAY), days, Weather((10.0,) * 12, forecasts=forecasts), 3)


def counted(rows, weather, *, transit=2, travels=None, **days):
    """Worms alive for each hand-over and the warnings, of order lines and the weather."""
    there, when = position(orders(*({**WORMS, **row} for row in rows))), calendar(weather, **days)
    offers = [offer("O", "A", [(1, 30.0)], item="worms", kind="worms", travels=travels)]
    batches, warnings = worm_batches(there, when, {"A": transit}, offers)
    events = Events(("E1", "E2"), (SATURDAY, SUNDAY), ("", ""), np.array([20, 20]))
    demand = plan_demand(events, {"m": 1.0}, {}, SETTINGS)
    alive, _, _ = allot_worms(demand, batches, SETTINGS, 0.5)
    return alive.tolist(), len(warnings)


COLD_PACKS = TravelLimits(-15.0, 45.0)


@pytest.mark.parametrize(
    ("told", "rows", "weather", "terms", "expected"),
    [
        ("mild", [{}], {}, {}, ([2.0, 0.0], 0)),
        ("frost when it is sent", [{}], {12: FROST}, {}, ([0.0, 0.0], 1)),
        ("frost on the way", [{}], {13: FROST}, {}, ([0.0, 0.0], 1)),
        ("frost when it comes", [{}], {14: FROST}, {}, ([0.0, 0.0], 1)),
        ("frost the day before it is sent", [{}], {11: FROST}, {}, ([2.0, 0.0], 0)),
        ("frost the day after it came", [{}], {15: FROST}, {}, ([2.0, 0.0], 0)),
        ("heat on the way", [{}], {13: HEAT}, {}, ([0.0, 0.0], 1)),
        ("packed against frost", [{}], {13: FROST}, {"travels": COLD_PACKS}, ([2.0, 0.0], 0)),
        ("packed against heat", [{}], {13: HEAT}, {"travels": COLD_PACKS}, ([2.0, 0.0], 0)),
        ("an offer that is no more", [{"offer_id": "old"}], {13: FROST}, {"travels": COLD_PACKS},
         ([0.0, 0.0], 1)),
        ("no days on the way", [{}], {13: FROST}, {"transit": 0}, ([2.0, 0.0], 0)),
        ("a holiday makes it go a day before", [{}], {11: FROST}, {"holidays": (12,)},
         ([0.0, 0.0], 1)),
        ("two lines, one in frost", [{}, {"order_line_id": "Q", "delivery_date": may(13)}],
         {14: FROST}, {}, ([2.0, 0.0], 1)),
        ("two lines for one day", [{}, {"order_line_id": "Q"}], {}, {}, ([4.0, 0.0], 0)),
        ("more than the first day needs", [{"outstanding_quantity": 12.0}], {}, {}, None),
        ("come too soon to be held", [{"delivery_date": may(12)}], {}, {}, ([0.0, 0.0], 0)),
        ("held for Saturday, the longest", [{"delivery_date": may(13)}], {}, {}, ([2.0, 0.0], 0)),
        ("for Sunday alone", [{"delivery_date": SUNDAY}], {}, {}, ([0.0, 2.0], 0)),
        ("after both days", [{"delivery_date": may(18)}], {}, {}, ([0.0, 0.0], 0)),
        ("half of it came: the rest is on back order", [{"outstanding_quantity": 1.0,
         "outstanding_share": 0.5}], {}, {}, ([1.0, 0.0], 0)),
        ("all of it came", [{"outstanding_quantity": 0.0, "outstanding_share": 0.0}], {13: FROST},
         {}, ([0.0, 0.0], 0)),
        # sent on the way already, in the frost of yesterday: what is sent is counted on
        ("on its way", [{"delivery_date": may(5)}], {4: FROST}, {}, ([0.0, 0.0], 0)),
        ("overdue, for days too far off", [{"delivery_date": may(1)}], {}, {}, ([0.0, 0.0], 0)),
    ],
)  # fmt: skip
def test_worms_on_order_are_counted_on_where_they_may_travel(told, rows, weather, terms, expected):
    alive, warnings = counted(rows, weather, **terms)
    if expected is None:
        # all that Saturday needs, the rest for Sunday
        assert warnings == 0
        assert sum(alive) == pytest.approx(12.0)
        assert alive[0] < 12.0
        return
    assert (alive, warnings) == (pytest.approx(expected[0]), expected[1]), told


def overdue(weather, transit):
    """Worms alive of a parcel that was due on Monday 11 May and had not come on the next day."""
    row = {**WORMS, "delivery_date": may(11)}
    there = position_on(may(12), orders(row), NOTHING_IN_STORE, {}, 0.95)
    batches, warnings = worm_batches(there, calendar(weather), {"A": transit}, ())
    return [(one.came_date, one.kilos) for one in batches[1:]], len(warnings)


@pytest.mark.parametrize(
    ("weather", "transit", "expected"),
    [
        # sent on Wednesday at the soonest, there on Thursday; nobody receives on Friday
        ({}, 1, ([(may(14), 2.0)], 0)),
        ({}, 2, ([(may(18), 2.0)], 0)),
        ({}, 0, ([(may(13), 2.0)], 0)),
        # frost on Wednesday keeps it back again, frost on the day it was due no more
        ({13: FROST}, 1, ([], 1)),
        ({11: FROST}, 1, ([(may(14), 2.0)], 0)),
    ],
)
def test_a_parcel_that_is_overdue_is_expected_as_if_it_went_on_the_next_day(
    weather, transit, expected
):
    assert overdue(weather, transit) == expected


def back_orders(**row):
    """Packs by week that earlier orders take, on Monday 4 May, of an offer of worms."""
    suppliers = pl.DataFrame({"supplier_id": ["A"], "transit_days": [2]})
    offers = [offer("O", "A", [(1, 30.0)], item="worms", kind="worms")]
    events = Events(("E1", "E2"), (SATURDAY, SUNDAY), ("", ""), np.array([20, 20]))
    demand = plan_demand(events, {"m": 1.0}, {}, SETTINGS)
    there = position(orders({**WORMS, **row}))
    made = commit(there, offers, calendar({}), suppliers, demand, SETTINGS, 0.5)
    return made.limits.weekly_packs, made.limits.held_kg


@pytest.mark.parametrize(
    ("row", "weeks"),
    [
        ({"packs_count": 4}, {may(11): 4}),
        # due last week, of four packs one is owed and goes from tomorrow on
        ({"packs_count": 4, "delivery_date": D(2026, 4, 29), "outstanding_share": 0.25},
         {D(2026, 4, 27): 3, may(4): 1}),
        ({"packs_count": 4, "delivery_date": D(2026, 4, 29), "outstanding_share": 0.0},
         {D(2026, 4, 27): 4, may(4): 0}),
        # a part of a pack that is owed is a pack to send
        ({"packs_count": 4, "delivery_date": may(4), "outstanding_share": 0.3},
         {D(2026, 4, 27): 2, may(4): 2}),
        ({"packs_count": 4, "delivery_date": may(12), "outstanding_share": 0.5}, {may(4): 4}),
    ],
)  # fmt: skip
def test_a_back_order_takes_of_the_week_in_which_it_goes(row, weeks):
    packs, _ = back_orders(**row)
    found = {week: count for (_, week), count in packs.items() if count}
    assert found == {week: count for week, count in weeks.items() if count}


@pytest.mark.parametrize(
    ("held", "weekly", "cost"),
    [
        ((), 0, 150.0),
        # a kilogram held from the day before leaves five of six for the 4.4 that are sent
        (((day(3), day(6), 1.0),), 0, 150.0),
        (((day(3), day(6), 2.0),), 0, None),
        (((day(3), day(4), 2.0),), 0, 150.0),
        (((day(5), day(9), 2.0),), 0, None),
        # eight packs a week, of which so many are owed
        ((), 3, 150.0),
        ((), 4, None),
    ],
)
def test_what_is_left_of_room_and_week_is_what_the_plain_model_leaves(held, weekly, cost):
    worms = offer("O", "A", [(1, 30.0)], item="worms", kind="worms", weekly=8)
    before = Commitments({(0, MONDAY): weekly}, held)
    needs = [live(6, 4.0, (0, 4.4, 2))]
    given = problem([supplier("A")], [worms], [slot("A", 4)], live=needs, holding_kg_most=6.0,
                    commitments=before)  # fmt: skip
    found = solve(given, Effort(0.0, 20_000))
    assert (found.cost if found else None) == cost
    plain, _ = least_cost(given)
    assert (plain if np.isfinite(plain) else None) == (cost and pytest.approx(cost))
    if found is not None:
        assert faults(given, found) == []
