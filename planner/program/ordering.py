"""Blocks of program.toml on ordering, on who signs purchase orders, and on own nurseries."""

from __future__ import annotations

import datetime as dt
from typing import Annotated, Literal

from pydantic import Field, model_validator

from planner.messages import say
from planner.program.council import TWELVE_MONTHS, Block, Money, Share, Text

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
            raise ValueError(say("setting.window"))
        return self


class QuarterBudget(Block):
    """What may be spent on deliveries from this day until the next block begins."""

    begins: dt.date
    budget: Money


class DeliveryPlace(Block):
    """Where suppliers deliver to, as it should stand on orders."""

    name: Text
    address: Text
    opening_hours: Text | None = None
    contact: Text | None = None


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
    prices_are: Text | None = None
    delivery_place: DeliveryPlace | None = None

    @property
    def usable_share(self) -> float:
        """Share of the bins bought that arrive whole and work."""
        return (1.0 - self.broken_share) * (1.0 - self.faulty_share)

    @model_validator(mode="after")
    def _quarters_rise(self) -> Ordering:
        days = [quarter.begins for quarter in self.quarters]
        if days != sorted(set(days)):
            raise ValueError(say("setting.quarters"))
        return self

    @model_validator(mode="after")
    def _one_way_of_bedding(self) -> Ordering:
        if self.bedding is not None and self.bedding_kg_per_bin:
            raise ValueError(say("setting.bedding_twice"))
        return self

    @model_validator(mode="after")
    def _models_share_all(self) -> Ordering:
        total = sum(self.model_shares.values())
        if self.model_shares and abs(total - 1.0) > SHARE_TOLERANCE:
            raise ValueError(say("setting.model_shares", sum=f"{total:g}"))
        return self


SHARE_TOLERANCE = 0.005
"""Shares written to two decimals may miss 1 by half a hundredth."""


ItemKind = Literal["bins", "worms", "bedding", "freight"]
LongText = Annotated[str, Field(min_length=1, max_length=400)]


class Tax(Block):
    """The tax of invoices, where it is not the standard rate of the council's country."""

    name: Text
    share: Share
    free_of_tax: Annotated[tuple[ItemKind, ...], Field(strict=False)] = ()


class Approval(Block):
    """Who signs orders up to an amount; without one, orders of any amount."""

    who: Text
    up_to: Money | None = None


class Purchasing(Block):
    """What stands on purchase orders beside their lines; every key has a default."""

    address: LongText | None = None
    tax_number: Text | None = None
    invoice_address: LongText | None = None
    budget_code: Text | None = None
    contract_reference: Text | None = None
    payment_terms: LongText | None = None
    delivery_terms: LongText | None = None
    delivery_slot: LongText | None = None
    back_orders: LongText | None = None
    reply_days: Annotated[int, Field(ge=1, le=120)] = 14
    prices_include_tax: bool = False
    tax: Tax | None = None
    approvals: Annotated[tuple[Approval, ...], Field(strict=False)] = ()

    @model_validator(mode="after")
    def _amounts_rise(self) -> Purchasing:
        amounts = [one.up_to for one in self.approvals]
        limits = [amount for amount in amounts if amount is not None]
        if limits != sorted(set(limits)) or None in amounts[:-1]:
            raise ValueError(say("setting.approvals"))
        return self

    def signers(self, amount: float) -> tuple[str, ...]:
        """Name who signs an order of an amount: each whose limit is passed, and the next.

        Examples
        --------
        >>> levels = (Approval(who="Team leader", up_to=1000.0), Approval(who="Director"))
        >>> Purchasing(approvals=levels).signers(1000.0)
        ('Team leader',)
        >>> Purchasing(approvals=levels).signers(1000.01)
        ('Team leader', 'Director')
        """
        names: list[str] = []
        for level in self.approvals:
            names.append(level.who)
            if level.up_to is None or amount <= level.up_to:
                break
        return tuple(names)

    def is_beyond(self, amount: float) -> bool:
        """Tell whether nobody named may sign an order of an amount."""
        last = self.approvals[-1].up_to if self.approvals else None
        return last is not None and amount > last


class Nursery(Block):
    """Beds, their cost, and how sure the worms must be there."""

    # bed there is, or could be laid out [m²]
    bed_area_m2: Annotated[float, Field(gt=0.0, le=100_000.0)]
    # first day on which beds can be seeded; the first day asked for unless given
    earliest_seed_date: dt.date | None = None
    # chance wanted that no hand-over day lacks worms
    chance: Annotated[float, Field(ge=0.5, le=0.99)] = 0.9
    # what a square metre of bed costs to lay out, and how long it lasts
    bed_cost_per_m2: Money = 0.0
    bed_life_years: Annotated[float, Field(gt=0.0, le=50.0)] = 10.0
    # feeding, watering and watching of a square metre for a week
    care_cost_per_m2_week: Money = 0.0
    # price of worms to seed with, and to buy instead; the cheapest offer's unless given
    worms_price_per_kg: Money | None = None
    # mean temperature of the bed in each month, January first; a sheltered bed in the program's
    # climate unless given [°C]
    monthly_bed_temperature_c: (
        Annotated[tuple[Celsius, ...], Field(strict=False), TWELVE_MONTHS] | None
    ) = None
