"""Block of program.toml that puts the council's own numbers in place of published ones."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field, model_validator

from planner.program.block import Block, Text

Name = Annotated[str, Field(max_length=80)]


class OwnFactor(Block):
    """A factor of the council's own; its source is what an auditor will ask for.

    `applies_to` and `edition` narrow the rows that it stands for; left out, it stands for
    all of them. Without `low` and `high` it is taken as certain.
    """

    factor_id: Annotated[str, Field(min_length=1, max_length=80)]
    applies_to: Name = ""
    edition: Name = ""
    value: float
    low: float | None = None
    high: float | None = None
    shape: Literal["fixed", "uniform", "triangular", "normal", "lognormal"] | None = None
    unit: Text
    source: Text | None = None

    @model_validator(mode="after")
    def _has_a_source(self) -> OwnFactor:
        if self.source is None or not self.source.strip():
            message = (
                "source: not there. Name the report, contract or measurement that the number "
                "of your own comes from"
            )
            raise ValueError(message)
        return self

    @model_validator(mode="after")
    def _in_order(self) -> OwnFactor:
        if (self.low is None) != (self.high is None):
            there = "low" if self.high is None else "high"
            message = f"found {there} alone, expected both low and high, or neither"
            raise ValueError(message)
        if self.low is not None and self.high is not None:
            if not self.low <= self.value <= self.high:
                message = (
                    f"found low {self.low:g}, value {self.value:g}, high {self.high:g}, "
                    "expected them to rise in this order"
                )
                raise ValueError(message)
        elif self.shape not in (None, "fixed"):
            message = f'found shape "{self.shape}" without low and high, expected both'
            raise ValueError(message)
        return self
