"""Where the spread of a result comes from: the share of its variance that each source brings."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import scipy
from numpy.polynomial import legendre

from planner.arrays import Numbers
from planner.factors.draws import sobol_percentiles

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence

    Function = Callable[[Numbers], Numbers]


DEGREE = 3
"""Degree of the polynomial by which a result may follow one factor."""


@dataclass(frozen=True)
class VarianceShares:
    """Shares of variance of each result by driver, each of shape (drivers, results)."""

    drivers: tuple[str, ...]  # names, in the order of the first axis
    first_order: Numbers  # what would go if the driver alone were known
    # what would stay if all others were known: with its part in interactions
    total: Numbers
    variance: Numbers  # shape (results,)


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

    Notes
    -----
    With A and B the halves of one Sobol sequence of twice the dimensions, and AB_i the
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
    mixed = []
    for columns in members.values():
        percentiles = first.copy()
        percentiles[:, list(columns)] = second[:, list(columns)]
        mixed.append(function(percentiles).T)
    of_first, of_second = function(first).T, function(second).T
    # the library varies single inputs; told the results, it takes groups of them as well
    results = {"f_A": of_first, "f_B": of_second, "f_AB": np.stack(mixed)}
    indices = scipy.stats.sobol_indices(func=results, n=draws_count)
    # of a single result the library drops the axis of results
    first_order, total = (
        of_results.reshape(len(of_first), len(mixed)).T
        for of_results in (indices.first_order, indices.total_order)
    )
    variance = np.concatenate([of_first, of_second], axis=1).var(axis=1)
    return VarianceShares(tuple(members), first_order, total, variance)


def share_of_one_number(result: Numbers, factor: Numbers) -> float:
    """Share of a result's variance that follows one factor, from given draws alone.

    The result is fitted by polynomials in the factor's percentile, which are orthogonal
    over even draws; the share is that of the fit, less what chance alone would fit.

    Parameters
    ----------
    result, factor
        Shape (draws,), the factor independent of all else behind the result.

    Returns
    -------
    float
        Adjusted coefficient of determination, not below 0; 0 where either does not vary.

    References
    ----------
    Sudret, B. (2008) Global sensitivity analysis using polynomial chaos expansions,
    Reliability Engineering & System Safety 93:964-979 (from memory).
    """
    spread = float(result.var())
    if spread == 0.0 or float(np.ptp(factor)) == 0.0:
        return 0.0
    ranks = np.argsort(np.argsort(factor, kind="stable"), kind="stable")
    terms = legendre.legvander((2.0 * ranks + 1.0) / result.size - 1.0, DEGREE)
    fitted = terms @ np.linalg.lstsq(terms, result, rcond=None)[0]
    left = float(((result - fitted) ** 2).sum()) / (result.size - DEGREE - 1)
    return max(0.0, 1.0 - left / (spread * result.size / (result.size - 1)))
