"""The rows of the factor tables that a program's landfills, method and choices call for."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from planner.factors.table import OWN

if TYPE_CHECKING:
    from collections.abc import Mapping

    from planner.factors import Factor, FactorTable
    from planner.program import LandfillSite, Program

BASE_EDITION = "ipcc_2006"
"""The 2019 Refinement changes some rows only; what it leaves alone holds from 2006."""

MAIN_LANDFILL = "main"
"""Name of the landfill under [landfill]."""

FREIGHT = ("freight_kg_co2e_per_t_km", "freight_supply_kg_co2e_per_t_km")
"""What a vehicle gives off, and what its fuel gave off before it was burnt."""


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
    find = _Finder(program, table)
    rows = (*_of_waste(find, program), *_of_bins(find), *_of_supply(find, program))
    stated = program.emissions.stated
    shared = {row.factor_id: row for row in (*rows, *_of_routes(find, program))}
    shared |= _of_freight(find, program)
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
        """Find a row of the program's edition, or of the edition it rests on."""
        editions = {row.edition for row in self.table if row.factor_id == factor_id}
        chosen = self.program.method.edition
        edition = chosen if chosen in editions else BASE_EDITION
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


def _of_waste(find: _Finder, program: Program) -> tuple[Factor, ...]:
    gwp_set = program.method.gwp_set
    return (
        find("food_degradable_carbon_share"),
        find("food_decomposing_carbon_share"),
        find("methane_share_of_gas"),
        find("delay_months"),
        find("captured_multiplier", "unmetered"),
        find.table.find("methane_gwp100", edition=gwp_set),
        find.table.find("nitrous_oxide_gwp100", edition=gwp_set),
    )


def _of_bins(find: _Finder) -> tuple[Factor, ...]:
    return (
        find("compost_methane_g_per_kg", "wet"),
        find("compost_nitrous_oxide_g_per_kg", "wet"),
        find.table.find("castings_carbon_kg_co2e_per_t"),
        find.table.find("fertiliser_replaced_kg_co2e_per_t"),
    )


def _of_supply(find: _Finder, program: Program) -> tuple[Factor, ...]:
    choices, one = program.emissions, find.table.find
    return (
        one("bin_plastic_virgin_kg_co2e_per_kg"),
        one("bin_plastic_recycled_kg_co2e_per_kg"),
        one("plastic_landfilled_kg_co2e_per_kg"),
        one("bedding_kg_co2e_per_kg", choices.bedding),
        one("worm_supply_kg_co2e_per_kg"),
        one("car_kg_co2e_per_km"),
        one("supplier_km"),
        one("delivery_km"),
        one("household_trip_km"),
        one("collection_kg_co2e_per_t"),
    )


def _of_freight(find: _Finder, program: Program) -> dict[str, Factor]:
    choices = program.emissions
    legs = (("supplier", choices.supplier_vehicle), ("delivery", choices.delivery_vehicle))
    return {
        f"{leg}_{factor_id}": find.table.find(factor_id, vehicle)
        for leg, vehicle in legs
        for factor_id in FREIGHT
    }


def _of_routes(find: _Finder, program: Program) -> tuple[Factor, ...]:
    """Rows of other treatments that the program's routes name, beside those of composting."""
    chosen = {program.emissions.residual_treatment, program.emissions.kerbside_treatment}
    rows = []
    if "incineration" in chosen:
        rows += [
            find("incineration_methane_g_per_kg"),
            find("incineration_nitrous_oxide_g_per_kg"),
        ]
    if "anaerobic_digestion" in chosen:
        rows.append(find("digester_methane_g_per_kg", "wet"))
    return tuple(rows)


def _stated(row: Factor, stated: dict[str, float]) -> Factor:
    """Put a value of the program file in place of a factor's."""
    if row.factor_id not in stated:
        return row
    return replace(
        row, value=stated[row.factor_id], low=None, high=None, shape="fixed", evidence=OWN
    )
