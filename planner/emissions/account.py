"""The project account: what landfilling would have sent up, less what the project does.

After ISO 14064-2:2019 and the GHG Protocol for Project Accounting (2005): sources of the
baseline, of the project and of leakage, each a line with its sign (6.3, 6.5, 6.6; chapter 5), on
three bases that are never summed (6.7, 6.8; chapter 10). Clause numbers are from memory.
Biogenic carbon dioxide is not counted, on either side. Nothing here is an offset or a credit,
nor does it say that worm bins emit less than other composting.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from planner.arrays import Numbers
from planner.emissions.activity import (
    BASES,
    bin_gases_kg_co2e_per_kg,
    spread_making_kg_co2e,
    supply_lines,
)
from planner.emissions.timeline import by_year_kg, methane_kg
from planner.units import CO2_PER_CARBON, KG_PER_T

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    from planner.emissions.activity import Activity
    from planner.emissions.drawn import EmissionFactors
    from planner.program import Emissions


IN_NET = (
    "landfill_methane",
    "bin_methane",
    "bin_nitrous_oxide",
    "bin_plastic",
    "bin_disposal",
    "bedding",
    "worm_supply",
    "freight",
    "household_trips",
    "collection_saved",
)
"""Lines whose sum is the net, in the order in which they are shown."""

OTHER_ROUTES = ("other_residual_treatment", "kerbside_organics", "garden_compost")
"""What other routes no longer emit: a sum of its own, outside the net."""

APART = (
    "bins_over_their_lives",
    "dropout",
    "castings_carbon",
    "fertiliser_replaced",
    "landfill_carbon",
)
"""Lines that stand beside the account and are in no sum."""

BIN_GASES = ("bin_methane", "bin_nitrous_oxide")


@dataclass(frozen=True)
class Basis:
    """Emissions on one basis, each of shape (1 + draws,) [t CO2-e]."""

    # lines of the account by name, avoided with a plus, emitted with a minus; a line that the
    # program does not have is not there
    lines: Mapping[str, Numbers]

    @property
    def methane_avoided_t_co2e(self) -> Numbers:
        """Landfill methane of the scraps kept out."""
        return self.lines["landfill_methane"]

    @property
    def bin_gases_t_co2e(self) -> Numbers:
        """Methane and nitrous oxide of the bins, to be taken off."""
        return -self._sum(BIN_GASES)

    @property
    def making_and_freight_t_co2e(self) -> Numbers:
        """Every other line of the net, to be taken off."""
        return -self._sum([n for n in IN_NET if n not in ("landfill_methane", *BIN_GASES)])

    @property
    def net_t_co2e(self) -> Numbers:
        """Sum of the lines of the net."""
        return self._sum(IN_NET)

    @property
    def other_routes_t_co2e(self) -> Numbers:
        """What other routes no longer emit, outside the net."""
        return self._sum(OTHER_ROUTES)

    def _sum(self, names: tuple[str, ...] | list[str]) -> Numbers:
        there = [self.lines[name] for name in names if name in self.lines]
        none = np.zeros_like(self.lines["landfill_methane"])
        return np.asarray(np.sum(there, axis=0)) if there else none


@dataclass(frozen=True)
class EmissionsAvoided:
    """Three bases, which must not be added up: each counts some of the same methane."""

    # methane that all scraps kept out so far would have sent up within the reporting year, less
    # what the project emits in that year
    in_year: Basis
    to_date: Basis  # the same from the program's first month to the end of the reporting year
    # methane that the scraps kept out in the reporting year would have sent up within 100 years of
    # their deposit, less what the project emits in that year
    over_100_years: Basis
    # The methane of `over_100_years` by year, index 0 the reporting year, shape (1 + draws, 101) [t
    # CO2-e]. Its sum over years is that of the basis.
    methane_by_year_t_co2e: Numbers

    def basis(self, name: str) -> Basis:
        """Find a basis by its name in BASES."""
        return (self.in_year, self.to_date, self.over_100_years)[BASES.index(name)]


def emissions_avoided(
    activity: Activity, factors: EmissionFactors, choices: Emissions
) -> EmissionsAvoided:
    """Account for the emissions avoided by the end of a reporting year.

    Raises
    ------
    ValueError
        The draws of scraps and factors are not as many.

    Notes
    -----
    Methane is counted net of recovery and of oxidation in the cover. Bins, bedding, worms, freight
    and trips are charged in the year in which they are given out; what making and end of the
    bins come to in equal parts over their service lives stands apart. Scraps kept out are net of
    those that would have been composted anyway and those thrown away after all, so that
    no line takes them off again.

    References
    ----------
    ipcc_2006_v5_ch3, equations 3.1 to 3.6; ipcc_2006_v5_ch4, equations 4.1 and 4.2.
    """
    if activity.kept_out_kg.shape[0] != factors.size:
        message = (
            f"found kept_out_kg {activity.kept_out_kg.shape}, factors ({factors.size},), "
            "expected the same draws"
        )
        raise ValueError(message)
    in_year, to_date, over_100_years = (
        account_on(activity, factors, choices, basis) for basis in BASES
    )
    by_year = by_year_kg(activity, factors) * factors["methane_gwp100"][:, np.newaxis] / KG_PER_T
    return EmissionsAvoided(in_year, to_date, over_100_years, by_year)


def account_on(
    activity: Activity, factors: EmissionFactors, choices: Emissions, basis: str
) -> Basis:
    """Account on one basis alone; parameters as for `emissions_avoided`."""
    months = slice(None) if basis == "to_date" else activity.year_months

    def over(monthly: Numbers) -> Numbers:
        return np.asarray(monthly[..., months].sum(axis=-1))

    bin_methane, bin_nitrous_oxide = bin_gases_kg_co2e_per_kg(factors)
    lines = {
        **_landfill_lines(activity, factors, basis),
        "bin_methane": -over(activity.fed_kg) * bin_methane,
        "bin_nitrous_oxide": -over(activity.fed_kg) * bin_nitrous_oxide,
        **{name: -kg for name, kg in supply_lines(activity.supplies, factors, basis).items()},
        **_route_lines(activity, factors, choices, over),
        "bins_over_their_lives": -spread_making_kg_co2e(activity.supplies, factors, basis),
    }
    if choices.rounds_shrink:
        saved = over(activity.collected_kg) * factors["collection_kg_co2e_per_t"] / KG_PER_T
        lines["collection_saved"] = saved
    if choices.show_carbon_and_fertiliser:
        lines |= _carbon_lines(over(activity.fed_kg), over(activity.kept_out_kg), factors)
    # plus nothing: a line of minus nothing is nothing
    return Basis({name: line / KG_PER_T + 0.0 for name, line in lines.items()})


def _landfill_lines(activity: Activity, factors: EmissionFactors, basis: str) -> dict[str, Numbers]:
    waste_kg = np.stack([activity.kept_out_kg, activity.dropped_out_kg])
    methane = methane_kg(waste_kg, factors, basis, activity.year_start)
    kept_out, dropped_out = factors["methane_gwp100"] * methane
    return {"landfill_methane": kept_out, "dropout": -dropped_out}


def _route_lines(
    activity: Activity,
    factors: EmissionFactors,
    choices: Emissions,
    over: Callable[[Numbers], Numbers],
) -> dict[str, Numbers]:
    routes = (
        ("other_residual_treatment", choices.residual_treatment, activity.treated_kg),
        ("kerbside_organics", choices.kerbside_treatment, activity.kerbside_kg),
        ("garden_compost", "composting", activity.garden_compost_kg),
    )
    return {
        name: over(kg) * treatment_kg_co2e_per_kg(factors, treatment)
        for name, treatment, kg in routes
        if treatment != "not_counted"
    }


def treatment_kg_co2e_per_kg(factors: EmissionFactors, treatment: str) -> Numbers:
    """Methane and nitrous oxide of a treatment of scraps, shape (1 + draws,) [kg CO2-e per kg].

    Parameters
    ----------
    treatment
        "composting", "anaerobic_digestion" (its nitrous oxide is negligible, after Table
        4.1) or "incineration". Energy that a plant sells is not counted.

    References
    ----------
    ipcc_2006_v5_ch4, Table 4.1; ipcc_2006_v5_ch5, Tables 5.3 and 5.6.
    """
    methane, nitrous_oxide = {
        "composting": ("compost_methane_g_per_kg", "compost_nitrous_oxide_g_per_kg"),
        "anaerobic_digestion": ("digester_methane_g_per_kg", None),
        "incineration": ("incineration_methane_g_per_kg", "incineration_nitrous_oxide_g_per_kg"),
    }[treatment]
    total = factors[methane] * factors["methane_gwp100"]
    if nitrous_oxide is not None:
        total = total + factors[nitrous_oxide] * factors["nitrous_oxide_gwp100"]
    return np.asarray(total / KG_PER_T)


def _carbon_lines(
    fed_kg: Numbers, kept_out_kg: Numbers, factors: EmissionFactors
) -> dict[str, Numbers]:
    """Carbon in soil, fertiliser replaced, and carbon the landfill would have kept.

    The last is W · DOC · (1 − DOCf) · MCF · 44/12 (ipcc_2006_v5_ch3, appendix 3A.1).
    """
    left = factors["food_degradable_carbon_share"] * (1 - factors["food_decomposing_carbon_share"])
    corrected = sum(
        landfill.share_of_landfilled_waste * own["methane_correction_factor"]
        for landfill, own in zip(factors.rows.landfills, factors.of_landfills, strict=True)
    )
    return {
        "castings_carbon": fed_kg * factors["castings_carbon_kg_co2e_per_t"] / KG_PER_T,
        "fertiliser_replaced": fed_kg * factors["fertiliser_replaced_kg_co2e_per_t"] / KG_PER_T,
        "landfill_carbon": -kept_out_kg * left * corrected * CO2_PER_CARBON,
    }
