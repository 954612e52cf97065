"""The emissions account: landfill methane avoided, less what the project emits."""

from planner.emissions.account import (
    APART,
    IN_NET,
    OTHER_ROUTES,
    EmissionsAvoided,
    emissions_avoided,
    net_t_co2e,
)
from planner.emissions.activity import BASES, Activity, Supplies
from planner.emissions.choice import choose_emission_factors
from planner.emissions.drawn import EmissionFactors, draw_emission_factors
from planner.emissions.editions import (
    EDITIONS,
    GWP_SETS,
    compared_t_co2e,
    edition_factors,
    edition_rows,
)
from planner.emissions.landfill import (
    Decay,
    methane_between_kg,
    methane_potential_kg,
)
from planner.emissions.propagation import (
    approach_1_percent,
    conservative_basis,
    product_uncertainty_percent,
    range_uncertainty_percent,
    sum_uncertainty_percent,
)
from planner.emissions.supply import (
    bin_gas_kg,
    bin_gases_kg_co2e_per_t,
    bin_making_kg_co2e,
)
from planner.emissions.timeline import (
    Payback,
    by_month_kg,
    methane_avoided_kg_co2e_per_t,
    net_by_year_t_co2e,
    of_landfill_kg,
    payback,
)

__all__ = [
    "APART",
    "BASES",
    "EDITIONS",
    "GWP_SETS",
    "IN_NET",
    "OTHER_ROUTES",
    "Activity",
    "Decay",
    "EmissionFactors",
    "EmissionsAvoided",
    "Payback",
    "Supplies",
    "approach_1_percent",
    "bin_gas_kg",
    "bin_gases_kg_co2e_per_t",
    "bin_making_kg_co2e",
    "by_month_kg",
    "choose_emission_factors",
    "compared_t_co2e",
    "conservative_basis",
    "draw_emission_factors",
    "edition_factors",
    "edition_rows",
    "emissions_avoided",
    "methane_avoided_kg_co2e_per_t",
    "methane_between_kg",
    "methane_potential_kg",
    "net_by_year_t_co2e",
    "net_t_co2e",
    "of_landfill_kg",
    "payback",
    "product_uncertainty_percent",
    "range_uncertainty_percent",
    "sum_uncertainty_percent",
]
