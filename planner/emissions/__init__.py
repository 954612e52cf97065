"""Landfill methane avoided and the bins' own gases."""

from planner.emissions.account import (
    Basis,
    EmissionsAvoided,
    bin_gases_kg_co2e_per_t,
    emissions_avoided,
    methane_avoided_kg_co2e_per_t,
)
from planner.emissions.bins import bin_methane_kg, bin_nitrous_oxide_kg
from planner.emissions.choice import (
    EmissionFactors,
    choose_emission_factors,
    draw_emission_factors,
)
from planner.emissions.landfill import (
    Decay,
    methane_between_kg,
    methane_potential_kg,
    monthly_methane_kg,
    yearly_methane_kg,
)
from planner.emissions.streams import Streams, streams_methane_kg

__all__ = [
    "Basis",
    "Decay",
    "EmissionFactors",
    "EmissionsAvoided",
    "Streams",
    "bin_gases_kg_co2e_per_t",
    "bin_methane_kg",
    "bin_nitrous_oxide_kg",
    "choose_emission_factors",
    "draw_emission_factors",
    "emissions_avoided",
    "methane_avoided_kg_co2e_per_t",
    "methane_between_kg",
    "methane_potential_kg",
    "monthly_methane_kg",
    "streams_methane_kg",
    "yearly_methane_kg",
]
