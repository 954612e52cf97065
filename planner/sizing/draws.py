"""Draws of every uncertain number at once, by a copula, and of the emissions of a plan."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import scipy

from planner.arrays import Integers, Numbers
from planner.emissions.activity import bin_gases_kg_co2e_per_t, bin_making_kg_co2e
from planner.emissions.drawn import draw_emission_factors
from planner.emissions.timeline import methane_avoided_kg_co2e_per_t
from planner.errors import ProgramError
from planner.factors.draws import sobol_percentiles
from planner.messages import say

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from planner.factors import FactorTable
    from planner.program import Program
    from planner.sizing.beliefs import Belief


Draws = dict[str, Numbers]

LEAST_EIGENVALUE = 1e-10


def correlated(percentiles: Numbers, correlation: Numbers) -> Numbers:
    """Make independent percentiles correlated by a Gaussian copula, each still even.

    Parameters
    ----------
    percentiles
        Shape (draws, inputs).
    correlation
        Shape (inputs, inputs): correlation of the normal numbers behind them.

    Notes
    -----
    ``Φ(L Φ⁻¹(u))`` with L the Cholesky factor of the correlation. A rank correlation ρ_S
    wants ``2 sin(π ρ_S / 6)`` between the normal numbers.

    References
    ----------
    Nelsen, R. B. (2006), An Introduction to Copulas, 2nd ed., Springer, chapter 5.
    """
    normal = scipy.stats.norm.ppf(percentiles)
    return np.asarray(scipy.stats.norm.cdf(normal @ np.linalg.cholesky(correlation).T))


def normal_correlation(rank_correlation: float) -> float:
    """Correlation of normal numbers that have this rank correlation.

    Examples
    --------
    >>> normal_correlation(1.0), normal_correlation(0.0)
    (1.0, 0.0)
    """
    return float(2.0 * np.sin(np.pi * rank_correlation / 6.0)) if rank_correlation < 1.0 else 1.0


def correlation_matrix(names: Sequence[str], pairs: Mapping[tuple[str, str], float]) -> Numbers:
    """Arrange rank correlations of named inputs as those of the normal numbers behind them.

    Pairs of which an input is not among the names are passed over.

    Raises
    ------
    ProgramError
        The correlations cannot all hold together.
    """
    place = {name: index for index, name in enumerate(names)}
    matrix = np.eye(len(names))
    for (first, second), rank in pairs.items():
        if first in place and second in place:
            matrix[place[first], place[second]] = normal_correlation(rank)
            matrix[place[second], place[first]] = normal_correlation(rank)
    if np.linalg.eigvalsh(matrix).min() < LEAST_EIGENVALUE:
        raise ProgramError(say("plan.fail.correlations"))
    return matrix


def draw_beliefs(
    beliefs: Sequence[Belief],
    pairs: Mapping[tuple[str, str], float],
    draws_count: int,
    seed: int,
) -> Draws:
    """Draw every belief, correlated as stated.

    Returns
    -------
    dict
        For each name an array of shape (1 + draws_count,); index 0 is the central value.
    """
    uncertain = [belief for belief in beliefs if belief.low < belief.high]
    matrix = correlation_matrix([belief.name for belief in uncertain], pairs)
    points = sobol_percentiles(len(uncertain), draws_count, seed)
    percentiles = dict(zip((b.name for b in uncertain), correlated(points, matrix).T, strict=True))
    fixed = np.full(draws_count, 0.5)
    return {
        belief.name: np.concatenate(
            [[belief.value], belief.quantile(percentiles.get(belief.name, fixed))]
        )
        for belief in beliefs
    }


@dataclass(frozen=True)
class EmissionRates:
    """Emissions over 100 years for a tonne and for a bin; all (1 + draws_count, ...)."""

    # landfill methane that a tonne kept out of landfill avoids [kg CO2-e/t]
    avoided_kg_co2e_per_t: Numbers
    bin_gases_kg_co2e_per_t: Numbers  # gases of the bins for a tonne fed [kg CO2-e/t]
    # shape (1 + draws_count, models): making and end of one bin, its bedding, worms, freight and
    # the household's trip [kg CO2-e]
    making_kg_co2e: Numbers

    def rows(self, chosen: Integers | slice) -> EmissionRates:
        """Take some of the draws."""
        return EmissionRates(
            self.avoided_kg_co2e_per_t[chosen],
            self.bin_gases_kg_co2e_per_t[chosen],
            self.making_kg_co2e[chosen],
        )


def emission_rates(
    program: Program, table: FactorTable, draws_count: int, bedding_kg: float, worms_kg: float
) -> EmissionRates:
    """Draw what the program's landfill, method and bins call for.

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


def ranked_rows(order_by: Numbers, rank: Numbers) -> Integers:
    """Rows of draws by their rank; row 0, the central one, comes first and stays.

    One number from 0 to 1 then moves all that is drawn together.

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
    place = np.minimum((rank * ordered.size).astype(np.int64), ordered.size - 1)
    rows = ordered[place]
    rows[0] = 0
    return np.asarray(rows)
