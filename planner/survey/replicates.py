"""Replicate weights by the rescaled bootstrap."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from planner.errors import EstimateError

if TYPE_CHECKING:
    from numpy.typing import NDArray

LEAST_UNITS = 2
"""Fewest units in a stratum from which a variance can be taken."""


def rao_wu_multipliers(
    stratum: NDArray[np.int64],
    sampling_share: NDArray[np.float64],
    draws_count: int,
    rng: np.random.Generator,
) -> NDArray[np.float64]:
    """Multipliers that turn full-sample weights into bootstrap weights.

    In each stratum n - 1 units are drawn with replacement and the weights rescaled, so
    that the variance over replicates of a total equals, in expectation, the design
    variance of stratified simple random sampling without replacement.

    Parameters
    ----------
    stratum
        Shape (n,): stratum of each unit, numbered from 0.
    sampling_share
        Shape (strata,): share of each stratum's population in the sample, 0 to 1.
    draws_count
        Replicates.
    rng
        Generator of the draws.

    Returns
    -------
    ndarray
        Shape (1 + draws_count, n). Row 0 is all ones.

    Raises
    ------
    EstimateError
        A stratum has fewer than two units.

    References
    ----------
    Rao, J.N.K. and Wu, C.F.J. (1988), Journal of the American Statistical Association 83,
    231-241. Rao, Wu and Yue (1992), Survey Methodology 18, 209-217.

    Examples
    --------
    >>> rng = np.random.default_rng(1)
    >>> rao_wu_multipliers(np.array([0, 0]), np.array([1.0]), 3, rng).tolist()
    [[1.0, 1.0], [1.0, 1.0], [1.0, 1.0], [1.0, 1.0]]
    """
    sizes = np.bincount(stratum, minlength=sampling_share.size)
    if np.any((sizes > 0) & (sizes < LEAST_UNITS)):
        message = "a stratum has one answer only; no variance can be taken from it"
        raise EstimateError(message)
    multipliers = np.ones((1 + draws_count, stratum.size))
    for code in np.flatnonzero(sizes):
        members = np.flatnonzero(stratum == code)
        n = members.size
        drawn = rng.multinomial(n - 1, np.full(n, 1.0 / n), size=draws_count)
        multipliers[1:, members] = rescaled(drawn, float(sampling_share[code]))
    return multipliers


def rescaled(times_drawn: NDArray[np.int64], sampling_share: float) -> NDArray[np.float64]:
    """Multipliers of one stratum from the times each unit was drawn in n - 1 draws.

    Parameters
    ----------
    times_drawn
        Shape (replicates, n), each row adding up to n - 1.
    sampling_share
        Share of the stratum's population in the sample, 0 to 1.

    Returns
    -------
    ndarray
        Shape (replicates, n).

    Notes
    -----
    ``1 - lambda + lambda n / (n - 1) r`` with ``lambda = sqrt(1 - f)``: see
    `rao_wu_multipliers`.

    Examples
    --------
    >>> rescaled(np.array([[2, 0, 0]]), 0.0).tolist()
    [[3.0, 0.0, 0.0]]
    """
    n = times_drawn.shape[1]
    shrink = np.sqrt(1.0 - sampling_share)
    return np.asarray(1.0 - shrink + shrink * n / (n - 1) * times_drawn)
