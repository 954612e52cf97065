"""Blocks of program.toml on money: prices to come, work not paid for, other ways to spend."""

from __future__ import annotations

from typing import Annotated

from pydantic import Field, field_validator, model_validator

from planner.program.block import Block, Money, Text

Rise = Annotated[float, Field(ge=-0.2, le=0.5)]
Rate = Annotated[float, Field(ge=0.0, le=0.3)]


class CarbonValue(Block):
    """What a tonne of emissions avoided is worth by a published value; counted only if stated.

    Parameters
    ----------
    per_t_co2e
        Value of emissions of `price_year`, in its prices [currency per t CO2-e].
    price_year
        Calendar year of the value.
    rise_share
        Yearly rise of the value above inflation.
    source
        Who published it, and where.
    """

    per_t_co2e: Money
    price_year: Annotated[int, Field(ge=2000, le=2100)]
    source: Text
    rise_share: Rise = 0.0


class MoneyToCome(Block):
    """What is taken of the years beyond the [[reporting_years]] blocks.

    Parameters
    ----------
    price_rise_share
        Yearly rise of levy and gate fee beyond the last year with a price, above inflation.
    inflation_share
        Yearly rise of prices at large, by which sums of money are put in the prices of the
        program's first year; 0 leaves them as booked.
    discount_rates
        Real yearly rates; empty for those of three treasuries.
    support_cost_per_bin_year
        What a bin in use will cost the council in each year to come.
    carbon_value
        Worth of a tonne of emissions avoided; None leaves them without a price.
    """

    price_rise_share: Rise = 0.0
    inflation_share: Rise = 0.0
    discount_rates: Annotated[tuple[Rate, ...], Field(max_length=6, strict=False)] = ()
    support_cost_per_bin_year: Money = 0.0
    carbon_value: CarbonValue | None = None

    @field_validator("discount_rates")
    @classmethod
    def _each_once(cls, value: tuple[float, ...]) -> tuple[float, ...]:
        if len(set(value)) != len(value):
            message = "expected each rate once"
            raise ValueError(message)
        return tuple(sorted(value))


class InKind(Block):
    """Work that no ledger line pays for, as volunteers' hours."""

    reporting_year: str
    work: Text
    hours: Annotated[float, Field(ge=0.0, le=1_000_000.0)]
    rate_per_hour: Money


class OtherWay(Block):
    """Another way to keep food scraps out of landfill, with the council's own figures.

    Parameters
    ----------
    name
        What it is, as councillors know it.
    cost_per_t
        What a tonne kept out of landfill costs that way, before levy and gate fee saved.
    cost_per_t_low, cost_per_t_high
        Its likely range, where there is one.
    source
        Paper or study from which the council has the figures.
    """

    name: Text
    cost_per_t: Annotated[Money, Field(gt=0.0)]
    cost_per_t_low: Annotated[float, Field(gt=0.0)] | None = None
    cost_per_t_high: Annotated[float, Field(gt=0.0)] | None = None
    source: Text

    @model_validator(mode="after")
    def _holds_its_value(self) -> OtherWay:
        low, high = self.cost_per_t_low, self.cost_per_t_high
        if (low is None) != (high is None):
            message = "expected cost_per_t_low and cost_per_t_high together, or neither"
            raise ValueError(message)
        if low is not None and high is not None and not low <= self.cost_per_t <= high:
            message = f"found cost_per_t {self.cost_per_t:g}, expected it from {low:g} to {high:g}"
            raise ValueError(message)
        return self
