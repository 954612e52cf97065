"""Drivers: the share of a result's variance that each uncertain input brings."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from planner.sizing.draws import sobol_percentiles

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence

    from numpy.typing import NDArray

    Function = Callable[[NDArray[np.float64]], NDArray[np.float64]]


@dataclass(frozen=True)
class VarianceShares:
    """Shares of variance of each result by driver, each of shape (drivers, results).

    Parameters
    ----------
    drivers
        Names, in the order of the first axis.
    first_order
        What would go if the driver alone were known.
    total
        What would stay if all others were known: with its part in interactions.
    variance
        Shape (results,).
    """

    drivers: tuple[str, ...]
    first_order: NDArray[np.float64]
    total: NDArray[np.float64]
    variance: NDArray[np.float64]


def variance_shares(
    function: Function,
    members: Mapping[str, Sequence[int]],
    draws_count: int,
    seed: int,
) -> VarianceShares:
    """Estimate Sobol indices of groups of independent inputs.

    Parameters
    ----------
    function
        Takes percentiles of shape (draws, inputs), gives results of shape (draws, results).
    members
        For each driver the columns that are varied together; every column in one of them.
    draws_count
        Base sample, a power of two; the function is called for (drivers + 2) times as many.
    seed
        Fixes the scrambling of the Sobol sequence.

    Notes
    -----
    With A and B two halves of one Sobol sequence of twice the dimensions, and AB_i the
    columns of driver i from B in A: ``S_i = mean(f_B (f_AB_i − f_A)) / V`` and
    ``T_i = mean((f_A − f_AB_i)²) / 2V``. They hold for independent inputs only, so the
    stated correlations are left out here.

    References
    ----------
    Saltelli, A. et al. (2010), Variance based sensitivity analysis of model output, Computer
    Physics Communications 181, 259-270 (first order, table 2 b). Jansen, M. J. W. (1999),
    Computer Physics Communications 117, 35-43 (total).
    """
    inputs = sum(len(columns) for columns in members.values())
    both = sobol_percentiles(2 * inputs, draws_count, seed)
    first, second = both[:, :inputs], both[:, inputs:]
    of_first, of_second = function(first), function(second)
    centre = np.concatenate([of_first, of_second]).mean(axis=0)
    of_first, of_second = of_first - centre, of_second - centre
    variance = np.concatenate([of_first, of_second]).var(axis=0)
    alone, total = [], []
    for columns in members.values():
        mixed = first.copy()
        mixed[:, list(columns)] = second[:, list(columns)]
        of_mixed = function(mixed) - centre
        alone.append((of_second * (of_mixed - of_first)).mean(axis=0))
        total.append(((of_first - of_mixed) ** 2).mean(axis=0) / 2.0)
    known = np.where(variance > 0.0, variance, 1.0)
    return VarianceShares(
        tuple(members), np.stack(alone) / known, np.stack(total) / known, variance
    )
