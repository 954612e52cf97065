"""Draws of factors: quasi-random numbers through the inverse of each factor's shape."""

from __future__ import annotations

import hashlib
from typing import TYPE_CHECKING

import numpy as np
import scipy

from planner.arrays import Numbers
from planner.errors import FactorError

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from planner.factors.table import Factor

    Shape = Callable[[Numbers, float, float, float], Numbers]

STREAM_BYTES = 8
"""Length of the hash of a factor's id that, with the seed, begins its stream."""

SOBOL_BITS = 30
"""Digits of a Sobol point; half the last one is added so that no percentile is 0."""

TAIL_SHARE = 0.975
"""`high` of a normal or lognormal factor is this percentile, `low` its mirror."""


def draw_factors(
    factors: Sequence[Factor], draws_count: int, seed: int, own_seed: int | None = None
) -> dict[str, Numbers]:
    """Draw each factor from its stated shape.

    Each factor has a stream of its own, begun by the seed and a hash of its `factor_id`: a
    Sobol sequence in one dimension, scrambled and put in a random order. So one more factor
    leaves every other's draws as they are, the editions of one factor share their
    percentiles, and single percentiles are covered evenly as in a Latin hypercube.

    Parameters
    ----------
    factors
        Rows of the factor tables, no `factor_id` twice.
    seed
        Non-negative; the same seed gives the same draws.
    own_seed
        Seed of the council's own factors; that of all unless given. With it, councils that
        draw published factors alike do not draw alike what each measured for itself.

    Returns
    -------
    dict
        For each `factor_id` an array of shape (1 + draws_count,) in the factor's unit;
        index 0 is the factor's value, the rest its draws.

    Raises
    ------
    ValueError
        A `factor_id` stands twice, so that their streams would be one.
    FactorError
        A factor's shape is unknown or does not fit its limits.

    Notes
    -----
    Factors are independent of each other. A joint sequence would cover pairs more evenly,
    but each new factor would then move the others.

    References
    ----------
    Owen, A. B. (1998) Scrambling Sobol' and Niederreiter-Xing points, Journal of Complexity
    14:466-489. McKay, Beckman & Conover (1979) Technometrics 21:239-245 (random pairing of
    even samples).

    Examples
    --------
    >>> from planner.factors import read_factors
    >>> share = read_factors().find("methane_share_of_gas")
    >>> draw_factors([share], 4, seed=1)["methane_share_of_gas"].shape
    (5,)
    """
    ids = [factor.factor_id for factor in factors]
    if len(set(ids)) != len(ids):
        message = f"factors drawn together need different ids, found {ids}"
        raise ValueError(message)
    stream_seed = seed if own_seed is None else own_seed
    drawn = {}
    for factor in factors:
        begun = stream_seed if factor.is_own else seed
        percentiles = _percentiles(factor.factor_id, draws_count, begun)
        drawn[factor.factor_id] = np.concatenate([[factor.value], quantile(factor, percentiles)])
    return drawn


def quantile(factor: Factor, probability: Numbers) -> Numbers:
    """Value of the factor's shape below which lies `probability`, elementwise.

    Raises
    ------
    FactorError
        The shape is unknown, or its limits do not bracket a spread.
    """
    shape = _SHAPES.get(factor.shape)
    low, high = factor.limits
    if shape is None or not low <= factor.value <= high:
        message = (
            f"factor {factor.factor_id}: found shape {factor.shape!r} with value "
            f"{factor.value} in {low} to {high}, expected one of {', '.join(_SHAPES)} "
            "and a value within its limits."
        )
        raise FactorError(message)
    return shape(probability, factor.value, low, high)


def sobol_percentiles(
    inputs_count: int, draws_count: int, seed: int | np.random.Generator
) -> Numbers:
    """Points of a scrambled Sobol sequence in (0, 1), shape (draws_count, inputs_count).

    Parameters
    ----------
    draws_count
        Points; a power of two covers every dimension evenly, others are the first of one.
    seed
        Fixes the scrambling; a generator goes on from where it is.

    References
    ----------
    Owen, A. B. (1998), Scrambling Sobol' and Niederreiter-Xing points, Journal of
    Complexity 14, 466-489. Joe, S. and Kuo, F. Y. (2008), SIAM Journal on Scientific
    Computing 30, 2635-2654 (direction numbers).

    Examples
    --------
    >>> sobol_percentiles(3, 8, 1).shape
    (8, 3)
    """
    sobol = scipy.stats.qmc.Sobol(
        d=inputs_count, scramble=True, bits=SOBOL_BITS, rng=np.random.default_rng(seed)
    )
    points = sobol.random_base2(max(draws_count - 1, 0).bit_length())[:draws_count]
    return np.asarray(points + 0.5 * 0.5**SOBOL_BITS)


def _percentiles(factor_id: str, draws_count: int, seed: int) -> Numbers:
    digest = hashlib.blake2b(factor_id.encode(), digest_size=STREAM_BYTES).digest()
    rng = np.random.default_rng([seed, int.from_bytes(digest, "big")])
    return rng.permutation(sobol_percentiles(1, draws_count, rng)[:, 0])


def _fixed(probability: Numbers, value: float, low: float, high: float) -> Numbers:
    return np.full_like(probability, value)


def _uniform(probability: Numbers, value: float, low: float, high: float) -> Numbers:
    return low + (high - low) * probability


def _triangular(probability: Numbers, value: float, low: float, high: float) -> Numbers:
    width = high - low
    if width == 0.0:
        return np.full_like(probability, value)
    quantiles: Numbers = scipy.stats.triang.ppf(
        probability, (value - low) / width, loc=low, scale=width
    )
    return quantiles


def _normal(probability: Numbers, value: float, low: float, high: float) -> Numbers:
    middle, spread = (low + high) / 2.0, (high - low) / 2.0
    quantiles: Numbers = middle + spread * (
        scipy.stats.norm.ppf(probability) / scipy.stats.norm.ppf(TAIL_SHARE)
    )
    return quantiles


def _lognormal(probability: Numbers, value: float, low: float, high: float) -> Numbers:
    return np.exp(_normal(probability, np.log(value), np.log(low), np.log(high)))


_SHAPES: dict[str, Shape] = {
    "fixed": _fixed,
    "uniform": _uniform,
    "triangular": _triangular,
    "normal": _normal,
    "lognormal": _lognormal,
}
