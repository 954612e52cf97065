"""What the project itself emits: the bins' gases, their making, bedding, worms and freight."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import ArrayLike

from planner.arrays import Numbers
from planner.units import G_PER_KG, KG_PER_T

if TYPE_CHECKING:
    from planner.emissions.activity import Supplies
    from planner.emissions.drawn import EmissionFactors


def bin_gas_kg(fed_kg: ArrayLike, gas_g_per_kg: ArrayLike) -> Numbers:
    """Methane or nitrous oxide from scraps treated in bins.

    No factor for worm bins stands on enough measurements, so the Guidelines' factors for
    composting are used, with their whole range. The one field study of home bins found more
    methane from worm bins than from aerobic ones and less of all gases together: nothing
    here claims that worm bins emit less than other composting.

    Parameters
    ----------
    fed_kg
        Wet scraps fed, any shape [kg].
    gas_g_per_kg
        Emission factor for wet mass [g CH4 or g N2O per kg]; that of nitrous oxide is 0.24 as
        corrected, not the 0.3 first printed.

    Returns
    -------
    ndarray
        Shape of the arguments together [kg CH4 or kg N2O].

    References
    ----------
    ipcc_2006_v5_ch4, equations 4.1 and 4.2 and Table 4.1 as corrected; chan_2011, abstract.

    Examples
    --------
    >>> float(bin_gas_kg(1000.0, 4.0)), float(bin_gas_kg(1000.0, 0.24))
    (4.0, 0.24)
    """
    return np.asarray(np.asarray(fed_kg) * np.asarray(gas_g_per_kg) / G_PER_KG)


def bin_gases_kg_co2e_per_kg(factors: EmissionFactors) -> tuple[Numbers, Numbers]:
    """Methane and nitrous oxide of a kilogram fed, each (1 + draws,) [kg CO2-e per kg]."""
    methane = bin_gas_kg(1.0, factors["compost_methane_g_per_kg"])
    nitrous_oxide = bin_gas_kg(1.0, factors["compost_nitrous_oxide_g_per_kg"])
    return (
        methane * factors["methane_gwp100"],
        nitrous_oxide * factors["nitrous_oxide_gwp100"],
    )


def bin_gases_kg_co2e_per_t(factors: EmissionFactors) -> Numbers:
    """Methane and nitrous oxide of the bins for a tonne fed.

    Returns
    -------
    ndarray
        Shape (1 + draws,) [kg CO2-e per t wet].
    """
    methane, nitrous_oxide = bin_gases_kg_co2e_per_kg(factors)
    return (methane + nitrous_oxide) * KG_PER_T


def plastic_kg_co2e_per_kg(factors: EmissionFactors, recycled_share: float) -> Numbers:
    """Weigh making of new and recycled plastic, shape (1 + draws,) [kg CO2-e per kg]."""
    virgin = factors["bin_plastic_virgin_kg_co2e_per_kg"]
    recycled = factors["bin_plastic_recycled_kg_co2e_per_kg"]
    return np.asarray((1.0 - recycled_share) * virgin + recycled_share * recycled)


def freight_kg_co2e_per_kg(factors: EmissionFactors) -> Numbers:
    """Freight to the council and on to the hand-over, (1 + draws,) [kg CO2-e per kg moved]."""
    legs = [
        factors[f"{leg}_km"]
        * (
            factors[f"{leg}_freight_kg_co2e_per_t_km"]
            + factors[f"{leg}_freight_supply_kg_co2e_per_t_km"]
        )
        for leg in ("supplier", "delivery")
    ]
    return np.asarray((legs[0] + legs[1]) / KG_PER_T)


def bin_making_kg_co2e(
    factors: EmissionFactors,
    plastic_kg: float,
    recycled_share: float,
    bedding_kg: float,
    worms_kg: float,
) -> Numbers:
    """All that giving one bin emits: its making and end, bedding, worms, freight and trip.

    Returns
    -------
    ndarray
        Shape (1 + draws,) [kg CO2-e].
    """
    plastic = plastic_kg_co2e_per_kg(factors, recycled_share)
    plastic = plastic + factors["plastic_landfilled_kg_co2e_per_kg"]
    return np.asarray(
        plastic_kg * plastic
        + bedding_kg * factors["bedding_kg_co2e_per_kg"]
        + worms_kg * factors["worm_supply_kg_co2e_per_kg"]
        + (plastic_kg + bedding_kg + worms_kg) * freight_kg_co2e_per_kg(factors)
        + factors["household_trip_km"] * factors["car_kg_co2e_per_km"]
    )


def spread_making_kg_co2e(supplies: Supplies, factors: EmissionFactors, basis: str) -> Numbers:
    """Spread making and end of the bins over their lives, shape (1 + draws,) [kg CO2-e]."""
    new_kg, recycled_kg = supplies.plastic_on_kg(supplies.in_service, basis)
    return np.asarray(
        new_kg * factors["bin_plastic_virgin_kg_co2e_per_kg"]
        + recycled_kg * factors["bin_plastic_recycled_kg_co2e_per_kg"]
        + (new_kg + recycled_kg) * factors["plastic_landfilled_kg_co2e_per_kg"]
    )


def supply_lines(supplies: Supplies, factors: EmissionFactors, basis: str) -> dict[str, Numbers]:
    """Emissions of what was given out, by line.

    Parameters
    ----------
    basis
        "to_date" sums all years; the others are charged with the last.

    Returns
    -------
    dict
        For each line an array of shape (1 + draws,) [kg CO2-e].
    """
    charged = supplies.charged(basis)
    new_kg, recycled_kg = charged["new_plastic_kg"], charged["recycled_plastic_kg"]
    return {
        "bin_plastic": new_kg * factors["bin_plastic_virgin_kg_co2e_per_kg"]
        + recycled_kg * factors["bin_plastic_recycled_kg_co2e_per_kg"],
        "bin_disposal": (new_kg + recycled_kg) * factors["plastic_landfilled_kg_co2e_per_kg"],
        "bedding": charged["bedding_kg"] * factors["bedding_kg_co2e_per_kg"],
        "worm_supply": charged["worms_kg"] * factors["worm_supply_kg_co2e_per_kg"],
        "freight": charged["moved_kg"] * freight_kg_co2e_per_kg(factors),
        "household_trips": charged["trips_count"]
        * factors["household_trip_km"]
        * factors["car_kg_co2e_per_km"],
    }
