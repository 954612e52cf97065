"""What landfills would have sent up of the scraps kept out; the net by year; a bin's payback."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from planner.arrays import Integers, Numbers, quotient
from planner.emissions.activity import bin_gases_kg_co2e_per_t, supply_lines
from planner.emissions.landfill import methane_between_kg
from planner.figures import INTERVAL_PERCENT
from planner.units import KG_PER_T, MONTHS_PER_YEAR

if TYPE_CHECKING:
    from planner.emissions.activity import Activity, Supplies
    from planner.emissions.drawn import EmissionFactors, Landfill


HORIZON_YEARS = 100
"""Years for which the reporting year's scraps are followed on the long basis."""

HORIZON_MONTHS = HORIZON_YEARS * MONTHS_PER_YEAR


def methane_kg(waste_kg: Numbers, factors: EmissionFactors, basis: str, year_start: int) -> Numbers:
    """Methane on one basis, of all the program's landfills together.

    Parameters
    ----------
    waste_kg
        Scraps by month, shape (..., 1 + draws, months) [kg].
    basis
        One of `planner.emissions.activity.BASES`.
    year_start
        First column of the reporting year.

    Returns
    -------
    ndarray
        Shape (..., 1 + draws) [kg CH4].
    """
    each = [landfill_methane_kg(waste_kg, one, basis, year_start) for one in factors.landfills]
    return np.asarray(np.sum(each, axis=0))


def landfill_methane_kg(
    waste_kg: Numbers, landfill: Landfill, basis: str, year_start: int
) -> Numbers:
    """Methane of the waste's part that goes to one landfill, shape (..., 1 + draws) [kg CH4]."""
    share = landfill.methane_kg_per_kg_landfilled
    stop = waste_kg.shape[-1]
    if basis == "100_years":
        # each month's scraps are followed for as long, so it does not matter in which they came
        year_kg = waste_kg[..., year_start:].sum(axis=-1)
        return np.asarray(share * year_kg * landfill.decay.emitted_share(HORIZON_MONTHS))
    # both count all deposits so far: landfilled scraps of earlier years rot in this one too
    start = year_start if basis == "in_year" else 0
    between = methane_between_kg(waste_kg, landfill.decay, (start, stop))
    return np.asarray(share * between[..., 0])


def by_month_kg(activity: Activity, factors: EmissionFactors) -> Numbers:
    """Methane of each month of the reporting year, of all scraps kept out so far.

    Shape (1 + draws, months of the year) [kg CH4]; its sum is the basis in the year.
    """
    months = np.arange(activity.year_start, activity.kept_out_kg.shape[1] + 1)
    return between_kg(activity.kept_out_kg, factors, months)


def by_year_kg(activity: Activity, factors: EmissionFactors) -> Numbers:
    """Methane of the reporting year's scraps in that year and each of the hundred after it.

    Each month's scraps are followed for a hundred years of their own.

    Returns
    -------
    ndarray
        Shape (1 + draws, 101) [kg CH4].
    """
    year_kg = activity.kept_out_kg[:, activity.year_start :]
    year_ends = year_kg.shape[1] + MONTHS_PER_YEAR * np.arange(HORIZON_YEARS + 1)
    return between_kg(year_kg, factors, np.array([0, *year_ends]), HORIZON_MONTHS)


def between_kg(
    waste_kg: Numbers,
    factors: EmissionFactors,
    moments_months: Integers,
    longest_age_months: float = np.inf,
) -> Numbers:
    """Methane between moments of all landfills together.

    Parameters
    ----------
    waste_kg
        Scraps by month, shape (1 + draws, months) [kg].
    moments_months
        Moments that do not fall, from the start of the first month [months].
    longest_age_months
        Age up to which each month's scraps are followed [months].

    Returns
    -------
    ndarray
        Shape (1 + draws, moments - 1) [kg CH4].
    """
    total = np.zeros((factors.size, moments_months.size - 1))
    for one in factors.landfills:
        between = methane_between_kg(waste_kg, one.decay, moments_months, longest_age_months)
        total += one.methane_kg_per_kg_landfilled[:, np.newaxis] * between
    return total


