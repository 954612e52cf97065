"""Block of program.toml on a nursery, for councils that breed their own worms."""

from __future__ import annotations

import datetime as dt
from typing import Annotated

from pydantic import Field, field_validator

from planner.program.block import Block, Money
from planner.units import MONTHS_PER_YEAR

Celsius = Annotated[float, Field(ge=-40.0, le=60.0)]


class Nursery(Block):
    """Beds, their cost, and how sure the worms must be there.

    Parameters
    ----------
    bed_area_m2
        Bed there is, or could be laid out [m²].
    earliest_seed_date
        First day on which beds can be seeded; the first day asked for unless given.
    chance
        Chance wanted that no hand-over day lacks worms.
    bed_cost_per_m2, bed_life_years
        What a square metre of bed costs to lay out, and how long it lasts.
    care_cost_per_m2_week
        Feeding, watering and watching of a square metre for a week.
    worms_price_per_kg
        Price of worms to seed with, and to buy instead; the cheapest offer's unless given.
    monthly_bed_temperature_c
        Mean temperature of the bed in each month, January first; a sheltered bed in the
        program's climate unless given [°C].
    """

    bed_area_m2: Annotated[float, Field(gt=0.0, le=100_000.0)]
    earliest_seed_date: dt.date | None = None
    chance: Annotated[float, Field(ge=0.5, le=0.99)] = 0.9
    bed_cost_per_m2: Money = 0.0
    bed_life_years: Annotated[float, Field(gt=0.0, le=50.0)] = 10.0
    care_cost_per_m2_week: Money = 0.0
    worms_price_per_kg: Money | None = None
    monthly_bed_temperature_c: Annotated[tuple[Celsius, ...], Field(strict=False)] | None = None

    @field_validator("monthly_bed_temperature_c")
    @classmethod
    def _twelve_months(cls, value: tuple[float, ...] | None) -> tuple[float, ...] | None:
        if value is not None and len(value) != MONTHS_PER_YEAR:
            message = f"expected a list of {MONTHS_PER_YEAR}, one for each month, January first"
            raise ValueError(message)
        return value
