"""Replicate weights: a bootstrap that follows households over rounds."""

from __future__ import annotations

from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np
from scipy import special

from planner.errors import EstimateError

if TYPE_CHECKING:
    from numpy.typing import NDArray

LEAST_UNITS_FOR_GAMMA = 3
"""Fewest units for which gamma multipliers can carry the variance."""

LEAST_EXPONENTIAL, MOST_EXPONENTIAL, GRID_POINTS = 1e-9, 40.0, 4000
"""Grid of exponential quantiles; a double's probability ends below 37."""


def gamma_multipliers(
    uniforms: NDArray[np.float64],
    stratum: NDArray[np.int64],
    sampling_share: NDArray[np.float64],
    unit: NDArray[np.int64] | None = None,
) -> NDArray[np.float64]:
    """Multipliers made from each unit's own random numbers, the same in every round.

    In each stratum gamma numbers are divided by their mean, as in the Bayesian bootstrap,
    with the gamma's shape set so that the variance of a stratum mean over replicates is
    that of simple random sampling of units, s²/n. A unit asked in two rounds has high or
    low multipliers in both, so that what is pooled over rounds keeps its correlation.

    Parameters
    ----------
    uniforms
        Shape (draws_count, n): numbers between 0 and 1, a column a household; those of one
        unit are equal.
    stratum
        Shape (n,): stratum of each household, numbered from 0.
    sampling_share
        Shape (strata,): share of each stratum's population in the sample, 0 to 1.
    unit
        Shape (n,): what was drawn together, a cluster or else the household itself; every
        household is a unit unless said.

    Returns
    -------
    ndarray
        Shape (1 + draws_count, n), none negative. Row 0 is all ones; the mean over the
        units of a stratum is 1 in each row. All ones where nothing was left to chance, in
        a stratum whose population is in the sample.

    Raises
    ------
    EstimateError
        A stratum has fewer than three units and a part of its population out of sight.

    Notes
    -----
    For weights n g / sum(g) with g gamma of shape a, the variance of the mean is
    ``s_n² / (n a + 1)`` with ``s_n²`` over n; it is ``s² / n`` where ``a = (n - 2) / n``.

    References
    ----------
    Rubin, D.B. (1981), The Bayesian Bootstrap, Annals of Statistics 9, 130-134. Beaumont,
    J.-F. and Patak, Z. (2012), International Statistical Review 80, 127-148 (generalised
    bootstrap of survey weights).

    Examples
    --------
    >>> u = np.array([[0.2, 0.5, 0.9]])
    >>> rows = gamma_multipliers(u, np.array([0, 0, 0]), np.array([0.0]))
    >>> rows.shape, rows.mean(axis=1).round(12).tolist()
    ((2, 3), [1.0, 1.0])
    """
    units = np.arange(stratum.size) if unit is None else unit
    multipliers = np.ones((1 + uniforms.shape[0], stratum.size))
    if not uniforms.size:
        return multipliers
    for code in np.unique(stratum[sampling_share[stratum] < 1.0]):
        members = np.flatnonzero(stratum == code)
        _, first, place = np.unique(units[members], return_index=True, return_inverse=True)
        n = first.size
        if n < LEAST_UNITS_FOR_GAMMA:
            message = (
                f"a stratum has answers from {n} households or clusters; no variance can be "
                f"taken from fewer than {LEAST_UNITS_FOR_GAMMA}"
            )
            raise EstimateError(message)
        drawn = _gamma_quantiles((n - 2.0) / n, uniforms[:, members[first]])
        relative = (drawn / drawn.mean(axis=1, keepdims=True))[:, place]
        multipliers[1:, members] = 1.0 + np.sqrt(1.0 - sampling_share[code]) * (relative - 1.0)
    return multipliers


def _gamma_quantiles(shape: float, probability: NDArray[np.float64]) -> NDArray[np.float64]:
    """Gamma quantiles by interpolation, from exponential ones, to one part in 10^4.

    The gamma is near the exponential here, so that its quantile is a smooth function of the
    exponential's; interpolating that is fifty times faster than inverting the integral.
    """
    return np.asarray(np.interp(-np.log1p(-probability), *_quantiles_on_grid(shape)))


@lru_cache(maxsize=1024)
def _quantiles_on_grid(shape: float) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Exponential and gamma quantiles at the same probabilities.

    Strata of one size come up in round after round, and the inverse is what takes the time.
    """
    grid = np.concatenate([[0.0], np.geomspace(LEAST_EXPONENTIAL, MOST_EXPONENTIAL, GRID_POINTS)])
    low = grid < 1.0
    of_grid = np.empty_like(grid)
    of_grid[low] = special.gammaincinv(shape, -np.expm1(-grid[low]))
    of_grid[~low] = special.gammainccinv(shape, np.exp(-grid[~low]))
    return grid, of_grid
