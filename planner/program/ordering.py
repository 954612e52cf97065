"""Blocks of program.toml on ordering: how sure to be, when to send, what may be spent."""

from __future__ import annotations

import datetime as dt
from typing import Annotated, Literal

from pydantic import Field, model_validator

from planner.program.block import Block, Money, Share, Text

Level = Annotated[float, Field(ge=0.5, lt=1.0)]
Celsius = Annotated[float, Field(ge=-40.0, le=60.0)]
Weekday = Literal["monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday"]

LEAST_STARTER_KG, MOST_STARTER_KG = 0.05, 3.0


class ShippingWindow(Block):
    """When plainly packed worms may travel, and how far a day strays from the month's mean.

    Range and spread are those of the climate (factors daily_range_c, daily_spread_c) unless
    named.
    """

    warmest_c: Celsius = 27.0
    coldest_c: Celsius = 4.0
    daily_range_c: Annotated[float, Field(ge=0.0, le=30.0)] | None = None
    daily_spread_c: Annotated[float, Field(gt=0.0, le=15.0)] | None = None
    held_chance_most: Annotated[float, Field(gt=0.0, lt=1.0)] = 0.25

    @model_validator(mode="after")
    def _warm_is_above_cold(self) -> ShippingWindow:
        if self.warmest_c - self.coldest_c <= (self.daily_range_c or 0.0):
            message = (
                "shipping_window: expected warmest_c less coldest_c to be wider than daily_range_c"
            )
            raise ValueError(message)
        return self


class QuarterBudget(Block):
    """What may be spent on deliveries from this day until the next block begins."""

    begins: dt.date
    budget: Money


class DeliveryPlace(Block):
    """Where suppliers deliver to, as it should stand on orders."""

    name: Text
    address: Text
    opening_hours: Text = "on working days, by arrangement"
    contact: Text = "to be named on the order"


class BeddingMaterial(Block):
    """A bedding material: what there is of it free, and how much of the mix it may be."""

    material: Annotated[str, Field(min_length=1, max_length=60)]
    free_kg: Annotated[float, Field(ge=0.0)] = 0.0
    least_volume_share: Share = 0.0
    most_volume_share: Share = 1.0


class Bedding(Block):
    """The recipe by which bedding fills the first tray of a bin."""

    materials: Annotated[tuple[BeddingMaterial, ...], Field(min_length=1, strict=False)]
    depth_m: Annotated[float, Field(gt=0.0, le=1.0)] = 0.15
    moisture_share: Annotated[float, Field(gt=0.0, lt=1.0)] = 0.75
    carbon_to_nitrogen_low: Annotated[float, Field(ge=0.0)] = 0.0
    carbon_to_nitrogen_high: Annotated[float, Field(gt=0.0)] | None = None


class Ordering(Block):
    """How starter worms, bins and bedding are ordered; every key has a default."""

    event_service_level: Level = 0.95
    overall_service_level: Level = 0.9
    show_up_share: Annotated[float, Field(gt=0.0, le=1.0)] = 0.85
    show_up_likeness: Annotated[float, Field(ge=0.0, le=0.5)] = 0.0
    broken_share: Annotated[float, Field(ge=0.0, le=0.5)] = 0.02
    faulty_share: Annotated[float, Field(ge=0.0, le=0.5)] = 0.01
    model_shares: dict[str, Share] = Field(default_factory=dict)
    starter_rule: Literal["mass", "scraps"] = "mass"
    worms_kg_per_bin: Annotated[float, Field(ge=LEAST_STARTER_KG, le=MOST_STARTER_KG)] | None = None
    scraps_kg_per_person_week: Annotated[float, Field(gt=0.0, le=10.0)] = 0.45
    scraps_share_at_start: Annotated[float, Field(gt=0.0, le=1.0)] = 0.5
    species: Annotated[tuple[Text, ...], Field(min_length=1, strict=False)] = (
        "Eisenia fetida",
        "Eisenia andrei",
    )
    bedding: Bedding | None = None
    bedding_kg_per_bin: dict[str, Annotated[float, Field(gt=0.0, le=20.0)]] = Field(
        default_factory=dict
    )
    transit_loss_share: Annotated[float, Field(ge=0.0, le=0.5)] = 0.02
    holding_loss_share_per_day: Annotated[float, Field(ge=0.0, le=0.5)] = 0.01
    holding_days_most: Annotated[int, Field(ge=0, le=14)] = 3
    holding_kg_most: Annotated[float, Field(gt=0.0, le=10_000.0)] = 60.0
    bins_stored_most: Annotated[int, Field(ge=1, le=1_000_000)] | None = None
    ready_days_before: Annotated[int, Field(ge=0, le=90)] = 5
    receiving_weekdays: Annotated[tuple[Weekday, ...], Field(min_length=1, strict=False)] = (
        "monday",
        "tuesday",
        "wednesday",
        "thursday",
        "friday",
    )
    public_holidays: Annotated[tuple[dt.date, ...], Field(strict=False)] = ()
    shipping_window: ShippingWindow = Field(default_factory=ShippingWindow)
    on_time_level: Level = 0.95
    order_slack_days: Annotated[int, Field(ge=0, le=60)] = 3
    quarters: Annotated[tuple[QuarterBudget, ...], Field(strict=False)] = ()
    largest_supplier_share: Annotated[float, Field(gt=0.0, le=1.0)] = 1.0
    procurement_threshold: Money | None = None
    indoor_cost_per_day: Money | None = None
    second_day_cost: Money | None = None
    prices_are: Text = "as offered, without tax"
    delivery_place: DeliveryPlace | None = None

    @property
    def usable_share(self) -> float:
        """Share of the bins bought that arrive whole and work."""
        return (1.0 - self.broken_share) * (1.0 - self.faulty_share)

    @model_validator(mode="after")
    def _quarters_rise(self) -> Ordering:
        days = [quarter.begins for quarter in self.quarters]
        if days != sorted(set(days)):
            message = "quarters: expected days that rise from line to line"
            raise ValueError(message)
        return self

    @model_validator(mode="after")
    def _one_way_of_bedding(self) -> Ordering:
        if self.bedding is not None and self.bedding_kg_per_bin:
            message = "bedding_kg_per_bin: expected this or the block [ordering.bedding], not both"
            raise ValueError(message)
        return self

    @model_validator(mode="after")
    def _models_share_all(self) -> Ordering:
        total = sum(self.model_shares.values())
        if self.model_shares and abs(total - 1.0) > SHARE_TOLERANCE:
            message = f"model_shares: expected shares that add up to 1, they add up to {total:g}"
            raise ValueError(message)
        return self


SHARE_TOLERANCE = 0.005
"""Shares written to two decimals may miss 1 by half a hundredth."""
