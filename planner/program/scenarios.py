"""Blocks of program.toml on what will change without the bins: dated, and stated by the council."""

from __future__ import annotations

import datetime as dt
from typing import Annotated

from pydantic import Field, model_validator

from planner.program.block import Block, Money, Share, Text


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
