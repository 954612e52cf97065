"""Block of program.toml on sizing: what the next giveaway may cost, must reach and assumes."""

from __future__ import annotations

import re
from typing import Annotated, Literal

from pydantic import Field, field_validator, model_validator

from planner.messages import say
from planner.program.council import Block, Money, Share, Text, refuse_twice

Dwelling = Literal["house", "townhouse", "apartment"]
Objective = Literal["most_tonnes", "least_cost", "most_net_emissions"]
Count = Annotated[int, Field(ge=0, le=10_000_000)]
_MONTH = re.compile(r"(20\d{2}-)?(0[1-9]|1[0-2])")


class Prior(Block):
    """What the council believes of one uncertain number, before or instead of measuring it.

    `low` and `high` are the limits of a uniform, triangular or PERT shape, and the 2.5 and
    97.5 percentiles of a normal or lognormal one. `source` says where it comes from.
    """

    value: float
    low: float
    high: float
    shape: Literal["fixed", "uniform", "triangular", "pert", "normal", "lognormal"] = "pert"
    source: Text | None = None

    @model_validator(mode="after")
    def _value_lies_between(self) -> Prior:
        if not self.low <= self.value <= self.high:
            three = {name: str(getattr(self, name)) for name in ("low", "value", "high")}
            raise ValueError(say("setting.prior", **three))
        if self.shape == "lognormal" and self.low <= 0.0:
            raise ValueError(say("setting.lognormal"))
        return self


class SurveyedInterest(Block):
    """What residents without a bin said when asked whether they would like one."""

    dwelling: Dwelling
    asked_count: Annotated[int, Field(ge=1, le=10_000_000)]
    interested_count: Count
    design_effect: Annotated[float, Field(ge=1.0, le=20.0)] = 1.0

    @model_validator(mode="after")
    def _no_more_than_asked(self) -> SurveyedInterest:
        if self.interested_count > self.asked_count:
            raise ValueError(say("setting.interested"))
        return self


class FundingRound(Block):
    """A funding round: one month of hand-overs, and what limits it.

    A month without a year is that of the year planned, so that it serves every year.
    """

    name: Text
    hand_over_month: str
    budget: Money | None = None
    hand_over_places: Count | None = None
    workshop_places: Count | None = None

    @field_validator("hand_over_month")
    @classmethod
    def _month(cls, value: str) -> str:
        if _MONTH.fullmatch(value) is None:
            raise ValueError(say("setting.month"))
        return value


class ModelSupply(Block):
    """What limits one bin model."""

    model_id: Text
    stock_count: Count | None = None
    dwellings: Annotated[tuple[Dwelling, ...], Field(min_length=1, strict=False)] = (
        "house",
        "townhouse",
        "apartment",
    )


class SizingLimits(Block):
    """What the plan must keep to, beside money, stock and interest."""

    bins_most: Count | None = None
    bins_most_per_area: Count | None = None
    households_most_share_per_area: Share | None = None
    priority_least_share: Share = 0.0
    apartments_least_bins: Count = 0
    apartments_least_share: Share = 0.0


class RankCorrelation(Block):
    """Two uncertain numbers that tend to be high together."""

    between: Annotated[tuple[Text, Text], Field(strict=False)]
    rank_correlation: Annotated[float, Field(ge=-0.95, le=0.95)]


class Scenario(Block):
    """A plan to set beside the main one: what it changes; the rest stays."""

    name: Text
    budget: Money | None = None
    objective: Objective | None = None
    bins_most: Count | None = None
    copayment: Money | None = None
    with_workshop: bool | None = None
    price_multiplier: Annotated[float, Field(gt=0.0, le=10.0)] = 1.0
    priority_least_share: Share | None = None
    apartments_least_bins: Count | None = None
    apartments_least_share: Share | None = None


class Sizing(Block):
    """Everything that `planner size` takes from program.toml."""

    horizon_years: Annotated[int, Field(ge=1, le=10)] = 5
    objective: Objective = "most_tonnes"
    budget: Money | None = None
    fixed_cost: Money | None = None
    other_cost_per_bin: Money | None = None
    copayment: Money = 0.0
    with_workshop: bool = False
    workshop_cost_per_bin: Money | None = None
    target_t: Annotated[float, Field(gt=0.0)] | None = None
    target_year: Annotated[int, Field(ge=1, le=10)] = 1
    target_confidence: Annotated[float, Field(ge=0.5, le=0.99)] = 0.8
    last_year_weight: Annotated[float, Field(gt=0.0, le=1.0)] = 0.7
    draws_count: Annotated[int, Field(ge=256, le=65_536)] = 4096
    rounds: Annotated[tuple[FundingRound, ...], Field(strict=False)] = ()
    models: Annotated[tuple[ModelSupply, ...], Field(strict=False)] = ()
    limits: SizingLimits = SizingLimits()
    priors: dict[str, Prior] = Field(default_factory=dict)
    interest: Annotated[tuple[SurveyedInterest, ...], Field(strict=False)] = ()
    correlations: Annotated[tuple[RankCorrelation, ...], Field(strict=False)] = ()
    scenarios: Annotated[tuple[Scenario, ...], Field(strict=False)] = ()

    @model_validator(mode="after")
    def _target_within_horizon(self) -> Sizing:
        if self.target_year > self.horizon_years:
            years = {"most": self.horizon_years, "found": self.target_year}
            raise ValueError(say("setting.target_year", **years))
        return self

    @model_validator(mode="after")
    def _one_each(self) -> Sizing:
        refuse_twice("sizing.rounds", [one.name for one in self.rounds])
        refuse_twice("sizing.models", [one.model_id for one in self.models])
        refuse_twice("sizing.interest", [one.dwelling for one in self.interest])
        refuse_twice("sizing.scenarios", [one.name for one in self.scenarios])
        return self
