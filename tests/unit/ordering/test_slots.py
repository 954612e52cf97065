"""Days of delivery and lines: what is of use, what is locked and why, worms in store first."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

import numpy as np
import polars as pl
import pytest

from planner.factors import read_factors
from planner.ordering.inputs import model_shares
from planner.ordering.model import build_model
from planner.ordering.offers import packing_limits, read_offers, too_soon_notes
from planner.ordering.problem import Line, Quarter
from planner.ordering.shipping_window import DayForecast, TravelLimits, Weather
from planner.ordering.slots import Calendar, plan_slots
from planner.ordering.working_days import WorkingDays
from planner.paths import PROGRAM_FILE, TEMPLATES
from planner.program import read_program
from tests.queries.given import frame
from tests.unit.ordering.small import MONDAY, live, offer, problem, slot, stored, supplier

D = dt.date
SATURDAY = D(2026, 6, 20)
PACKINGS = packing_limits(TravelLimits(4.0, 27.0), read_factors())


def calendar(forecasts=None, **terms):
    return Calendar(
        terms.get("from_date", D(2026, 5, 4)),
        terms.get("events", (SATURDAY,)),
        WorkingDays(terms.get("holidays", ())),
        Weather((15.0,) * 12, forecasts=forecasts or {}),
        3,
        terms.get("quarters", ()),
    )


def lines_of(dates, **offer):
    """Slots and lines of one worm farm that sends on Mondays and Tuesdays, two days away."""
    suppliers = frame(
        "suppliers", [{"supplier_id": "W", "last_dispatch_weekday": "tuesday", "transit_days": 2}]
    )
    row = {
        "offer_id": "O",
        "supplier_id": "W",
        "item_kind": "worms",
        "item_id": "Eisenia fetida",
        "valid_from_date": D(2026, 1, 1),
        "valid_until_date": D(2026, 12, 31),
        **offer,
    }
    offers = frame("offers", [row])
    read = read_offers(offers, [], ["Eisenia fetida"], PACKINGS)
    found = plan_slots(suppliers, offers, read, dates)
    return found, [(found.slots[line.slot].dispatch_date, line.lock) for line in found.lines]


def test_worms_for_a_saturday_may_be_sent_on_the_tuesday():
    found, lines = lines_of(calendar())
    assert (D(2026, 6, 16), "") in lines
    (line,) = [one for one in found.lines if not one.lock and
               found.slots[one.slot].dispatch_date == D(2026, 6, 16)]  # fmt: skip
    assert line.order_date == D(2026, 6, 9)
    assert (line.slot, 2) in found.live_slots[0]


def test_a_hot_tuesday_in_the_forecast_leaves_the_monday():
    hot = {D(2026, 6, 18): DayForecast(15.0, 31.0)}  # on the way of the Tuesday's parcel alone
    _, lines = lines_of(calendar(hot))
    assert (D(2026, 6, 15), "") in lines
    assert (D(2026, 6, 16), "held") in lines


def test_in_a_hot_week_every_day_is_held():
    hot = {D(2026, 6, day): DayForecast(15.0, 31.0) for day in range(15, 20)}
    _, lines = lines_of(calendar(hot))
    assert [lock for day, lock in lines if day in (D(2026, 6, 15), D(2026, 6, 16))] == ["held"] * 2


@pytest.mark.parametrize(
    ("forecast", "packed", "lock"),
    [
        # a keepers' magazine sends moist-skinned animals with cold packs up to 92 °F (33.3 °C)
        (DayForecast(20.0, 32.0), {"packing": "cold_pack"}, ""),
        (DayForecast(20.0, 34.0), {"packing": "cold_pack"}, "held"),
        # and with heat packs at 38 to 59 °F (3.3 to 15 °C) by day
        (DayForecast(-4.0, 5.0), {"packing": "heat_pack"}, ""),
        (DayForecast(10.0, 18.0), {"packing": "heat_pack"}, "held"),
        # limits that the supplier names go before those of the packing
        (DayForecast(20.0, 34.0), {"packing": "cold_pack", "travels_to_c": 36.0}, ""),
        (DayForecast(20.0, 29.0), {"travels_to_c": 30.0}, ""),
        (DayForecast(20.0, 29.0), {}, "held"),
    ],
)
def test_better_packing_travels_through_weather_of_its_own(forecast, packed, lock):
    week = {D(2026, 6, day): forecast for day in range(15, 20)}
    _, lines = lines_of(calendar(week), **packed)
    assert {found for day, found in lines if day == D(2026, 6, 16)} == {lock}


def test_a_holiday_moves_the_dispatch():
    _, lines = lines_of(calendar(holidays=(D(2026, 6, 16),)))
    assert (D(2026, 6, 15), "") in lines


@pytest.mark.parametrize(
    ("terms", "lock"),
    [
        ({"lead_days": 60}, "late"),
        ({"valid_until_date": D(2026, 5, 1)}, "not_offered"),
        ({"valid_from_date": D(2026, 6, 15)}, "not_offered"),
    ],
)
def test_lines_that_may_not_be_bought_say_why(terms, lock):
    _, lines = lines_of(calendar(), **terms)
    assert {found for day, found in lines if day == D(2026, 6, 16)} == {lock}


def test_other_species_and_mixed_worms_are_left_out():
    offers = frame(
        "offers",
        [
            {"offer_id": "1", "item_kind": "worms", "item_id": " eisenia  FETIDA"},
            {"offer_id": "2", "item_kind": "worms", "item_id": "mixed red worms"},
            {"offer_id": "3", "item_kind": "bins", "item_id": "two_tray"},
            {"offer_id": "4", "item_kind": "bins", "item_id": "unknown"},
        ],
    )
    assert set(read_offers(offers, ["two_tray"], ["Eisenia fetida"], PACKINGS)) == {"1", "3"}


def test_shares_of_models_come_from_the_file_then_the_plan_then_the_past():
    program = read_program(TEMPLATES / PROGRAM_FILE)
    past = pl.DataFrame({"model_id": ["two_tray"], "bins_given": [7]})
    assert model_shares(program, past, {})[0] == {"two_tray": 1.0}
    assert model_shares(program, past, {"two_tray": 40.0})[1] == [
        "Shares of the bin models are those of `planner size`."
    ]
    nothing = past.clear()
    assert model_shares(program, nothing, {}) == ({"two_tray": 1.0}, [])


def test_goods_that_may_come_late_are_too_late_for_a_day_for_which_worms_are_not():
    """Both are delivered on day 2; goods are counted on from day 9, and the hand-over is day 5."""
    offers = [
        offer("W", "A", [(1, 30.0)], item="worms", kind="worms"),
        offer("B", "A", [(1, 10.0)]),
    ]
    late = replace(slot("A", 2), late_days=7)
    given = problem(
        [supplier("A")], offers, [late], stored=[stored("bin", (5, 3))],
        live=[live(5, 4.0, (0, 4.4, 3))],
    )  # fmt: skip
    (note,) = too_soon_notes(given)
    assert "bin" in note
    on_time = replace(given, slots=(slot("A", 2),))
    assert too_soon_notes(on_time) == []


def test_goods_are_in_time_on_the_very_day_they_come_and_not_the_day_before():
    one = problem([supplier("A")], [offer("B", "A", [(1, 10.0)])], [slot("A", 2)])
    assert too_soon_notes(replace(one, stored=(stored("bin", (2, 3)),))) == []
    (note,) = too_soon_notes(replace(one, stored=(stored("bin", (1, 3)),)))
    assert "bin" in note


def test_a_budget_holds_from_its_first_day_until_before_that_of_the_next():
    quarters = (
        Quarter(D(2026, 4, 1), D(2026, 7, 1), 90.0),
        Quarter(D(2026, 7, 1), D(2026, 10, 1), 50.0),
    )
    days = (D(2026, 3, 31), D(2026, 4, 1), D(2026, 6, 30), D(2026, 7, 1), D(2026, 10, 1))
    found = [calendar(quarters=quarters).quarter(one) for one in days]
    # -1 is no place among the budgets
    assert found == [-1, 0, 0, 1, -1]


def test_of_a_line_that_may_not_be_bought_no_pack_is():
    given = problem(
        [supplier("A")], [offer("B", "A", [(1, 10.0)])], [slot("A", 1), slot("A", 2)],
        stored=[stored("bin", (5, 3))],
        lines=(Line(0, 0, MONDAY, "held"), Line(0, 1, MONDAY)),
    )  # fmt: skip
    model = build_model(given)
    lower, upper = (
        np.concatenate(part)[model.packs] for part in (model.program.lower, model.program.upper)
    )
    assert lower.tolist() == [0.0, 0.0]
    assert upper[0] == 0.0 < upper[1]
