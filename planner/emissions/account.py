"""Emissions that scraps kept out of landfill avoid, on three bases that are never summed.

Biogenic carbon dioxide is not counted, on either side. Nothing here is an offset or a
credit, nor does it say that worm bins emit less than other composting.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from planner.emissions.bins import bin_methane_kg, bin_nitrous_oxide_kg
from planner.emissions.landfill import methane_between_kg
from planner.units import KG_PER_T, MONTHS_PER_YEAR

if TYPE_CHECKING:
    from planner.emissions.choice import EmissionFactors

Floats = NDArray[np.float64]

HORIZON_YEARS = 100
"""Years for which the reporting year's scraps are followed on the long basis."""

HORIZON_MONTHS = HORIZON_YEARS * MONTHS_PER_YEAR


@dataclass(frozen=True)
class Basis:
    """Emissions on one basis, each of shape (1 + draws,) [t CO2-e]."""

    methane_avoided_t_co2e: Floats
    bin_methane_t_co2e: Floats
    bin_nitrous_oxide_t_co2e: Floats

    @property
    def bin_gases_t_co2e(self) -> Floats:
        """Methane and nitrous oxide of the bins, to be taken off."""
        return self.bin_methane_t_co2e + self.bin_nitrous_oxide_t_co2e

    @property
    def net_t_co2e(self) -> Floats:
        """Landfill methane avoided less the bins' gases."""
        return self.methane_avoided_t_co2e - self.bin_gases_t_co2e


@dataclass(frozen=True)
class EmissionsAvoided:
    """Three bases, which must not be added up: each counts some of the same methane.

    Parameters
    ----------
    in_year
        Methane that all scraps kept out so far would have sent up within the reporting
        year, less the bins' gases of that year.
    to_date
        The same from the program's first month to the end of the reporting year.
    over_100_years
        Methane that the scraps kept out in the reporting year would have sent up within
        100 years of their deposit, less the bins' gases of that year.
    methane_by_year_t_co2e
        The methane of `over_100_years` by year, index 0 the reporting year, shape
        (1 + draws, 101) [t CO2-e]. Its sum over years is that of the basis.
    """

    in_year: Basis
    to_date: Basis
    over_100_years: Basis
    methane_by_year_t_co2e: Floats


def emissions_avoided(
    kept_out_kg: Floats, fed_kg: Floats, factors: EmissionFactors, year_months: slice
) -> EmissionsAvoided:
    """Account for the emissions avoided by the end of a reporting year.

    Parameters
    ----------
    kept_out_kg
        Wet scraps kept out of landfill by month, from the program's first month to the last
        of the reporting year, shape (1 + draws, months) [kg].
    fed_kg
        Wet scraps fed to bins in the same months, same shape [kg]; the bins' gases come
        from all of them, whether or not they would have been landfilled.
    factors
        The program's factors, drawn as often.
    year_months
        Columns of the reporting year; its stop is the last column.

    Returns
    -------
    EmissionsAvoided
        Arrays with draws on their first axis, index 0 the central estimate.

    Raises
    ------
    ValueError
        The shapes do not agree, or `year_months` does not end with the months.

    Notes
    -----
    Methane is counted net of recovery and of oxidation in the cover.

    References
    ----------
    ipcc_2006_v5_ch3, equations 3.1 to 3.6; ipcc_2006_v5_ch4, equations 4.1 and 4.2.
    """
    start, stop = _checked(kept_out_kg, fed_kg, factors, year_months)
    potential_kg = kept_out_kg * factors.methane_potential_kg_per_kg[:, np.newaxis]
    in_year_kg = methane_between_kg(potential_kg, factors.decay, start, stop)
    to_date_kg = methane_between_kg(potential_kg, factors.decay, 0, stop)
    by_year_kg = _methane_by_year_kg(potential_kg[:, start:stop], factors)
    fed_in_year_kg = fed_kg[:, start:stop].sum(axis=1)
    return EmissionsAvoided(
        in_year=_basis(in_year_kg, fed_in_year_kg, factors),
        to_date=_basis(to_date_kg, fed_kg.sum(axis=1), factors),
        over_100_years=_basis(by_year_kg.sum(axis=1), fed_in_year_kg, factors),
        methane_by_year_t_co2e=by_year_kg * factors.methane_gwp100[:, np.newaxis] / KG_PER_T,
    )


def methane_avoided_kg_co2e_per_t(factors: EmissionFactors) -> Floats:
    """Landfill methane that a tonne kept out avoids within 100 years of its deposit.

    Parameters
    ----------
    factors
        The program's factors.

    Returns
    -------
    ndarray
        Shape (1 + draws,) [kg CO2-e per t wet].
    """
    emitted_share = factors.decay.emitted_share(HORIZON_MONTHS)
    methane_kg = KG_PER_T * factors.methane_potential_kg_per_kg * emitted_share
    return methane_kg * factors.methane_gwp100


def bin_gases_kg_co2e_per_t(factors: EmissionFactors) -> Floats:
    """Methane and nitrous oxide of the bins for a tonne fed.

    Parameters
    ----------
    factors
        The program's factors.

    Returns
    -------
    ndarray
        Shape (1 + draws,) [kg CO2-e per t wet].
    """
    per_t = _basis(np.zeros_like(factors.methane_gwp100), np.asarray(KG_PER_T), factors)
    return per_t.bin_gases_t_co2e * KG_PER_T


def _checked(
    kept_out_kg: Floats, fed_kg: Floats, factors: EmissionFactors, year_months: slice
) -> tuple[int, int]:
    draws, months = kept_out_kg.shape
    start, stop, step = year_months.indices(months)
    if fed_kg.shape != kept_out_kg.shape or factors.methane_gwp100.shape != (draws,):
        message = (
            f"found kept_out_kg {kept_out_kg.shape}, fed_kg {fed_kg.shape}, factors "
            f"{factors.methane_gwp100.shape}, expected the same draws and months"
        )
        raise ValueError(message)
    if stop != months or step != 1 or start >= stop:
        message = f"year_months: found {year_months}, expected the last of {months} months"
        raise ValueError(message)
    return start, stop


def _basis(methane_kg: Floats, fed_kg: Floats, factors: EmissionFactors) -> Basis:
    bin_methane = bin_methane_kg(fed_kg, factors.compost_methane_g_per_kg)
    bin_nitrous_oxide = bin_nitrous_oxide_kg(fed_kg, factors.compost_nitrous_oxide_g_per_kg)
    return Basis(
        methane_kg * factors.methane_gwp100 / KG_PER_T,
        bin_methane * factors.methane_gwp100 / KG_PER_T,
        bin_nitrous_oxide * factors.nitrous_oxide_gwp100 / KG_PER_T,
    )


def _methane_by_year_kg(potential_kg: Floats, factors: EmissionFactors) -> Floats:
    """Methane of one year's deposits in that year and each of the hundred after it."""
    months_count = potential_kg.shape[1]
    deposit_month = np.arange(months_count, dtype=np.float64)[:, np.newaxis]
    year_ends = months_count + MONTHS_PER_YEAR * np.arange(-1.0, HORIZON_YEARS + 1)
    year_ends[0] = 0.0
    ages = np.clip(year_ends - deposit_month, 0.0, HORIZON_MONTHS)
    emitted_share = factors.decay.emitted_share(ages)
    emitted_kg = np.einsum("dm,dmy->dy", potential_kg, emitted_share)
    # what is emitted never falls with age; the last bits of the sums may
    return np.asarray(np.maximum(np.diff(emitted_kg, axis=1), 0.0))
