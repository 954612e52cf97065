"""What room the days ahead have, how their places are numbered, and how they are told."""

from __future__ import annotations

import datetime as dt
from types import SimpleNamespace

import polars as pl
import pytest

from planner.field.booking import (
    PlacesRequest,
    _days_with_room,
    _law,
    _numbered,
    _slotted,
    _way,
    _with_chances,
)
from planner.program import HandOver
from planner.survey.attendance import attendance_law

D = dt.date
TODAY = D(2025, 2, 1)
REQUEST = PlacesRequest(TODAY, D(2025, 3, 31))
SURE = attendance_law([], [], stated_share=0.85, prior_bookings=1e9)
"""54 may be booked for 50 places, so that more come in at most one case of twenty."""


def day(kind="pick_up", booked=0, places=50):
    row = {"event_id": "E1", "event_kind": kind, "places_count": places, "booked_count": booked,
           "accepted_count": 0}  # fmt: skip
    return pl.DataFrame([row])


class Asked:
    """A store that keeps what it was asked and gives the same rows to whatever is asked."""

    def __init__(self, rows):
        self.rows, self.given = rows, {}

    def query(self, _, **given):
        self.given = given
        return self.rows


def room_of(rows, notice=3):
    store = Asked(rows)
    settings = HandOver(short_notice_days=notice)
    return store, _days_with_room(store, REQUEST, settings, SURE)["room_count"].to_list()


@pytest.mark.parametrize(
    ("kind", "booked", "room"),
    [("pick_up", 0, 54), ("pick_up", 40, 14), ("pick_up", 60, 0), ("delivery", 40, 10)],
)
def test_places_held_leave_the_rest_of_what_may_be_booked_and_a_delivery_takes_none_beyond(
    kind, booked, room
):
    assert room_of(day(kind, booked))[1] == [room]


@pytest.mark.parametrize(("notice", "first"), [(3, D(2025, 2, 4)), (0, D(2025, 2, 2))])
def test_days_are_filled_from_the_notice_on_never_today_and_up_to_the_last_asked_for(notice, first):
    store, _ = room_of(day(), notice)
    # the first day after the last that counts
    assert store.given == {"from_date": first, "before_date": D(2025, 4, 1)}


def test_a_day_as_far_off_as_the_notice_is_told_by_mail_and_a_day_nearer_by_telephone():
    given = pl.DataFrame({"given_date": [D(2025, 2, 10), D(2025, 2, 11), D(2025, 2, 12)]})
    ways = given.select(_way(TODAY, HandOver(notice_days=10)))
    assert ways.to_series().to_list() == ["telephone", "mail", "mail"]


def test_numbers_of_a_day_go_on_after_those_of_its_earlier_offers():
    there = pl.DataFrame({"booking_id": ["K20250201-0001", "K20250201-0002", "K20250131-0001"]})
    found = _numbered(pl.DataFrame({"household_id": ["H1", "H2"]}), there, REQUEST)
    assert found["booking_id"].to_list() == ["K20250201-0003", "K20250201-0004"]


@pytest.mark.parametrize(("kind", "held"), [("pick_up", 30), ("delivery", 30)])
def test_the_chance_of_too_many_counts_those_who_held_a_place_before(kind, held):
    given = pl.DataFrame({"given_event_id": ["E1"] * 25})
    found = _with_chances(day(kind, held), given, SURE)
    assert found["given_count"].to_list() == [25]
    # 55 are booked where 54 may be; nobody has to come where bins are brought
    chance = SURE.beyond_probability(55, 50) if kind == "pick_up" else 0.0
    assert found["beyond_chance"].to_list() == [chance]
    assert (chance > 0.05) == (kind == "pick_up")


def test_who_came_counts_among_all_who_had_a_place_on_the_day():
    turnout = pl.DataFrame({"came_count": [80, 85], "absent_count": [20, 15]})
    program = SimpleNamespace(ordering=SimpleNamespace(show_up_share=0.8))
    law = _law(Asked(turnout), program, TODAY)
    assert (law.came_count, law.booked_count, law.days_count) == (165, 200, 2)


def test_a_slot_that_was_declined_is_free_again():
    given = pl.DataFrame(
        {"household_id": ["H1"], "given_event_id": ["E1"], "access_need": ["none"],
         "place_in_line": [1]}
    )  # fmt: skip
    bookings = pl.DataFrame(
        {"event_id": ["E1"] * 2, "slot": ["9:00"] * 2, "state": ["declined", "moved"]}
    )
    slots = HandOver(opens="09:00", closes="10:00")
    assert _slotted(given, bookings, slots)["slot"].to_list() == ["09:00"]
    held = bookings.with_columns(state=pl.lit("accepted"))
    assert _slotted(given, held, slots)["slot"].to_list() == ["09:30"]
