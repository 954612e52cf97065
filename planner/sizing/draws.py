"""Draws of every uncertain number at once: a scrambled Sobol sequence through a copula."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from scipy import stats

from planner.errors import ProgramError
from planner.factors.draws import sobol_percentiles

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from numpy.typing import NDArray

    from planner.sizing.beliefs import Belief

Draws = dict[str, "NDArray[np.float64]"]

LEAST_EIGENVALUE = 1e-10


def correlated(
    percentiles: NDArray[np.float64], correlation: NDArray[np.float64]
) -> NDArray[np.float64]:
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
    normal = stats.norm.ppf(percentiles)
    return np.asarray(stats.norm.cdf(normal @ np.linalg.cholesky(correlation).T))


def normal_correlation(rank_correlation: float) -> float:
    """Correlation of normal numbers that have this rank correlation.

    Examples
    --------
    >>> normal_correlation(1.0), normal_correlation(0.0)
    (1.0, 0.0)
    """
    return float(2.0 * np.sin(np.pi * rank_correlation / 6.0)) if rank_correlation < 1.0 else 1.0


def correlation_matrix(
    names: Sequence[str], pairs: Mapping[tuple[str, str], float]
) -> NDArray[np.float64]:
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
        message = (
            "program.toml, sizing.correlations: these cannot all hold together. If A goes with "
            "B and B with C, then A goes with C: make the correlations smaller, or state all."
        )
        raise ProgramError(message)
    return matrix


def draw_beliefs(
    beliefs: Sequence[Belief],
    pairs: Mapping[tuple[str, str], float],
    draws_count: int,
    seed: int,
) -> Draws:
    """Draw every belief, correlated as stated.

    Parameters
    ----------
    beliefs
        What is uncertain; a fixed one stays at its value.
    pairs
        Rank correlation of pairs of names.
    draws_count, seed
        As for `planner.factors.draws.sobol_percentiles`.

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
