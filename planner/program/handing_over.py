"""Blocks of program.toml on hand-over days and deliveries; every key has a default."""

from __future__ import annotations

import datetime as dt
from typing import Annotated, Literal

from pydantic import Field, model_validator

from planner.program.block import Block, Text

TimeOfDay = Annotated[str, Field(pattern=r"^([01]\d|2[0-3]):[0-5]\d$")]


class HandOver(Block):
    """How places at hand-over days are given, and when households come."""

    opens: TimeOfDay = "09:00"
    closes: TimeOfDay = "13:00"
    slot_minutes: Annotated[int, Field(ge=5, le=480)] = 30
    notice_days: Annotated[int, Field(ge=1, le=120)] = 10
    short_notice_days: Annotated[int, Field(ge=0, le=60)] = 2
    answer_days: Annotated[int, Field(ge=1, le=60)] = 5
    area_wait_days: Annotated[int, Field(ge=0, le=365)] = 28
    same_chance: Literal["day", "month", "all"] = "month"
    absences_most: Annotated[int, Field(ge=0, le=20)] = 2
    beyond_places_chance_most: Annotated[float, Field(gt=0.0, le=0.5)] = 0.05
    contact: Text = "the council's worm-bin program"

    @model_validator(mode="after")
    def _closes_after_it_opens(self) -> HandOver:
        if self.slots_count < 1:
            message = "hand_over: expected closes to be at least one slot later than opens"
            raise ValueError(message)
        return self

    @property
    def slots_count(self) -> int:
        """Slots of a day."""
        return (_minutes(self.closes) - _minutes(self.opens)) // self.slot_minutes

    @property
    def slots(self) -> tuple[str, ...]:
        """Times at which the slots of a day begin, as 09:30."""
        starts = (_minutes(self.opens) + n * self.slot_minutes for n in range(self.slots_count))
        return tuple(f"{start // 60:02d}:{start % 60:02d}" for start in starts)


class Delivery(Block):
    """What a delivery round can do, and where it begins and ends."""

    start_latitude: Annotated[float, Field(ge=-90.0, le=90.0)]
    start_longitude: Annotated[float, Field(ge=-180.0, le=180.0)]
    bins_per_vehicle: Annotated[int, Field(ge=1, le=2_000)] = 40
    vehicles_count: Annotated[int, Field(ge=1, le=100)] = 1
    leaves: TimeOfDay = "08:30"
    hours_most: Annotated[float, Field(gt=0.0, le=24.0)] = 7.0
    minutes_per_stop: Annotated[float, Field(ge=0.0, le=240.0)] = 6.0
    speed_km_per_h: Annotated[float, Field(gt=0.0, le=130.0)] = 30.0
    road_factor: Annotated[float, Field(ge=1.0, le=3.0)] = 1.3

    @property
    def leaves_at(self) -> dt.time:
        """Time at which the vehicles leave."""
        return dt.time.fromisoformat(self.leaves)


def _minutes(time: str) -> int:
    hours, minutes = time.split(":")
    return 60 * int(hours) + int(minutes)
