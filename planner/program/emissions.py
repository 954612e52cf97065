"""Blocks of program.toml on the landfill and the account: method, leakage, own factors."""

from __future__ import annotations

import datetime as dt
from typing import Annotated, Literal

from pydantic import AfterValidator, Field, model_validator

from planner.messages import say
from planner.program.council import TWELVE_MONTHS, Block, Money, Share, Text


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
            message = say("setting.gas_capture")
            raise ValueError(message)
        return self


class Landfill(LandfillSite):
    """Where the residual waste goes in the end."""

    landfilled_share_of_residual_waste: Share


BLOCKS_IN_MEMORY = 32

LEAST_STORE_MB = 64
"""With less, some queries on a few thousand households do not come to an end."""


class Method(Block):
    """Edition of the method, what fixes the draws, and what memory may be used."""

    edition: Literal["ipcc_2006", "ipcc_2019"]
    gwp_set: Literal["ar4", "ar5", "ar6"]
    draws_count: Annotated[int, Field(ge=100, le=20_000)]
    seed: Annotated[int, Field(ge=0, lt=2**63)]
    # for what is counted and drawn at once [MB]; figures do not depend on it
    memory_mb: Annotated[int, Field(ge=128, le=1_000_000)] = 1000

    @property
    def store_mb(self) -> int:
        """Memory of the store while it counts; what it found is held besides."""
        return max(self.memory_mb * 2 // 5, LEAST_STORE_MB)

    @property
    def block_bytes(self) -> int:
        """Random numbers of one block of replicates; some ten times as much is in use at once."""
        return self.memory_mb * 10**6 // BLOCKS_IN_MEMORY


class Climate(Block):
    """Monthly mean temperatures, January first."""

    monthly_mean_temperature_c: Annotated[
        tuple[Annotated[float, Field(ge=-40.0, le=50.0)], ...], Field(strict=False), TWELVE_MONTHS
    ]


class BaselineScenario(Block):
    """A dated change of what would happen without the bins; all blocks hold together."""

    name: Text  # what it is, as "Food collection"
    begins: dt.date  # first day of the month from which it holds
    # ids of the areas in which it holds; empty for all
    areas: Annotated[tuple[str, ...], Field(strict=False)] = ()
    # of the scraps that went to the residual bin, share that goes elsewhere from then on
    leaves_residual_bin_share: Share = 0.0
    # prices from the reporting year that begins then, as they will be paid
    landfill_levy_per_t: Money | None = None
    gate_fee_per_t: Money | None = None
    source: Text | None = None  # where the assumption comes from, as a council's decision

    @property
    def changes_prices(self) -> bool:
        """Whether it states a levy or a gate fee."""
        return self.landfill_levy_per_t is not None or self.gate_fee_per_t is not None

    @model_validator(mode="after")
    def _says_something(self) -> BaselineScenario:
        if self.begins.day != 1:
            message = say("setting.first_of_month", day=str(self.begins))
            raise ValueError(message)
        if not self.leaves_residual_bin_share and not self.changes_prices:
            raise ValueError(say("setting.no_change"))
        if self.changes_prices and self.areas:
            raise ValueError(say("setting.price_in_areas"))
        return self


class Leakage(Block):
    """Shares that the council takes as certain; left out, answers or the factor tables tell."""

    # of the scraps that went to the residual bin before, share that would have been composted or
    # fed to animals by now had there been no worm bin
    would_have_composted_anyway_share: Share | None = None
    # of the scraps fed, share that was thrown in the residual bin after all
    contents_binned_share: Share | None = None


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
            raise ValueError(say("setting.no_source"))
        return self

    @model_validator(mode="after")
    def _in_order(self) -> OwnFactor:
        if (self.low is None) != (self.high is None):
            there = "low" if self.high is None else "high"
            raise ValueError(say("setting.alone", there=there))
        if self.low is not None and self.high is not None:
            if not self.low <= self.value <= self.high:
                three = {name: f"{getattr(self, name):g}" for name in ("low", "value", "high")}
                message = say("setting.rising", **three)
                raise ValueError(message)
        elif self.shape not in (None, "fixed"):
            raise ValueError(say("setting.shape_alone", shape=str(self.shape)))
        return self


Distance = Annotated[float, Field(ge=0.0, le=40_000.0)]
Vehicle = Literal[
    "van_diesel",
    "van_electric",
    "rigid_7_5_to_17_t",
    "rigid_average",
    "truck_average",
    "articulated_over_33_t",
]
STATED = {"supplier_km", "delivery_km", "household_trip_km"}
"""Keys that stand in place of the factor of the same name, and are taken as certain."""


class Emissions(Block):
    """Choices and distances of the emissions account; every one may be left out."""

    # what becomes of residual waste that is not landfilled
    residual_treatment: Literal[
        "incineration", "composting", "anaerobic_digestion", "not_counted"
    ] = "incineration"
    # what becomes of kerbside organics
    kerbside_treatment: Literal["composting", "anaerobic_digestion", "not_counted"] = "composting"
    # whether collection rounds have become fewer or shorter for the scraps kept out
    rounds_shrink: bool = False
    # what the bedding given with bins is made of
    bedding: Literal["not_known", "surplus_paper", "compost", "wood", "board"] = "not_known"
    # what carries bins, bedding and worms to the council, and on to the hand-over
    supplier_vehicle: Vehicle = "truck_average"
    delivery_vehicle: Vehicle = "van_diesel"
    # distances to the council, to the hand-over, and there and back by a household [km]
    supplier_km: Distance | None = None
    delivery_km: Distance | None = None
    household_trip_km: Distance | None = None
    # whether lines on carbon stored and fertiliser replaced are shown, apart from the net
    show_carbon_and_fertiliser: bool = False

    @property
    def stated(self) -> dict[str, float]:
        """Values that stand in place of a factor, by its name."""
        return self.model_dump(include=STATED, exclude_none=True)


class FurtherLandfill(LandfillSite):
    """Another landfill that takes part of the landfilled waste; [landfill] takes the rest."""

    name: Text
    share_of_landfilled_waste: Share


def _at_most_all(landfills: tuple[FurtherLandfill, ...]) -> tuple[FurtherLandfill, ...]:
    shares = sum(one.share_of_landfilled_waste for one in landfills)
    if shares > 1.0:
        raise ValueError(say("setting.over_all", sum=f"{shares:g}"))
    names = [one.name for one in landfills]
    if len(set(names)) != len(names):
        raise ValueError(say("setting.names_once", names=", ".join(names)))
    return landfills


FurtherLandfills = Annotated[
    tuple[FurtherLandfill, ...], Field(strict=False), AfterValidator(_at_most_all)
]