def methane_avoided_kg_co2e_per_t(factors: EmissionFactors) -> Numbers:
    """Landfill methane that a tonne kept out avoids within 100 years of its deposit.

    Shape (1 + draws,) [kg CO2-e per t wet].
    """
    tonne = np.full((factors.size, 1), KG_PER_T)
    return methane_kg(tonne, factors, "100_years", 0) * factors["methane_gwp100"]


def net_by_year_t_co2e(
    kept_out_kg: Numbers,
    fed_kg: Numbers,
    supplies: Supplies,
    factors: EmissionFactors,
    year_starts: Integers,
) -> Numbers:
    """Net emissions avoided in each year of the bins' lives and the hundred after them.

    Landfill methane counts in the year in which it would have come, each month's scraps
    followed for a hundred years; the bins' gases in the year of the scraps; making and freight
    in the year of acquisition.

    Parameters
    ----------
    kept_out_kg, fed_kg
        Scraps by month from the first on, shape (1 + draws, months) [kg].
    year_starts
        Shape (years,): first column of each reporting year, 0 for the first.

    Returns
    -------
    ndarray
        Shape (1 + draws, years + 100) [t CO2-e].
    """
    end = kept_out_kg.shape[1]
    ends = end + MONTHS_PER_YEAR * np.arange(HORIZON_YEARS + 1)
    moments = np.concatenate([year_starts, ends])
    methane = between_kg(kept_out_kg, factors, moments, HORIZON_MONTHS)
    net = methane * factors["methane_gwp100"][:, np.newaxis]
    fed = np.add.reduceat(fed_kg, year_starts, axis=1)
    years = year_starts.size
    net[:, :years] -= fed / KG_PER_T * bin_gases_kg_co2e_per_t(factors)[:, np.newaxis]
    for year in range(supplies.bedding_kg.size):
        made = supply_lines(_through(supplies, year), factors, "in_year")
        net[:, year] -= np.sum(list(made.values()), axis=0)
    return np.asarray(net / KG_PER_T)


def _through(supplies: Supplies, year: int) -> Supplies:
    """Take what was given out up to a year, which is then the last."""
    years = slice(0, year + 1)
    return replace(
        supplies,
        bins_given=supplies.bins_given[:, years],
        bins_made=supplies.bins_made[:, years],
        bedding_kg=supplies.bedding_kg[years],
        worms_kg=supplies.worms_kg[years],
    )


@dataclass(frozen=True)
class Payback:
    """Scraps fed until a bin has repaid its own making."""

    # central value and 95% interval; infinity where scraps repay nothing [kg]
    fed_kg: tuple[float, float, float]
    never_share: float  # share of draws in which scraps repay nothing


def payback(making_kg_co2e: Numbers, net_avoided_kg_co2e_per_t_fed: Numbers) -> Payback:
    """Work out the payback of one bin.

    Parameters
    ----------
    making_kg_co2e
        All that giving the bin emits, shape (1 + draws,) [kg CO2-e].
    net_avoided_kg_co2e_per_t_fed
        Landfill methane avoided less the bin's gases, for a tonne fed, same
        shape [kg CO2-e per t].

    Returns
    -------
    Payback
        Scraps that avoid nothing, or add, never repay: infinite, and counted in the
        interval as such.

    Examples
    --------
    >>> payback(np.array([10.0, 10.0, 10.0]), np.array([1000.0, 1000.0, 500.0])).fed_kg[0]
    10.0
    """
    making_kg_co2e_t = making_kg_co2e * KG_PER_T
    fed = quotient(making_kg_co2e_t, net_avoided_kg_co2e_per_t_fed, otherwise=np.inf)
    draws = fed[1:] if fed.size > 1 else fed
    low, high = np.percentile(draws, INTERVAL_PERCENT, method="higher")
    return Payback((float(fed[0]), float(low), float(high)), float(np.mean(draws == np.inf)))
