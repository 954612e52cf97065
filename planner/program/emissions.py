"""Blocks of program.toml on the emissions account: choices, distances, further landfills."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import AfterValidator, Field

from planner.program.block import Block, Share, Text
from planner.program.landfill import LandfillSite

Distance = Annotated[float, Field(ge=0.0, le=40_000.0)]
Vehicle = Literal[
    "van_diesel",
    "van_electric",
    "rigid_7_5_to_17_t",
    "rigid_average",
    "truck_average",
    "articulated_over_33_t",
]
STATED = (
    "supplier_km",
    "delivery_km",
    "household_trip_km",
)
"""Keys that stand in place of the factor of the same name, and are taken as certain."""


class Emissions(Block):
    """Choices and distances of the emissions account; every one may be left out.

    Parameters
    ----------
    residual_treatment
        What becomes of residual waste that is not landfilled.
    kerbside_treatment
        What becomes of kerbside organics.
    rounds_shrink
        Whether collection rounds have become fewer or shorter for the scraps kept out.
    bedding
        What the bedding given with bins is made of.
    supplier_vehicle, delivery_vehicle
        What carries bins, bedding and worms to the council, and on to the hand-over.
    supplier_km, delivery_km, household_trip_km
        Distances to the council, to the hand-over, and there and back by a household [km].
    show_carbon_and_fertiliser
        Whether lines on carbon stored and fertiliser replaced are shown, apart from the net.
    """

    residual_treatment: Literal[
        "incineration", "composting", "anaerobic_digestion", "not_counted"
    ] = "incineration"
    kerbside_treatment: Literal["composting", "anaerobic_digestion", "not_counted"] = "composting"
    rounds_shrink: bool = False
    bedding: Literal["not_known", "surplus_paper", "compost", "wood", "board"] = "not_known"
    supplier_vehicle: Vehicle = "truck_average"
    delivery_vehicle: Vehicle = "van_diesel"
    supplier_km: Distance | None = None
    delivery_km: Distance | None = None
    household_trip_km: Distance | None = None
    show_carbon_and_fertiliser: bool = False

    @property
    def stated(self) -> dict[str, float]:
        """Values that stand in place of a factor, by its name."""
        values = {key: getattr(self, key) for key in STATED}
        return {key: value for key, value in values.items() if value is not None}


class FurtherLandfill(LandfillSite):
    """Another landfill that takes part of the landfilled waste; [landfill] takes the rest."""

    name: Text
    share_of_landfilled_waste: Share


def _at_most_all(landfills: tuple[FurtherLandfill, ...]) -> tuple[FurtherLandfill, ...]:
    shares = sum(one.share_of_landfilled_waste for one in landfills)
    if shares > 1.0:
        message = f"found share_of_landfilled_waste adding up to {shares:g}, expected at most 1"
        raise ValueError(message)
    names = [one.name for one in landfills]
    if len(set(names)) != len(names):
        message = f"found the names {', '.join(names)}, expected each once"
        raise ValueError(message)
    return landfills


FurtherLandfills = Annotated[
    tuple[FurtherLandfill, ...], Field(strict=False), AfterValidator(_at_most_all)
]
