"""The rules of who gets a place, and that the draw treats equals alike."""

from __future__ import annotations

import datetime as dt
import hashlib

import polars as pl
import pytest
from scipy import stats

from planner.field.draw import give_places, order_waiting_list, with_slots
from planner.program import HandOver

D = dt.date


def number_of(words, household):
    return hashlib.sha256(f"{words}|{household}".encode()).hexdigest()


def waiting(count, words="w", **columns):
    names = [f"H{n:03d}" for n in range(count)]
    base = {
        "area_id": "A",
        "registered_date": D(2025, 1, 9),
        "is_priority": False,
        "access_need": "none",
        "model_id": None,
        "event_id": None,
        "drop_point_id": None,
        "absent_count": 0,
        "latest_date": None,
    }
    rows = [
        {"household_id": h, "draw_number": number_of(words, h), **base}
        | {name: values[n] for name, values in columns.items()}
        for n, h in enumerate(names)
    ]
    text = {"model_id": pl.String, "event_id": pl.String, "drop_point_id": pl.String}
    return pl.DataFrame(rows, schema_overrides={**text, "latest_date": pl.Date})


def days(*rooms, kind="pick_up", area=None):
    return pl.DataFrame(
        {
            "event_id": [f"E{n}" for n in range(1, len(rooms) + 1)],
            "event_date": [D(2025, 3, n) for n in range(1, len(rooms) + 1)],
            "event_kind": [kind] * len(rooms),
            "area_id": [area] * len(rooms),
            "room_count": rooms,
        },
        schema_overrides={"area_id": pl.String, "room_count": pl.Int64},
    )


def places(rows, room, settings=None):
    line = order_waiting_list(rows, settings or HandOver()).ordered
    return give_places(line, room, HandOver().area_wait_days)


@pytest.mark.thorough
def test_everyone_alike_gets_a_place_equally_often():
    """Chi-square of how often each of forty gets one of ten places, over 600 draws."""
    got = dict.fromkeys((f"H{n:03d}" for n in range(40)), 0)
    for draw in range(600):
        for household in places(waiting(40, f"draw {draw}"), days(10))["household_id"]:
            got[household] += 1
    counts = list(got.values())
    # places without replacement vary by (1 - 10/40) 40/39 of what a multinomial would
    spread = sum((count - 150) ** 2 for count in counts) / 150 / 0.75 * 39 / 40
    assert stats.chi2.sf(spread, 39) > 0.001
    assert sum(counts) == 6000


def test_which_of_the_same_month_registered_first_makes_no_difference_and_by_day_it_does():
    dates = [D(2025, 1, 1 + n) for n in range(20)]
    rows = waiting(20, registered_date=dates)
    by_month = places(rows, days(5))["household_id"].to_list()
    assert by_month == rows.sort("draw_number")["household_id"].head(5).to_list()
    by_day = places(rows, days(5), HandOver(same_chance="day"))["household_id"].to_list()
    assert by_day == [f"H{n:03d}" for n in range(5)]


def test_priority_comes_first_then_the_earlier_month_then_those_who_stayed_away():
    rows = waiting(
        4,
        is_priority=[False, False, True, True],
        registered_date=[D(2025, 1, 5), D(2024, 12, 5), D(2025, 2, 5), D(2024, 1, 1)],
        absent_count=[0, 0, 0, 1],
    )
    line = order_waiting_list(rows, HandOver()).ordered
    assert line["household_id"].to_list() == ["H002", "H001", "H000", "H003"]


def test_who_stayed_away_too_often_is_set_apart():
    found = order_waiting_list(waiting(3, absent_count=[0, 2, 3]), HandOver(absences_most=2))
    assert found.left_out["household_id"].to_list() == ["H002"]
    assert found.ordered.height == 2


def test_nobody_gets_two_places_and_no_day_more_than_its_room():
    given = places(waiting(50), days(7, 0, 9))
    assert given["household_id"].n_unique() == given.height == 16
    assert dict(given.group_by("given_event_id").len().iter_rows()) == {"E1": 7, "E3": 9}


def test_a_wish_moves_the_day_and_never_who_gets_a_place():
    rows = waiting(12)
    plain = places(rows, days(3, 3))
    last = rows.sort("draw_number")["household_id"][-1]
    wishes = ["E1" if h == last else None for h in rows["household_id"]]
    wished = places(rows.with_columns(pl.Series("event_id", wishes, pl.String)), days(3, 3))
    assert set(wished["household_id"]) == set(plain["household_id"])
    first = rows.sort("draw_number")["household_id"][0]
    late = ["E2" if h == first else None for h in rows["household_id"]]
    moved = places(rows.with_columns(pl.Series("event_id", late, pl.String)), days(3, 3))
    assert moved.filter(household_id=first)["given_event_id"].item() == "E2"


def test_a_day_that_was_let_go_is_not_offered_again_and_the_next_in_line_has_it():
    rows = waiting(3).sort("draw_number")
    rows = rows.with_columns(pl.Series("latest_date", [D(2025, 3, 1), None, None], pl.Date))
    given = places(rows, days(1))
    assert given["household_id"].to_list() == [rows["household_id"][1]]


def test_bins_are_brought_on_days_of_delivery_alone():
    rows = waiting(
        3, access_need=["home_delivery", "none", "none"], drop_point_id=[None, "P", None]
    )
    both = pl.concat([days(5), days(5, kind="delivery").with_columns(event_id=pl.lit("V1"))])
    got = dict(places(rows, both).select("household_id", "given_event_id").iter_rows())
    assert got == {"H000": "V1", "H001": "V1", "H002": "E1"}


@pytest.mark.parametrize("held", [0, 5])
def test_slots_fill_evenly_and_access_needs_come_first_in_the_day(held):
    needs = ["step_free" if n in (3, 7) else "none" for n in range(11)]
    given = places(waiting(11, access_need=needs), days(11))
    before = pl.DataFrame(
        {"event_id": ["E1"], "slot": ["09:00"], "held_count": [held]},
        schema_overrides={"held_count": pl.Int64},
    )
    slotted = with_slots(given, before, ("09:00", "09:30", "10:00", "10:30"))
    counts = dict(slotted.group_by("slot").len().iter_rows())
    counts["09:00"] = counts.get("09:00", 0) + held
    assert max(counts.values()) <= -(-(11 + held) // 4) + (1 if held else 0)
    earliest = slotted["slot"].min()
    assert slotted.filter(pl.col("access_need") != "none")["slot"].to_list() == [earliest] * 2
    assert slotted["slot"].null_count() == 0
