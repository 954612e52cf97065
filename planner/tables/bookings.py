"""Record tables from registration to hand-over: who asks for a bin, and who has a place when."""

from __future__ import annotations

import dataframely as dy
import polars as pl

from planner.tables.fields import (
    code_field,
    date_field,
    flag_field,
    key_field,
    link_field,
    measure_field,
    text_field,
)

ACCESS_NEEDS = ("none", "step_free", "help_to_carry", "quiet_time", "interpreter", "home_delivery")
BOOKING_STATES = ("offered", "accepted", "declined", "came", "absent", "moved")
LIVE_STATES = ("offered", "accepted")
"""States of a booking that still holds a place."""

_TIME_OF_DAY = r"^([01]?\d|2[0-3]):[0-5]\d(:00)?$"


class Registrations(dy.Schema):
    """A household's request for a bin: its place on the waiting list."""

    household_id = key_field("household that asks for a bin", "households")
    registered_date = date_field("day on which it asked for a bin")
    has_priority = flag_field(
        "first in line by a rule of the council's own, as a concession card", nullable=True
    )
    access_need = code_field(
        ACCESS_NEEDS, "what it needs at the hand-over; never a diagnosis", nullable=True
    )
    model_id = text_field("bin model it would like, as named in program.toml", nullable=True)
    event_id = link_field("hand-over day it would like", "events", nullable=True)
    drop_point_id = link_field(
        "drop point from which it would take the bin", "drop_points", nullable=True
    )


class Bookings(dy.Schema):
    """A place at a hand-over day for one household."""

    booking_id = key_field("number of the booking")
    household_id = link_field("household that has the place", "households")
    event_id = link_field("hand-over day", "events")
    offered_date = date_field("day on which the place was offered")
    state = code_field(
        BOOKING_STATES, "how it stands: moved is told ahead, absent is not coming untold"
    )
    slot = text_field("time of day to come, as 09:30", nullable=True)
    model_id = text_field("bin model set aside for it, as named in program.toml", nullable=True)

    @dy.rule()
    def slot_is_a_time(cls) -> pl.Expr:  # noqa: N805 - a dataframely rule
        """Refuse a slot that is no time of day."""
        return pl.col("slot").is_null() | pl.col("slot").str.contains(_TIME_OF_DAY)


class DropPoints(dy.Schema):
    """A public place to which bins are delivered for households to collect."""

    drop_point_id = key_field("code of the drop point")
    area_id = link_field("area in which it lies", "areas", nullable=True)
    place_name = text_field("what people call the place; never a household's address")
    latitude = measure_field("degrees north, WGS 84", "degrees", 90.0, least=-90.0)
    longitude = measure_field("degrees east, WGS 84", "degrees", 180.0, least=-180.0)


BOOKING_RULES = {
    "slot_is_a_time": ("slot", "no time of day", "hours and minutes, as 09:30, or leave it empty"),
}
"""For each rule over several columns: the column to mark, what was found, what to write."""
