"""The rows of the factor tables that a program's landfills, method and choices call for."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from planner.factors.table import OWN

if TYPE_CHECKING:
    from collections.abc import Mapping

    from planner.factors import Factor, FactorTable
    from planner.program import Emissions, LandfillSite, Program

BASE_EDITION = "ipcc_2006"
"""The 2019 Refinement changes some rows only; what it leaves alone holds from 2006."""

MAIN_LANDFILL = "main"
"""Name of the landfill under [landfill]."""

FREIGHT = ("freight_kg_co2e_per_t_km", "freight_supply_kg_co2e_per_t_km")
"""What a vehicle gives off, and what its fuel gave off before it was burnt."""

LANDFILL_FACTORS = (
    "food_degradable_carbon_share",
    "food_decomposing_carbon_share",
    "methane_share_of_gas",
    "delay_months",
    "captured_multiplier",
    "methane_gwp100",
    "nitrous_oxide_gwp100",
)
"""Factors that all landfills share."""

SHARED = (
    *LANDFILL_FACTORS,
    "compost_methane_g_per_kg",
    "compost_nitrous_oxide_g_per_kg",
    "castings_carbon_kg_co2e_per_t",
    "fertiliser_replaced_kg_co2e_per_t",
    "bin_plastic_virgin_kg_co2e_per_kg",
    "bin_plastic_recycled_kg_co2e_per_kg",
    "plastic_landfilled_kg_co2e_per_kg",
    "bedding_kg_co2e_per_kg",
    "worm_supply_kg_co2e_per_kg",
    "car_kg_co2e_per_km",
    "supplier_km",
    "delivery_km",
    "household_trip_km",
    "collection_kg_co2e_per_t",
)
"""Factors that every program needs: of waste, of bins and of what supplies them."""

OF_TREATMENTS = {
    "incineration": ("incineration_methane_g_per_kg", "incineration_nitrous_oxide_g_per_kg"),
    "anaerobic_digestion": ("digester_methane_g_per_kg",),
}
"""Factors of other treatments than composting, where a program's routes name them."""

APPLIES_TO = {
    "captured_multiplier": "unmetered",
    "compost_methane_g_per_kg": "wet",
    "compost_nitrous_oxide_g_per_kg": "wet",
    "digester_methane_g_per_kg": "wet",
}


@dataclass(frozen=True)
class LandfillRows:
    """Rows of one landfill, and its share of the landfilled waste."""

    name: str
    share_of_landfilled_waste: float
    site: LandfillSite
    rows: tuple[Factor, ...]


@dataclass(frozen=True)
class FactorRows:
    """Rows that all landfills and lines share, by what they are for, and of each landfill.

    A row is for what its factor_id says, but that freight is looked up for two vehicles.
    `stated` are the keys under [emissions] that stand in place of a factor.
    """

    shared: Mapping[str, Factor]
    landfills: tuple[LandfillRows, ...]
    stated: frozenset[str]

    @property
    def every(self) -> tuple[Factor, ...]:
        """All rows, each once, those of the first landfill before those of the next."""
        rows = [row for landfill in self.landfills for row in landfill.rows]
        return tuple(dict.fromkeys([*self.shared.values(), *rows]))

    @property
    def drawn_ids(self) -> tuple[str, ...]:
        """Ids of the factors that are drawn, each once."""
        return tuple(dict.fromkeys(row.factor_id for row in self.every if row.shape != "fixed"))


def choose_emission_factors(program: Program, table: FactorTable) -> FactorRows:
    """Name the rows that the program's landfills, edition, potentials and choices call for.

    Raises
    ------
    FactorError
        The tables have no row for one of them.
    """
    find, choices = _Finder(program, table), program.emissions
    chosen = {choices.residual_treatment, choices.kerbside_treatment}
    of_routes = [one for name in OF_TREATMENTS if name in chosen for one in OF_TREATMENTS[name]]
    applies_to = {**APPLIES_TO, "bedding_kg_co2e_per_kg": choices.bedding}
    shared = {name: find(name, applies_to.get(name, "")) for name in (*SHARED, *of_routes)}
    shared |= _of_freight(find, choices)
    stated = choices.stated
    return FactorRows(
        {role: _stated(row, stated) for role, row in shared.items()},
        tuple(_of_landfill(find, name, share, site) for name, share, site in _sites(program)),
        frozenset(stated),
    )


@dataclass(frozen=True)
class _Finder:
    program: Program
    table: FactorTable

    def __call__(self, factor_id: str, applies_to: str = "") -> Factor:
        """Find a row of the program's edition or potentials, or of the edition it rests on."""
        editions = {row.edition for row in self.table if row.factor_id == factor_id}
        wanted = (self.program.method.edition, self.program.method.gwp_set, BASE_EDITION)
        edition = next((one for one in wanted if one in editions), "")
        return self.table.find(factor_id, applies_to, edition)


def _sites(program: Program) -> list[tuple[str, float, LandfillSite]]:
    further = program.further_landfills
    rest = 1.0 - sum(one.share_of_landfilled_waste for one in further)
    return [
        (MAIN_LANDFILL, rest, program.landfill),
        *((one.name, one.share_of_landfilled_waste, one) for one in further),
    ]


def _of_landfill(find: _Finder, name: str, share: float, site: LandfillSite) -> LandfillRows:
    rows = (
        find.table.find("methane_correction_factor", site.management, BASE_EDITION),
        find("food_decay_rate_per_year", site.climate),
        find("oxidised_share", site.cover),
    )
    return LandfillRows(name, share, site, rows)


def _of_freight(find: _Finder, choices: Emissions) -> dict[str, Factor]:
    legs = (("supplier", choices.supplier_vehicle), ("delivery", choices.delivery_vehicle))
    return {
        f"{leg}_{factor_id}": find.table.find(factor_id, vehicle)
        for leg, vehicle in legs
        for factor_id in FREIGHT
    }


def _stated(row: Factor, stated: dict[str, float]) -> Factor:
    """Put a value of the program file in place of a factor's."""
    if row.factor_id not in stated:
        return row
    return replace(
        row, value=stated[row.factor_id], low=None, high=None, shape="fixed", evidence=OWN
    )
