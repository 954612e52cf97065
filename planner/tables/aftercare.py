"""Tables from booking to bin: registrations and bookings, calls, cases, sites and workshops."""

from __future__ import annotations

import dataframely as dy
import polars as pl

from planner.tables.fields import (
    code_field,
    count_field,
    date_field,
    flag_field,
    key_field,
    link_field,
    measure_field,
    note,
    text_field,
)
from planner.tables.giveaway import PROBLEMS

ACCESS_NEEDS = ("none", "step_free", "help_to_carry", "quiet_time", "interpreter", "home_delivery")
BOOKING_STATES = ("offered", "accepted", "declined", "came", "absent", "moved")
LIVE_STATES = ("offered", "accepted")
"""States of a booking that still holds a place."""

_TIME_OF_DAY = r"^([01]?\d|2[0-3]):[0-5]\d(:00)?$"


class Registrations(dy.Schema):
    """A household's request for a bin: its place on the waiting list."""

    household_id = key_field("households")
    registered_date = date_field()
    has_priority = flag_field(nullable=True)
    access_need = code_field(ACCESS_NEEDS, nullable=True)
    model_id = text_field(nullable=True)
    event_id = link_field("events", nullable=True)
    drop_point_id = link_field("drop_points", nullable=True)


class Bookings(dy.Schema):
    """A place at a hand-over day for one household."""

    booking_id = key_field()
    household_id = link_field("households")
    event_id = link_field("events")
    offered_date = date_field()
    state = code_field(BOOKING_STATES)
    slot = text_field(nullable=True)
    model_id = text_field(nullable=True)

    @dy.rule()
    def slot_is_a_time(cls) -> pl.Expr:  # noqa: N805 - a dataframely rule
        """Refuse a slot that is no time of day."""
        return pl.col("slot").is_null() | pl.col("slot").str.contains(_TIME_OF_DAY)


class DropPoints(dy.Schema):
    """A public place to which bins are delivered for households to collect."""

    drop_point_id = key_field()
    area_id = link_field("areas", nullable=True)
    place_name = text_field()
    latitude = measure_field("degrees", 90.0, least=-90.0)
    longitude = measure_field("degrees", 180.0, least=-180.0)


CALL_REASONS = (
    "first_check",
    "may_stop",
    "more_worms",
    "another_tray",
    "first_harvest",
    "survey",
    "problem",
    "other",
)
CALL_OUTCOMES = ("reached", "no_answer", "wrong_number", "refused")
CASE_ACTIONS = (
    "advised",
    "visited",
    "worms_topped_up",
    "bin_replaced",
    "bin_taken_back",
    "referred",
    "no_action",
)
SITE_KINDS = ("school", "early_learning", "flats", "cafe", "community_garden", "workplace", "other")


class Calls(dy.Schema):
    """A day on which a household was called: the last attempt of that day."""

    household_id = key_field("households")
    call_date = date_field(is_key=True)
    call_reason = code_field(CALL_REASONS)
    call_outcome = code_field(CALL_OUTCOMES)


class Cases(dy.Schema):
    """A problem that a household told of, and what was done about it."""

    case_id = key_field()
    household_id = link_field("households")
    handover_id = link_field("handovers", nullable=True)
    opened_date = date_field()
    problem = code_field(PROBLEMS)
    case_action = code_field(CASE_ACTIONS, nullable=True)
    action_date = date_field(nullable=True)
    worms_kg = measure_field("kg", 5.0, nullable=True)
    replacement_handover_id = link_field("handovers", nullable=True)
    cost_id = link_field("costs", nullable=True)
    closed_date = date_field(nullable=True)

    @dy.rule()
    def case_has_a_problem(cls) -> pl.Expr:  # noqa: N805 - a dataframely rule
        """Refuse a case of no problem."""
        return pl.col("problem") != "none"

    @dy.rule()
    def closes_after_it_opened(cls) -> pl.Expr:  # noqa: N805 - a dataframely rule
        """Refuse a case that closes before it opens."""
        return pl.col("closed_date").is_null() | (pl.col("closed_date") >= pl.col("opened_date"))

    @dy.rule()
    def worms_have_a_day(cls) -> pl.Expr:  # noqa: N805 - a dataframely rule
        """Ask for the day on which worms left the store."""
        return pl.col("worms_kg").is_null() | pl.col("action_date").is_not_null()

    @dy.rule()
    def replacement_is_told(cls) -> pl.Expr:  # noqa: N805 - a dataframely rule
        """Ask that a case with another bin says that the bin was replaced."""
        replaced = (pl.col("case_action") == "bin_replaced").fill_null(value=False)
        return pl.col("replacement_handover_id").is_null() | replaced


class Sites(dy.Schema):
    """A school, block of flats, cafe or the like that keeps worm bins for many people."""

    site_id = key_field()
    area_id = link_field("areas")
    site_kind = code_field(SITE_KINDS)
    people_count = count_field(100_000, least=1)


class SiteBins(dy.Schema):
    """Bins of one model given to a site on one day."""

    site_id = key_field("sites")
    model_id = dy.String(primary_key=True, min_length=1, max_length=60, metadata=note())
    given_date = date_field(is_key=True)
    bins_count = count_field(1_000, least=1)
    worms_kg = measure_field("kg", 500.0)
    bedding_kg = measure_field("kg", 5_000.0)
    stopped_date = date_field(nullable=True)

    @dy.rule()
    def stops_after_it_is_given(cls) -> pl.Expr:  # noqa: N805 - a dataframely rule
        """Refuse bins whose use ends before they are given."""
        return pl.col("stopped_date").is_null() | (pl.col("stopped_date") >= pl.col("given_date"))


class SiteWeighings(dy.Schema):
    """One weighed week of a site, all its bins together."""

    site_id = key_field("sites")
    week_start_date = date_field(is_key=True)
    fed_kg = measure_field("kg", 20_000.0)


class Workshops(dy.Schema):
    """A workshop on keeping a worm bin."""

    workshop_id = key_field()
    workshop_date = date_field()
    area_id = link_field("areas", nullable=True)


class Attendances(dy.Schema):
    """A household that came to a workshop."""

    workshop_id = key_field("workshops")
    household_id = key_field("households")
