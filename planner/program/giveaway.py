"""Blocks of program.toml on what is given away, and the prices and targets of a year."""

from __future__ import annotations

from typing import Annotated

from pydantic import Field

from planner.program.block import Block, Money, Share, Text


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
