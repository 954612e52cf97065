"""Where the spread of a result comes from: first-order shares of its variance."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from numpy.polynomial import legendre
from numpy.typing import NDArray

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence

    Picks = Mapping[str, NDArray[np.int64]]

Floats = NDArray[np.float64]

REDRAWS_COUNT = 16
"""Redrawn results on each side whose means are set against each other."""

DEGREE = 3
"""Degree of the polynomial by which a result may follow one factor."""


def first_order_shares(
    result_of: Callable[[Picks], Floats],
    sources: Sequence[str],
    draws_count: int,
    rng: np.random.Generator,
    redraws_count: int = REDRAWS_COUNT,
    of: Sequence[str] | None = None,
) -> dict[str, float]:
    """Share of the variance that goes with each source alone, by redrawing the others.

    Two results that share one source's draws and nothing else covary by the variance of
    the mean given that source. The other sources' rows are put in random orders, again and
    again; each side is the mean over several orders, so that chance adds little.

    Parameters
    ----------
    result_of
        Gives the result when each source takes the rows named for it, shape (draws,).
    sources
        Names of independent sources; each may be many numbers, as a whole survey.
    draws_count
        Rows of every source.
    rng
        Makes the orders.
    redraws_count
        Orders on each side.
    of
        Sources whose shares are wanted; all unless said.

    Returns
    -------
    dict
        First-order index of each source wanted, not held within 0 to 1; their sum is below 1 by
        what sources do only together. All 0 where the result does not vary.

    Notes
    -----
    S_i = Cov(Y, Y') / Var(Y), Y and Y' alike in source i alone; means over redraws of either
    have the same covariance.

    References
    ----------
    Sobol, I. M. (1993) Sensitivity estimates for nonlinear mathematical models,
    Mathematical Modelling and Computational Experiments 1:407-414; Janon et al. (2014)
    Asymptotic normality and efficiency of two Sobol index estimators, ESAIM: Probability
    and Statistics 18:342-364 (both means and both variances pooled). From memory.
    """
    rows = np.arange(draws_count)

    def redrawn(kept: str) -> Floats:
        return result_of(
            {name: rows if name == kept else rng.permutation(draws_count) for name in sources}
        )

    shares = {}
    for source in sources if of is None else of:
        first, second = (
            np.stack([redrawn(source) for _ in range(redraws_count)]) for _ in range(2)
        )
        variance = float(np.concatenate([first, second]).var())
        sides = first.mean(axis=0), second.mean(axis=0)
        covariance = float(np.cov(*sides)[0, 1])
        shares[source] = covariance / variance if variance > 0.0 else 0.0
    return shares


def share_of_one_number(result: Floats, factor: Floats) -> float:
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
