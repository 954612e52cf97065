"""Who is due a call: the rules at their edges, and the limits of contact.

First check in weeks 2 to 6, another tray after three weeks at least and only once the tray is
filled: common practice, no source.
"""

import datetime as dt

import polars as pl
import pytest

from planner.field.calling_request import CallRequest
from planner.field.due import PRIORITY, Rules, call_list, find_due

DAY = dt.date(2026, 6, 30)
RULES = Rules(CallRequest(DAY, rest_days=28, retry_days=3, tries=3), 0.5, 0.4, 0.8)
TRAYS = {"two_tray": (2, 0.1)}
"""A tray of 0.1 m² and 0.12 m holds 12 litres, which 24 kg of scraps leave as castings."""

SCHEMA = {
    "household_id": pl.String,
    "may_contact": pl.Boolean,
    "model_id": pl.String,
    "handover_date": pl.Date,
    "age_days": pl.Int64,
    "is_in_use": pl.Boolean,
    "fed_kg_last_week": pl.Float64,
    "fed_litres_last_week": pl.Float64,
    "last_answer_date": pl.Date,
    "trays_count": pl.Int64,
    "harvest_date": pl.Date,
    "worms_lost_date": pl.Date,
    "restocked_date": pl.Date,
    "open_problem": pl.String,
    "last_call_date": pl.Date,
    "last_reached_date": pl.Date,
    "tray_call_date": pl.Date,
    "harvest_call_date": pl.Date,
    "tries_count": pl.Int64,
    "has_refused": pl.Boolean,
    "has_wrong_number": pl.Boolean,
    "round_closes_date": pl.Date,
}
NO_RISK = pl.DataFrame(schema={"household_id": pl.String, "may_stop_chance": pl.Float64})


def ago(days):
    return DAY - dt.timedelta(days=days)


def household(age_days, **known):
    row = {
        "household_id": "H1",
        "may_contact": True,
        "model_id": "two_tray",
        "handover_date": ago(age_days),
        "age_days": age_days,
        "is_in_use": True,
        "tries_count": 0,
        "has_refused": False,
        "has_wrong_number": False,
    }
    return {**dict.fromkeys(SCHEMA), **row, **known}


def due_of(*rows, risk=NO_RISK):
    return find_due(pl.DataFrame(list(rows), schema=SCHEMA), risk, TRAYS, RULES)


def reasons_of(age_days, **known):
    found = due_of(household(age_days, **known))
    return found["reasons"].to_list()[0] if found.height else []


@pytest.mark.parametrize(("age_days", "is_due"), [(13, False), (14, True), (42, True), (43, False)])
def test_a_first_check_is_due_from_the_second_week_to_the_sixth(age_days, is_due):
    assert ("first_check" in reasons_of(age_days)) == is_due


def test_whoever_was_heard_since_the_hand_over_needs_no_first_check():
    assert reasons_of(30, last_answer_date=ago(3)) == []
    assert reasons_of(30, last_reached_date=ago(29)) == []
    assert reasons_of(30, last_answer_date=ago(31)) == ["first_check"]


def test_another_tray_needs_three_weeks_and_a_filled_tray():
    # 3 weeks at 8 kg make 24 kg of scraps: 9.6 kg of castings, 12 litres, one tray to the rim
    heard = {"last_answer_date": ago(1), "trays_count": 1}
    assert reasons_of(21, fed_kg_last_week=8.0, **heard) == ["another_tray"]
    assert reasons_of(21, fed_kg_last_week=7.9, **heard) == []
    assert reasons_of(20, fed_kg_last_week=12.0, **heard) == []
    assert reasons_of(21, fed_litres_last_week=16.0, **heard) == ["another_tray"]


def test_no_tray_is_added_to_a_bin_that_has_all_of_them_or_whose_feed_is_not_known():
    heard = {"last_answer_date": ago(1)}
    assert reasons_of(84, fed_kg_last_week=8.0, trays_count=2, **heard) == []
    assert reasons_of(84, trays_count=1, **heard) == []


