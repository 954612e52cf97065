"""Rescaled bootstrap of totals for samples too large to hold a weight per replicate."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from typing import TYPE_CHECKING

import numpy as np

from planner.errors import EstimateError
from planner.survey.linearisation import LEAST_UNITS

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from planner.survey.linearisation import Design

    Numbers = NDArray[np.float64]

_BLOCK = 1 << 17
"""Units drawn at a time; what they need stays in the processor's own memory."""


def bootstrap_totals(
    z: Numbers, design: Design, draws_count: int, seed: np.random.SeedSequence, workers: int = 2
) -> Numbers:
    """Replicate totals of the rescaled bootstrap, made stratum by stratum.

    The replicates have the distribution of `rao_wu_multipliers` times z, whose rows are
    never held. Means and ratios are quotients of totals of the same replicate.

    Parameters
    ----------
    z
        Shape (n, k): weight times value.
    design
        How the rows were drawn; units are drawn again.
    draws_count
        Replicates.
    seed
        Every stratum has a stream of its own from it, so that the number of workers does
        not change the result.
    workers
        Threads.

    Returns
    -------
    ndarray
        Shape (1 + draws_count, k). Row 0 is the full sample.

    Raises
    ------
    EstimateError
        A stratum has one unit.

    References
    ----------
    Rao, J.N.K. and Wu, C.F.J. (1988), Journal of the American Statistical Association 83,
    231-241.

    Examples
    --------
    >>> from planner.survey.linearisation import Design
    >>> design = Design(np.array([0, 0]), np.array([1.0]))
    >>> bootstrap_totals(np.ones((2, 1)), design, 2, np.random.SeedSequence(1)).tolist()
    [[2.0], [2.0], [2.0]]
    """
    if np.any(design.units == 1):
        message = "a stratum has one unit; no variance can be taken from it"
        raise EstimateError(message)
    totals = np.column_stack([design.of_units(column) for column in z.T])
    order = np.argsort(design.unit_stratum, kind="stable")
    ends = np.cumsum(design.units)
    members = [
        np.ascontiguousarray(totals[order[end - n : end]])
        for end, n in zip(ends, design.units, strict=True)
    ]
    seeds = seed.spawn(len(members))
    with ThreadPoolExecutor(workers) as pool:
        parts = pool.map(
            _stratum_totals,
            members,
            design.sampling_share.tolist(),
            [draws_count] * len(members),
            seeds,
        )
        return np.asarray(sum(parts, start=np.zeros((1 + draws_count, z.shape[1]))))


def _stratum_totals(
    values: Numbers, sampling_share: float, draws_count: int, seed: np.random.SeedSequence
) -> Numbers:
    """Replicate totals of one stratum, shape (1 + draws_count, k)."""
    n, full = values.shape[0], values.sum(axis=0)
    replicates = np.tile(full, (1 + draws_count, 1))
    if n < LEAST_UNITS or sampling_share >= 1.0:
        return replicates
    rng = np.random.Generator(np.random.SFC64(seed))
    centred = values - full / n
    shrink = np.sqrt(1.0 - sampling_share)
    block = max(1, _BLOCK // n)
    for first in range(1, 1 + draws_count, block):
        last = min(first + block, 1 + draws_count)
        drawn = rng.integers(0, n, size=(last - first, n - 1))
        if last - first > 1:
            drawn += n * np.arange(last - first)[:, None]
        times = np.bincount(drawn.ravel(), minlength=n * (last - first))
        away = times.reshape(last - first, n).astype(float) @ centred
        replicates[first:last] += shrink * n / (n - 1) * away
    return replicates
