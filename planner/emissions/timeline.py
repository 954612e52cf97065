"""Emissions by the year in which they are avoided or caused, and when a bin is paid back."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from planner.emissions.landfilled import HORIZON_MONTHS, HORIZON_YEARS, between_kg
from planner.emissions.supply import bin_gases_kg_co2e_per_t, supply_lines
from planner.figures import INTERVAL_PERCENT
from planner.units import KG_PER_T, MONTHS_PER_YEAR

if TYPE_CHECKING:
    from planner.emissions.activity import Supplies
    from planner.emissions.drawn import EmissionFactors


Floats = NDArray[np.float64]


def net_by_year_t_co2e(
    kept_out_kg: Floats,
    fed_kg: Floats,
    supplies: Supplies,
    factors: EmissionFactors,
    year_starts: NDArray[np.int64],
) -> Floats:
    """Net emissions avoided in each year of the bins' lives and the hundred after them.

    Landfill methane counts in the year in which it would have come, each month's scraps
    followed for a hundred years; the bins' gases in the year of the scraps; making and freight
    in the year of acquisition.

    Parameters
    ----------
    kept_out_kg, fed_kg
        Scraps by month from the first on, shape (1 + draws, months) [kg].
    supplies
        What was given out, by reporting year from the first on.
    factors
        The program's factors.
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
    """Scraps fed until a bin has repaid its own making.

    Parameters
    ----------
    fed_kg
        Central value and 95% interval; infinity where scraps repay nothing [kg].
    never_share
        Share of draws in which scraps repay nothing.
    """

    fed_kg: tuple[float, float, float]
    never_share: float


def payback(making_kg_co2e: Floats, net_avoided_kg_co2e_per_t_fed: Floats) -> Payback:
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
    repays = net_avoided_kg_co2e_per_t_fed > 0.0
    fed = np.full(making_kg_co2e.shape, np.inf)
    np.divide(making_kg_co2e * KG_PER_T, net_avoided_kg_co2e_per_t_fed, out=fed, where=repays)
    draws = fed[1:] if fed.size > 1 else fed
    low, high = np.percentile(draws, INTERVAL_PERCENT, method="higher")
    return Payback((float(fed[0]), float(low), float(high)), float(np.mean(draws == np.inf)))