def test_worms_are_due_until_the_bin_was_restocked_after_they_were_lost():
    old = {"last_answer_date": ago(20), "worms_lost_date": ago(20)}
    assert reasons_of(60, **old) == ["more_worms"]
    assert reasons_of(60, restocked_date=ago(30), **old) == ["more_worms"]
    assert reasons_of(60, restocked_date=ago(10), **old) == []


def test_the_most_urgent_reason_comes_first():
    rows = reasons_of(30, open_problem="smell", round_closes_date=DAY)
    assert rows == ["problem", "first_check", "survey"]
    assert sorted(rows, key=PRIORITY.index) == rows


@pytest.mark.parametrize(
    ("known", "barrier"),
    [
        ({"may_contact": False}, "not_agreed"),
        ({"has_refused": True}, "no_more"),
        ({"has_wrong_number": True}, "wrong_number"),
        ({"last_reached_date": ago(27), "last_call_date": ago(27)}, "reached"),
        ({"tries_count": 3, "last_call_date": ago(60)}, "tries"),
        ({"last_call_date": ago(2), "tries_count": 1}, "lately"),
    ],
)
def test_nobody_is_called_against_the_limits_of_contact(known, barrier):
    found = due_of(household(60, open_problem="smell", **known))
    assert found["barrier"].item() == barrier
    assert call_list(found, 10, 10).is_empty()


def test_the_day_after_a_limit_the_call_is_allowed():
    known = {"last_reached_date": ago(28), "last_call_date": ago(3), "tries_count": 2}
    found = due_of(household(60, open_problem="smell", **known))
    assert found["barrier"].item() is None
    assert call_list(found, 10, 10).height == 1


def test_of_those_at_risk_the_riskiest_are_called_and_no_more_than_asked():
    names = [f"H{number:02d}" for number in range(50)]
    rows = [household(200, household_id=name, last_answer_date=ago(5)) for name in names]
    risk = pl.DataFrame({"household_id": names, "may_stop_chance": [n / 100 for n in range(50)]})
    found = due_of(*rows, risk=risk)
    assert found.height == 10  # the fifth with the largest risk
    called = call_list(found, 40, 4)
    assert called["household_id"].to_list() == ["H49", "H48", "H47", "H46"]


def test_worms_lost_of_an_earlier_bin_or_given_again_the_same_day_are_no_reason():
    heard = {"last_answer_date": ago(20)}
    assert reasons_of(60, worms_lost_date=ago(60), **heard) == ["more_worms"]
    assert reasons_of(60, worms_lost_date=ago(61), **heard) == []
    assert reasons_of(60, worms_lost_date=ago(20), restocked_date=ago(20), **heard) == []


@pytest.mark.parametrize("known", [{"harvest_date": ago(10)}, {"harvest_call_date": ago(10)}])
def test_the_first_harvest_is_spoken_of_once(known):
    # 120 days at 1.4 kg a week make 24 kg of scraps, whose castings fill a tray
    heard = {"last_answer_date": ago(1), "fed_kg_last_week": 1.4, "trays_count": 2}
    assert reasons_of(120, **heard) == ["first_harvest"]
    assert reasons_of(119, **heard) == []
    assert reasons_of(120, **heard, **known) == []


@pytest.mark.parametrize(("age_days", "is_told"), [(42, False), (43, True)])
def test_who_may_stop_is_told_of_bins_that_are_past_their_first_check(age_days, is_told):
    risk = pl.DataFrame({"household_id": ["H1"], "may_stop_chance": [0.9]})
    rows = [household(age_days, last_answer_date=ago(5))]
    rows += [household(200, household_id=f"L{n}", last_answer_date=ago(5)) for n in range(9)]
    others = pl.DataFrame(
        {"household_id": [f"L{n}" for n in range(9)], "may_stop_chance": [0.1] * 9}
    )
    found = due_of(*rows, risk=pl.concat([risk, others]))
    assert ("H1" in found["household_id"].to_list()) == is_told
