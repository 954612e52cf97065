"""An order rests on the places that are held, and on who came to the council's own days."""

from __future__ import annotations

import datetime as dt

import pytest
from scipy import integrate, stats

from planner.errors import OrderError
from planner.ordering.demand import plan_demand
from planner.ordering.inputs import (
    CasePromises,
    events_of,
    prices_without_tax,
    read_inputs,
    turnout_notes,
    with_own_turnout,
    with_top_ups,
)
from planner.ordering.request import OrderRequest
from planner.paths import TEMPLATES
from planner.program import read_program
from planner.store.opening import open_store
from planner.store.writing import writing
from tests.queries.given import frame

PROGRAM = read_program(TEMPLATES / "program.toml")
D = dt.date
REQUEST = OrderRequest(D(2026, 6, 1), D(2026, 12, 31))
HELD = [("1", "E1", "came"), ("2", "E1", "came"), ("3", "E1", "absent"), ("4", "E1", "declined"),
        ("5", "E2", "accepted"), ("6", "E2", "offered"), ("7", "E2", "moved")]  # fmt: skip
GIVEN = {
    "areas": [{"area_id": "A"}],
    "households": [{"household_id": f"H{number}"} for number, *_ in HELD],
    "events": [
        {"event_id": "E1", "event_date": D(2026, 5, 1), "places_count": 9},
        {"event_id": "E2", "event_date": D(2026, 7, 1), "places_count": 30},
        {"event_id": "E3", "event_date": D(2026, 8, 1), "places_count": 40},
    ],
    "bookings": [
        {
            "booking_id": f"K{number}",
            "household_id": f"H{number}",
            "event_id": event,
            "state": state,
        }
        for number, event, state in HELD
    ],
}


@pytest.fixture(scope="module")
def inputs(tmp_path_factory):
    folder = tmp_path_factory.mktemp("town")
    with open_store(folder) as store, writing(store) as writer:
        load_id = writer.begin_load("given.xlsx", "mark")
        for table, rows in GIVEN.items():
            writer.write(load_id, table, frame(table, rows))
    return read_inputs(folder, REQUEST, PROGRAM)


def test_places_held_are_needed_and_where_none_is_held_yet_all_places(inputs):
    events = events_of(inputs.events, REQUEST)
    assert dict(zip(events.event_ids, events.booked_count.tolist(), strict=True)) == {
        "E2": 2,
        "E3": 40,
    }
    assert events.unbooked_ids == ("E3",)


def test_worms_that_cases_promise_are_needed_at_the_first_day(inputs):
    events = events_of(inputs.events, REQUEST)
    settings = PROGRAM.ordering
    plain = plan_demand(events, {"bin": 1.0}, {}, settings)
    # 5 top-ups of 0.2 kg are 1 kg: two starters of 0.5 kg, and a third once it is a gram more
    for kilos, starters in ((0.2, 2), (0.2002, 3)):
        more = with_top_ups(plain, CasePromises(0, 5, kilos).starters_count(0.5))
        assert (more.show_ups_count - plain.show_ups_count).tolist() == [starters, 0]
        assert more.bins == plain.bins


def test_the_share_that_comes_is_learned_from_those_who_had_not_told_ahead(inputs):
    program = PROGRAM
    stated = program.ordering.show_up_share
    learned = with_own_turnout(program, inputs.turnout).ordering.show_up_share
    # two of three came; on one day of three, days that differ tell a little less than the
    # conjugate posterior of the stated share and twenty bookings, worked out by scipy
    first, second = 20.0 * stated + 2.0, 20.0 * (1.0 - stated) + 1.0
    mean = integrate.quad(lambda p: p * stats.beta.pdf(p, first, second), 0.0, 1.0)[0]
    assert learned == pytest.approx(mean, abs=0.002)
    assert learned < stated


def test_without_a_record_the_stated_share_stands(inputs):
    program = PROGRAM
    assert with_own_turnout(program, inputs.turnout.clear()) is program


def test_what_the_numbers_rest_on_is_said(inputs):
    program = with_own_turnout(PROGRAM, inputs.turnout)
    notes = turnout_notes(events_of(inputs.events, REQUEST), program.ordering, inputs.turnout)
    assert "your own days (1 so far, 3 places)" in notes[0]
    assert notes[1].startswith("1 of 2 hand-over days have no bookings yet")


SHOP = {"supplier_id": "T", "minimum_order_amount": 120.0, "freight_per_delivery": 24.0}
OFFERED = {"item_kind": "bins", "price_per_pack": 60.0, "second_price_per_pack": 54.0}


def test_a_supplier_who_quotes_with_tax_is_compared_without_it():
    """VAT at 20% in a price is a sixth of it: HMRC's VAT fraction, from memory."""
    suppliers = frame("suppliers", [{"supplier_id": "S"}, {**SHOP, "prices_include_tax": True}])
    offers = frame("offers", [{**OFFERED, "supplier_id": one, "offer_id": one} for one in "ST"])
    alike, priced = prices_without_tax(suppliers, offers, PROGRAM)
    assert dict(alike.select("supplier_id", "freight_per_delivery").iter_rows())["T"] == 20.0
    assert alike["minimum_order_amount"].to_list()[1] == pytest.approx(100.0)
    prices = priced.sort("offer_id").select("price_per_pack", "second_price_per_pack").rows()
    assert prices[0] == (60.0, 54.0)
    assert prices[1] == pytest.approx((50.0, 45.0))


def test_tax_that_is_in_all_prices_is_not_said_again_by_one_supplier():
    terms = PROGRAM.purchasing.model_copy(update={"prices_include_tax": True})
    program = PROGRAM.model_copy(update={"purchasing": terms})
    suppliers = frame("suppliers", [{**SHOP, "prices_include_tax": True}])
    with pytest.raises(OrderError, match="prices_include_tax"):
        prices_without_tax(suppliers, frame("offers", []), program)
