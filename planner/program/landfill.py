"""Blocks of program.toml on the landfill, the climate, and what changes without the bins."""

from __future__ import annotations

import datetime as dt
from typing import Annotated, Literal

from pydantic import Field, field_validator, model_validator

from planner.program.block import Block, Money, Share, Text
from planner.units import MONTHS_PER_YEAR


class GasCapture(Block):
    """Share of methane that wells catch from waste of at least this age."""

    from_age_years: Annotated[int, Field(ge=0, le=100)]
    captured_share: Share


class LandfillSite(Block):
    """A landfill: its climate, how it is run, and what its wells catch."""

    climate: Literal["boreal_temperate_dry", "boreal_temperate_wet", "tropical_dry", "tropical_wet"]
    management: Literal[
        "managed_anaerobic",
        "managed_semi_aerobic_well",
        "unmanaged_deep",
        "unmanaged_shallow",
        "uncategorised",
    ]
    cover: Literal["oxidising", "none"]
    gas_capture: Annotated[tuple[GasCapture, ...], Field(min_length=1, strict=False)]

    @model_validator(mode="after")
    def _ages_rise_from_zero(self) -> LandfillSite:
        ages = [step.from_age_years for step in self.gas_capture]
        if ages[0] != 0 or ages != sorted(set(ages)):
            message = "gas_capture: expected ages that begin at 0 and rise from line to line"
            raise ValueError(message)
        return self


class Landfill(LandfillSite):
    """Where the residual waste goes in the end."""

    landfilled_share_of_residual_waste: Share


class Method(Block):
    """Edition of the method and what fixes the draws."""

    edition: Literal["ipcc_2006", "ipcc_2019"]
    gwp_set: Literal["ar4", "ar5", "ar6"]
    draws_count: Annotated[int, Field(ge=100, le=20_000)]
    seed: Annotated[int, Field(ge=0, lt=2**63)]


class Climate(Block):
    """Monthly mean temperatures, January first."""

    monthly_mean_temperature_c: Annotated[
        tuple[Annotated[float, Field(ge=-40.0, le=50.0)], ...], Field(strict=False)
    ]

    @field_validator("monthly_mean_temperature_c")
    @classmethod
    def _twelve_months(cls, value: tuple[float, ...]) -> tuple[float, ...]:
        if len(value) != MONTHS_PER_YEAR:
            message = f"expected a list of {MONTHS_PER_YEAR}, one for each month, January first"
            raise ValueError(message)
        return value


class BaselineScenario(Block):
    """A dated change of what would happen without the bins; all blocks hold together.

    Parameters
    ----------
    name
        What it is, as "Food collection".
    begins
        First day of the month from which it holds.
    areas
        Ids of the areas in which it holds; empty for all.
    leaves_residual_bin_share
        Of the scraps that went to the residual bin, share that goes elsewhere from then on.
    landfill_levy_per_t, gate_fee_per_t
        Prices from the reporting year that begins then, as they will be paid.
    source
        Where the assumption comes from, as a council's decision.
    """

    name: Text
    begins: dt.date
    areas: Annotated[tuple[str, ...], Field(strict=False)] = ()
    leaves_residual_bin_share: Share = 0.0
    landfill_levy_per_t: Money | None = None
    gate_fee_per_t: Money | None = None
    source: Text | None = None

    @property
    def changes_prices(self) -> bool:
        """Whether it states a levy or a gate fee."""
        return self.landfill_levy_per_t is not None or self.gate_fee_per_t is not None

    @model_validator(mode="after")
    def _says_something(self) -> BaselineScenario:
        if self.begins.day != 1:
            message = f"begins: found {self.begins}, expected the first day of a month"
            raise ValueError(message)
        if not self.leaves_residual_bin_share and not self.changes_prices:
            message = (
                "found no change, expected leaves_residual_bin_share, landfill_levy_per_t or "
                "gate_fee_per_t"
            )
            raise ValueError(message)
        if self.changes_prices and self.areas:
            message = "areas: found them with a price, expected prices in a block without areas"
            raise ValueError(message)
        return self
