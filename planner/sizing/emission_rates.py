"""Emissions that a plan's tonnes and bins avoid and cause, by draw."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from planner.emissions import (
    bin_gases_kg_co2e_per_t,
    bin_making_kg_co2e,
    draw_emission_factors,
    methane_avoided_kg_co2e_per_t,
)

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from planner.factors import FactorTable
    from planner.program import Program


@dataclass(frozen=True)
class EmissionRates:
    """Emissions over 100 years for a tonne and for a bin; all (1 + draws_count, ...).

    Parameters
    ----------
    avoided_kg_co2e_per_t
        Landfill methane that a tonne kept out of landfill avoids [kg CO2-e/t].
    caused_kg_co2e_per_t
        Gases of the bins for a tonne fed [kg CO2-e/t].
    making_kg_co2e
        Shape (1 + draws_count, models): making and end of one bin, its bedding, worms, freight
        and the household's trip [kg CO2-e].
    """

    avoided_kg_co2e_per_t: NDArray[np.float64]
    caused_kg_co2e_per_t: NDArray[np.float64]
    making_kg_co2e: NDArray[np.float64]

    def ranked(self, rank: NDArray[np.float64]) -> EmissionRates:
        """Take draws by their rank, so that one number from 0 to 1 moves them all together.

        Draws are put in the order of the methane avoided; the central draw stays first.

        Parameters
        ----------
        rank
            Shape (1 + n,), between 0 and 1; the first is that of the central draw.
        """
        chosen = ranked_rows(self.avoided_kg_co2e_per_t, rank)
        return EmissionRates(
            self.avoided_kg_co2e_per_t[chosen],
            self.caused_kg_co2e_per_t[chosen],
            self.making_kg_co2e[chosen],
        )


def emission_rates(
    program: Program, table: FactorTable, draws_count: int, bedding_kg: float, worms_kg: float
) -> EmissionRates:
    """Draw what the program's landfill, method and bins call for.

    Parameters
    ----------
    program, table
        The program file's choices, and the published factors.
    draws_count
        Draws beside the central one.
    bedding_kg, worms_kg
        Given with a bin [kg].

    Raises
    ------
    FactorError
        The tables have no row for a choice of the program.
    """
    factors = draw_emission_factors(program, table, draws_count, program.method.seed)
    methane = methane_avoided_kg_co2e_per_t(factors)
    making = [
        bin_making_kg_co2e(
            factors, model.plastic_kg, model.plastic_recycled_share, bedding_kg, worms_kg
        )
        for model in program.bin_models
    ]
    return EmissionRates(methane, bin_gases_kg_co2e_per_t(factors), np.stack(making, axis=1))


def ranked_rows(order_by: NDArray[np.float64], rank: NDArray[np.float64]) -> NDArray[np.int64]:
    """Rows of draws by their rank; row 0, the central one, comes first and stays.

    Parameters
    ----------
    order_by
        Shape (1 + draws,): what puts the draws in order.
    rank
        Shape (1 + n,): between 0 and 1.

    Examples
    --------
    >>> ranked_rows(np.array([9.0, 3.0, 1.0, 2.0]), np.array([0.5, 0.0, 0.99])).tolist()
    [0, 2, 1]
    """
    ordered = 1 + np.argsort(order_by[1:], kind="stable")
    if ordered.size == 0:
        return np.zeros(rank.size, dtype=np.int64)
    place = np.minimum((rank * ordered.size).astype(np.int64), ordered.size - 1)
    rows = ordered[place]
    rows[0] = 0
    return np.asarray(rows)
