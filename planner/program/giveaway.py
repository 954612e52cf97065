"""Blocks of program.toml on what is given away, on which days, and in which year."""

from __future__ import annotations

import datetime as dt
import re
from typing import Annotated, Literal

from pydantic import Field, model_validator

from planner.messages import say
from planner.program.council import Block, Money, Share, Text

JANUARY = 1
_YEAR_LABEL = re.compile(r"(?P<start>\d{4})(?:-(?P<end>\d{2}))?")


def year_label(start_year: int, first_month: int) -> str:
    """Write a reporting year as councils do.

    Examples
    --------
    >>> year_label(2025, 1), year_label(2025, 7)
    ('2025', '2025-26')
    """
    if first_month == JANUARY:
        return str(start_year)
    return f"{start_year}-{(start_year + 1) % 100:02d}"


def label_of_date(day: dt.date, first_month: int) -> str:
    """Name the reporting year in which a day falls.

    Examples
    --------
    >>> import datetime as dt
    >>> label_of_date(dt.date(2026, 6, 30), 7)
    '2025-26'
    """
    start = day.year if day.month >= first_month else day.year - 1
    return year_label(start, first_month)


def label_start(label: str) -> int | None:
    """Calendar year in which a labelled year begins; None where the label is not one."""
    match = _YEAR_LABEL.fullmatch(label)
    return int(match["start"]) if match else None


def next_label(label: str) -> str:
    """Name the reporting year after one.

    Examples
    --------
    >>> next_label("2025-26"), next_label("2025"), next_label("2099-00")
    ('2026-27', '2026', '2100-01')
    """
    start = label_start(label) or 0
    return year_label(start + 1, 2 if "-" in label else 1)


class BinModel(Block):
    """A bin model that is given away."""

    model_id: Annotated[str, Field(min_length=1, max_length=60)]
    model_name: Text
    trays_count: Annotated[int, Field(ge=1, le=12)]
    tray_area_m2: Annotated[float, Field(gt=0.0, le=5.0)]
    plastic_kg: Annotated[float, Field(ge=0.0, le=100.0)]
    plastic_recycled_share: Share
    service_life_years: Annotated[int, Field(ge=1, le=50)]
    unit_price: Money


class ReportingYear(Block):
    """Budget, prices and targets of one reporting year."""

    reporting_year: str
    budget: Money | None = None
    landfill_levy_per_t: Money
    gate_fee_per_t: Money
    bins_given_target: Annotated[int, Field(ge=0)] | None = None
    kept_out_of_landfill_t_target: Annotated[float, Field(ge=0.0)] | None = None


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
    contact: Text | None = None

    @model_validator(mode="after")
    def _closes_after_it_opens(self) -> HandOver:
        if self.slots_count < 1:
            raise ValueError(say("setting.closes"))
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
