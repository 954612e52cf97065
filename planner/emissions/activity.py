"""What a program did: scraps by month, what was given out, and what supplying it emits."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from planner.arrays import Integers, Numbers
from planner.units import G_PER_KG, KG_PER_T

if TYPE_CHECKING:
    from planner.emissions.drawn import EmissionFactors


BASES = ("in_year", "to_date", "100_years")
"""Three bases, which must not be added up: each counts some of the same methane."""


@dataclass(frozen=True)
class Supplies:
    """What was given out, by reporting year; the last is the one that is reported.

    Counts and masses of the records, so without draws.
    """

    # shape (models, years): bins handed over, and of them those that no other household had before;
    # a bin that came back and went out again was made once
    bins_given: Numbers
    bins_made: Numbers
    # of a bin of each model, shape (models,)
    plastic_kg: Numbers
    plastic_recycled_share: Numbers
    service_life_years: Integers
    # given in each year, shape (years,) [kg]
    bedding_kg: Numbers
    worms_kg: Numbers

    @property
    def in_service(self) -> Numbers:
        """Making that falls to each year, in bins, shape (models, years).

        A bin is charged in equal parts to the year in which it is made and those after it,
        as many as its model lasts, as a council's ledger depreciates its other assets.
        """
        years = np.arange(self.bins_made.shape[1])
        age = years[:, np.newaxis] - years[np.newaxis, :]
        lasts = self.service_life_years[:, np.newaxis, np.newaxis]
        alive = (age >= 0) & (age < lasts)
        return np.asarray(np.einsum("kyc,kc->ky", alive / lasts, self.bins_made))

    @property
    def moved_kg(self) -> Numbers:
        """Mass of bins, bedding and worms given out, shape (years,) [kg]."""
        return np.asarray(self.plastic_kg @ self.bins_given + self.bedding_kg + self.worms_kg)

    def plastic_on_kg(self, bins_by_year: Numbers, basis: str) -> tuple[float, float]:
        """Part bins' plastic, new and recycled, on a basis; bins of shape (models, years) [kg]."""
        plastic_kg = _over(bins_by_year, basis) * self.plastic_kg
        recycled_kg = float(plastic_kg @ self.plastic_recycled_share)
        return float(plastic_kg.sum()) - recycled_kg, recycled_kg

    def charged(self, basis: str) -> dict[str, float]:
        """Sum what is charged on a basis [kg, trips]: of all years to date, or else of the last.

        Plastic is charged in the year in which a bin is made for the program, as greenhouse
        gas accounts charge capital goods in the year of their acquisition. Bins, bedding and
        worms are moved together, and each bin given is a trip of a household.

        References
        ----------
        GHG Protocol (2011), Corporate Value Chain (Scope 3) Standard, category 2, capital
        goods: accounted for in the year of acquisition, not depreciated (from memory).
        """
        new_kg, recycled_kg = self.plastic_on_kg(self.bins_made, basis)
        by_year = {
            "bedding_kg": self.bedding_kg,
            "worms_kg": self.worms_kg,
            "moved_kg": self.moved_kg,
            "trips_count": self.bins_given.sum(axis=0),
        }
        return {
            "new_plastic_kg": new_kg,
            "recycled_plastic_kg": recycled_kg,
            **{name: float(_over(each, basis)) for name, each in by_year.items()},
        }


def _over(by_year: Numbers, basis: str) -> Numbers:
    return np.asarray(by_year.sum(axis=-1) if basis == "to_date" else by_year[..., -1])


@dataclass(frozen=True)
class Activity:
    """Scraps by month and draw, and what was given out.

    Raises
    ------
    ValueError
        The shapes do not agree, or `year_months` does not end with the months.
    """

    # scraps kept out of landfill, net of both leaks, and fed to bins from the program's first month
    # to the last of the reporting year, shape (1 + draws, months) [kg]
    kept_out_kg: Numbers
    fed_kg: Numbers
    # scraps fed that were burnt or treated with the residual waste, collected at the kerb or
    # composted at home before, same shape [kg]
    treated_kg: Numbers
    kerbside_kg: Numbers
    garden_compost_kg: Numbers
    # scraps that would have been kept out had every bin stayed in use, less those that were,
    # same shape [kg]
    dropped_out_kg: Numbers
    collected_kg: Numbers  # scraps fed that a collection took before, same shape [kg]
    supplies: Supplies  # what was given out
    year_months: slice  # columns of the reporting year; its stop is the last column

    def __post_init__(self) -> None:
        shape = self.kept_out_kg.shape
        series = (self.fed_kg, self.treated_kg, self.kerbside_kg, self.garden_compost_kg)
        if any(one.shape != shape for one in (*series, self.dropped_out_kg, self.collected_kg)):
            shapes = [one.shape for one in series]
            message = (
                f"found kept_out_kg {shape}, others {shapes}, expected the same draws and months"
            )
            raise ValueError(message)
        start, stop, step = self.year_months.indices(shape[1])
        if stop != shape[1] or step != 1 or start >= stop:
            message = (
                f"year_months: found {self.year_months}, expected the last of {shape[1]} months"
            )
            raise ValueError(message)

    @property
    def year_start(self) -> int:
        """First column of the reporting year."""
        return self.year_months.indices(self.kept_out_kg.shape[1])[0]

    def picked(self, rows: Integers) -> Activity:
        """Take other draws of everything that has draws, all alike."""
        drawn = {name: each[rows] for name, each in vars(self).items() if name.endswith("_kg")}
        return replace(self, **drawn)


def bin_gases_kg_co2e_per_kg(factors: EmissionFactors) -> tuple[Numbers, Numbers]:
    """Methane and nitrous oxide of a kilogram fed, each (1 + draws,) [kg CO2-e per kg].

    No factor for worm bins stands on enough measurements, so the Guidelines' factors for
    composting are used, with their whole range. The one field study of home bins found more
    methane from worm bins than from aerobic ones and less of all gases together: nothing
    here claims that worm bins emit less than other composting.

    References
    ----------
    ipcc_2006_v5_ch4, equations 4.1 and 4.2 and Table 4.1 as corrected (nitrous oxide 0.24, not
    the 0.3 first printed); chan_2011, abstract.
    """
    methane = factors["compost_methane_g_per_kg"] / G_PER_KG
    nitrous_oxide = factors["compost_nitrous_oxide_g_per_kg"] / G_PER_KG
    return methane * factors["methane_gwp100"], nitrous_oxide * factors["nitrous_oxide_gwp100"]


def bin_gases_kg_co2e_per_t(factors: EmissionFactors) -> Numbers:
    """Methane and nitrous oxide of the bins for a tonne fed, (1 + draws,) [kg CO2-e per t wet]."""
    methane, nitrous_oxide = bin_gases_kg_co2e_per_kg(factors)
    return (methane + nitrous_oxide) * KG_PER_T


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

    Shape (1 + draws,) [kg CO2-e].
    """
    plastic = (1.0 - recycled_share) * factors["bin_plastic_virgin_kg_co2e_per_kg"]
    plastic = plastic + recycled_share * factors["bin_plastic_recycled_kg_co2e_per_kg"]
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
