"""Payback: how many kilograms of scraps repay what giving a bin emits."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from planner.units import KG_PER_T

Floats = NDArray[np.float64]

INTERVAL_PERCENT = (2.5, 97.5)


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
