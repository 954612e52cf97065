"""Heat and frost: better packing is bought where it pays, and the other ways are priced."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest

from planner.factors import read_factors
from planner.ordering import plan as ordered
from planner.ordering.climate import climate_options
from planner.ordering.demand import Events, plan_demand
from planner.ordering.offers import packing_limits
from planner.ordering.plan import excess_notes
from planner.ordering.problem import Line, LiveNeed, Offer, PriceStep, PurchaseProblem, Slot
from planner.ordering.request import Effort
from planner.ordering.shipping_window import DayForecast, TravelLimits, Weather, climate_of
from planner.ordering.slots import Calendar, days_between
from planner.ordering.solving import solve
from planner.ordering.working_days import WorkingDays
from planner.program.ordering import Ordering
from planner.report.orders.clash_words import lack_words
from planner.report.orders.order import undone_words
from planner.report.wording import Wording
from planner.worms.transit import loss_law
from tests.queries.given import frame
from tests.unit.ordering.small import supplier

D = dt.date
EXACT = Effort(0.0, 5_000)
TUESDAY, SATURDAY = D(2026, 1, 13), D(2026, 1, 17)
LATER = D(2026, 2, 14)
HOT, MILD = DayForecast(18.0, 32.0), DayForecast(12.0, 22.0)
PACKINGS = packing_limits(TravelLimits(4.0, 27.0), read_factors())
STARTER_KG = 0.25


def worms(code, price, packing=""):
    """Offer of worms by the kilogram."""
    travels = PACKINGS[packing] if packing else None
    name = "Eisenia fetida"
    return Offer(code, "F", "worms", "worms", name, 1.0, None, 1, None, False,
                 (PriceStep(1, price),), packing, travels)  # fmt: skip


def planned(offers, served=(True, True), booked=(20, 40), **settings):
    """Plan of a hot first Saturday and a mild second; a farm that sends on Tuesdays, a day away."""
    days = (SATURDAY, LATER)
    forecasts = {D(2026, 1, 1) + dt.timedelta(days=n): HOT if n < 20 else MILD for n in range(60)}
    weather = Weather((20.0,) * 12, forecasts=forecasts)
    sent = (TUESDAY, LATER - dt.timedelta(days=4))
    slots = tuple(Slot("F", day, day + dt.timedelta(days=1), -1) for day in sent)
    lines = []
    for place, offer in enumerate(offers):
        for number, slot in enumerate(slots):
            chance = weather.held_chance(
                days_between(slot.dispatch_date, slot.delivery_date), offer.travels
            )
            lock = "held" if chance > 0.25 else ""
            lines.append(Line(place, number, slot.dispatch_date, lock, None, chance))
    events = Events(("E1", "E2"), days, ("", ""), np.array(booked))
    made = Ordering(show_up_share=1.0, **settings)
    demand = plan_demand(events, {"m": 1.0}, {}, made)
    live = tuple(
        LiveNeed(f"E{n + 1}", days[n], demand.show_ups_count[n] * STARTER_KG * served[n],
                 np.array([n]), np.array([demand.show_ups_count[n] * STARTER_KG * served[n]]),
                 np.array([3]))
        for n in range(2)
    )  # fmt: skip
    farm = supplier("F", delivery=15.0)
    problem = PurchaseProblem({"F": farm}, tuple(offers), slots, tuple(lines), (), live, 3, 60.0)
    changes = [] if served[0] else [SimpleNamespace(family="live_need", key=(0,), change=1.0)]
    return SimpleNamespace(
        problem=problem,
        solution=solve(problem, EXACT),
        clashes=SimpleNamespace(least=changes) if changes else None,
        demand=demand,
        settings=made,
        starter_kg=STARTER_KG,
        laws={"F": loss_law(0.0)},
        calendar=Calendar(D(2026, 1, 5), days, WorkingDays(), weather, 3),
    )


def options(plan):
    tuesdays = dict.fromkeys(("first_dispatch_weekday", "last_dispatch_weekday"), "tuesday")
    farms = frame("suppliers", [{"supplier_id": "F", "transit_days": 1, **tuesdays}])
    return {one.way: one for one in climate_options(plan, farms, PACKINGS, 30.0, EXACT)}


def test_cold_packs_are_bought_for_the_hot_day_alone_and_plain_packing_is_priced():
    plan = planned([worms("P", 30.0), worms("C", 40.0, "cold_pack")])
    # 20 x 0.25 kg at 40 and 40 x 0.25 kg at 30, two deliveries at 15
    assert plan.solution.cost == pytest.approx(5 * 40 + 10 * 30 + 2 * 15)
    plain = options(plan)["plain_packing"]
    assert plain.event_ids == ("E1",)
    assert plain.kilos == pytest.approx(5.0)
    assert plain.more_cost == pytest.approx(-(5 * 40 + 15))


def test_without_cold_packs_they_are_asked_for_and_a_voucher_costs_the_worms_alone():
    plan = planned([worms("P", 30.0)], served=(False, True))
    found = options(plan)
    assert found["better_packing"].packing == "cold_pack"
    assert found["better_packing"].event_ids == ("E1",)
    assert found["better_packing"].more_cost is None
    # the later delivery goes anyway: five kilograms more, no freight
    assert found["later"].dates == (LATER,)
    assert found["later"].more_cost == pytest.approx(5 * 30)
    many = planned([worms("P", 30.0)], served=(False, True), booked=(200, 40))
    assert options(many)["later"].more_cost == pytest.approx(50 * 30)


def test_what_an_order_leaves_undone_is_said_of_days_without_and_with_fewer_worms():
    plan = planned([worms("P", 30.0)], served=(False, True))
    plan.clashes.least.append(SimpleNamespace(family="live_need", key=(1,), change=0.3))
    plan.clashes.least.append(SimpleNamespace(family="need", key=(0, 0), change=1.0))
    assert undone_words(plan) == [
        "1 of 2 hand-over days gets no live worms by this order.",
        "1 hand-over day gets worms for fewer households than are expected.",
        "Some hand-over days go short of bins or bedding.",
    ]
    plan.clashes = None
    assert undone_words(plan) == []


def test_why_a_day_has_no_worms_is_told_of_the_day():
    def why(plan):
        return lack_words(plan, Wording("en_GB", "GBP"))

    plan = planned([worms("P", 30.0)], served=(False, True))
    short = "E1 on 17 Jan 2026: no worms, because"
    assert why(plan) == [f"{short} it will probably be too hot to send them."]
    lines = plan.problem.lines
    for lock, cause in (
        ("late", "it is too late to order them"),
        ("not_offered", "no offer is open on the days when they would have to be ordered"),
        ("", "a limit leaves no room for them (money, packs in a week or room to keep worms)"),
    ):
        plan.problem = replace(plan.problem, lines=tuple(replace(one, lock=lock) for one in lines))
        assert why(plan) == [f"{short} {cause}."]
    plan.problem = replace(plan.problem, lines=())
    assert why(plan) == [f"{short} no supplier delivers shortly before."]
    assert why(planned([worms("P", 30.0)], served=(True, True))) == []


def test_where_no_later_day_has_worms_a_second_date_is_found_and_priced():
    plan = planned([worms("P", 30.0)], served=(False, False), second_day_cost=200.0)
    plan.clashes.least.append(SimpleNamespace(family="live_need", key=(1,), change=1.0))
    second = options(plan)["second_date"]
    # the last hand-over is on 14 February; the farm sends on Tuesday 17, comes on 18
    assert second.dates == (D(2026, 2, 19),)
    assert second.more_cost == pytest.approx(15 * 30 + 15 + 200)
    # a day that costs the council nothing more adds nothing
    free = planned([worms("P", 30.0)], served=(False, False))
    free.clashes.least.append(SimpleNamespace(family="live_need", key=(1,), change=1.0))
    assert options(free)["second_date"].more_cost == pytest.approx(15 * 30 + 15)


def test_a_hot_hand_over_with_worms_is_to_be_held_indoors():
    plan = planned([worms("P", 30.0), worms("C", 40.0, "cold_pack")], indoor_cost_per_day=80.0)
    indoors = options(plan)["indoors"]
    # 32 °C on the day: beyond the 30 °C from which worms are under stress
    assert indoors.event_ids == ("E1",)
    assert indoors.more_cost == pytest.approx(80.0)


def test_mild_days_have_no_options():
    plan = planned([worms("P", 30.0)])
    mild = dict.fromkeys(plan.calendar.weather.forecasts, MILD)
    calm = Weather((20.0,) * 12, forecasts=mild)
    plan.calendar = Calendar(D(2026, 1, 5), plan.calendar.event_dates, WorkingDays(), calm, 3)
    plan.clashes = None
    assert options(plan) == {}


@pytest.mark.parametrize(
    ("means", "climate"),
    [
        # monthly means of Singapore 1991-2020 (meteorological service) and of London (Heathrow)
        ((26.8, 27.3, 27.8, 28.2, 28.6, 28.5, 28.2, 28.1, 28.0, 27.9, 27.2, 26.8), "tropical"),
        ((5.7, 6.0, 8.0, 10.5, 13.7, 16.8, 19.0, 18.7, 15.9, 12.3, 8.4, 6.0), "temperate"),
        ((-9.0, -6.0, 0.0, 8.0, 15.0, 20.0, 23.0, 21.0, 16.0, 9.0, 1.0, -6.0), "cold"),
    ],
)
def test_the_climate_goes_by_the_coldest_month_as_koppen_parts_them(means, climate):
    assert climate_of(means) == climate


def test_range_and_spread_are_of_the_climate_unless_named():
    factors = read_factors()
    window = Ordering().shipping_window
    tropical = Weather.of((27.0,) * 12, window, factors, {})
    assert (tropical.daily_range_c, tropical.daily_spread_c) == (7.0, 1.5)
    own = window.model_copy(update={"daily_range_c": 11.0, "daily_spread_c": 2.0})
    named = Weather.of((27.0,) * 12, own, factors, {})
    assert (named.daily_range_c, named.daily_spread_c) == (11.0, 2.0)


def test_what_a_least_order_buys_beyond_need_is_named():
    plan = planned([worms("P", 30.0)], served=(False, True))
    assert excess_notes(plan) == []
    farm = replace(plan.problem.suppliers["F"], minimum_order_amount=3_000.0)
    plan.problem = replace(plan.problem, suppliers={"F": farm})
    plan.solution = solve(plan.problem, EXACT)
    # 3,000 at 30 a kilogram are 100 kg, and the one day needs 10
    (note,) = excess_notes(plan)
    assert "buys 100 of worms where 10 are needed" in note


def test_the_warmest_hour_is_half_a_days_range_above_its_mean_and_no_more_than_may_travel():
    weather = Weather((15.0,) * 12, TravelLimits(4.0, 22.0), daily_range_c=9.0)
    assert weather.warmest_c([TUESDAY]) == pytest.approx([19.5])
    hot = replace(weather, monthly_mean_temperature_c=(20.0,) * 12)
    assert hot.warmest_c([TUESDAY]) == pytest.approx([22.0])


def test_a_day_to_which_nobody_comes_lacks_no_worms(monkeypatch):
    plan = SimpleNamespace(demand=SimpleNamespace(show_ups_count=np.array([0.0, 8.0, 8.0])))
    monkeypatch.setattr(ordered, "served_count", lambda _: np.array([0, 0, 8]))
    assert ordered.events_without_worms(plan) == [1]
