"""Very large weights cut, what was cut given to the others, and calibrated again."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from planner.errors import EstimateError

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import NDArray

    Numbers = NDArray[np.float64]

SPREADS_ABOVE_MEDIAN = 3.5
"""Quartile distances above the median from which a weight is very large."""

MOST_ROUNDS = 200
_OVER = 1e-9


def largest_weight(weights: Numbers) -> float:
    """Weight above which one is cut: the median plus 3.5 times the quartile distance.

    References
    ----------
    Potter, F.J. (1990), A study of procedures to identify and trim extreme sampling
    weights, Proceedings of the Survey Research Methods Section, American Statistical
    Association, 225-230. Valliant, R., Dever, J.A. and Kreuter, F. (2018), Practical Tools
    for Designing and Weighting Survey Samples, chapter 14.

    Examples
    --------
    >>> largest_weight(np.array([1.0, 2.0, 3.0, 4.0, 100.0]))
    10.0
    """
    low, middle, high = np.quantile(weights, [0.25, 0.5, 0.75])
    return float(middle + SPREADS_ABOVE_MEDIAN * (high - low))


def cut_weights(weights: Numbers, most: float) -> Numbers:
    """Weights cut at a bound, with the excess given in equal parts to the others.

    Parameters
    ----------
    weights
        Shape (n,).
    most
        Largest weight allowed.

    Returns
    -------
    ndarray
        Shape (n,), with the sum of before. What a gift takes over the bound is cut again.

    Raises
    ------
    EstimateError
        The bound is below the mean weight, so that the sum cannot be kept.

    Examples
    --------
    >>> cut_weights(np.array([1.0, 1.0, 10.0]), 6.0).tolist()
    [3.0, 3.0, 6.0]
    """
    if most < weights.mean():
        message = f"weights cannot be cut at {most:g}: their mean is {weights.mean():g}"
        raise EstimateError(message)
    cut = weights.copy()
    is_cut = np.zeros(weights.size, dtype=bool)
    while True:
        over = cut > most
        if not over.any():
            return cut
        excess = float((cut[over] - most).sum())
        is_cut |= over
        cut[over] = most
        if is_cut.all():
            return cut
        cut[~is_cut] += excess / np.count_nonzero(~is_cut)


def cut_and_recalibrate(
    weights: Numbers, most: float, calibrate: Callable[[Numbers], Numbers]
) -> Numbers:
    """Cut weights and calibrate them again, in turn, until both hold.

    Parameters
    ----------
    weights
        Shape (n,): calibrated weights.
    most
        Largest weight allowed.
    calibrate
        Weights in, calibrated weights out, as `rake` with its margins.

    Raises
    ------
    EstimateError
        Both do not hold after 200 rounds.

    Examples
    --------
    >>> cut_and_recalibrate(np.array([1.0, 1.0, 10.0]), 6.0, lambda w: w * 12.0 / w.sum()).tolist()
    [3.0, 3.0, 6.0]
    """
    current = weights
    for _ in range(MOST_ROUNDS):
        if current.max() <= most * (1.0 + _OVER):
            return current
        current = calibrate(cut_weights(current, most))
    message = (
        f"weights cut at {most:g} do not meet the known counts: one of {current.max():g} is "
        "left. Allow larger weights, or put small cells together."
    )
    raise EstimateError(message)
