"""Draws of factors: quasi-random numbers through the inverse of each factor's shape."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import scipy
from numpy.polynomial import legendre

from planner.arrays import Numbers
from planner.errors import FactorError

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence

    from planner.factors.table import Factor

    Function = Callable[[Numbers], Numbers]
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
    low, high = factor.limits
    if factor.shape not in SHAPES or not low <= factor.value <= high:
        message = (
            f"factor {factor.factor_id}: found shape {factor.shape!r} with value "
            f"{factor.value} in {low} to {high}, expected one of {', '.join(SHAPES)} "
            "and a value within its limits."
        )
        raise FactorError(message)
    return SHAPES[factor.shape](probability, factor.value, low, high)


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
    mode_share = (value - low) / width
    return np.asarray(scipy.stats.triang.ppf(probability, mode_share, loc=low, scale=width))


def _normal(probability: Numbers, value: float, low: float, high: float) -> Numbers:
    middle, spread = (low + high) / 2.0, (high - low) / 2.0
    deviations = scipy.stats.norm.ppf(probability) / scipy.stats.norm.ppf(TAIL_SHARE)
    return np.asarray(middle + spread * deviations)


def _lognormal(probability: Numbers, value: float, low: float, high: float) -> Numbers:
    return np.exp(_normal(probability, np.log(value), np.log(low), np.log(high)))


SHAPES: dict[str, Shape] = {
    "fixed": _fixed,
    "uniform": _uniform,
    "triangular": _triangular,
    "normal": _normal,
    "lognormal": _lognormal,
}
"""Values below which lie probabilities, from the central value and the limits of a shape."""


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
