"""Blocks of program.toml on other ways to spend the money, for councillors to compare."""

from __future__ import annotations

from typing import Annotated

from pydantic import Field, model_validator

from planner.program.block import Block, Money, Text


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
