"""Weights that add up to what is known: counts of households by area and dwelling."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from planner.errors import EstimateError
from planner.survey.linearisation import summed
from planner.survey.margins import Margin, check_agreement

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from numpy.typing import NDArray

    Numbers = NDArray[np.float64]
    Codes = NDArray[np.int64]

TOLERANCE = 1e-10
"""Largest relative error of a margin at which calibration has converged."""

MOST_ROUNDS = 1000
_MOST_NEWTON_STEPS = 100
_MOST_EXPONENT = 50.0
_SMALLEST_STEP = 1e-6


def kish_design_effect(weights: Numbers) -> float:
    """Loss of precision by unequal weights, ``n sum w² / (sum w)²``.

    Parameters
    ----------
    weights
        Shape (n,).

    References
    ----------
    Kish, L. (1992), Weighting for unequal Pi, Journal of Official Statistics 8, 183-200.

    Examples
    --------
    >>> kish_design_effect(np.array([1.0, 1.0])), kish_design_effect(np.array([0.0, 2.0]))
    (1.0, 2.0)
    """
    relative = weights / weights.mean()
    return float(np.mean(relative**2))


def adjust_for_response(weights: Numbers, response_class: Codes, answered: Numbers) -> Numbers:
    """Weights of those who answered, who also stand for the silent ones of their class.

    Parameters
    ----------
    weights
        Shape (n,): base weights of all who were asked.
    response_class
        Shape (n,): class of each, numbered from 0.
    answered
        Shape (n,): 1 for those who answered, 0 for the others.

    Returns
    -------
    ndarray
        Shape (n,), 0 for those who did not answer.

    Raises
    ------
    EstimateError
        Nobody of a class answered.

    References
    ----------
    Saerndal, C.-E. and Lundstroem, S. (2005), Estimation in Surveys with Nonresponse.

    Examples
    --------
    >>> adjust_for_response(np.ones(3), np.zeros(3, dtype=int), np.array([1.0, 1.0, 0.0])).tolist()
    [1.5, 1.5, 0.0]
    """
    asked = np.bincount(response_class, weights)
    heard = np.bincount(response_class, weights * answered)
    silent = np.flatnonzero((asked > 0.0) & (heard <= 0.0))
    if silent.size:
        message = f"nobody answered in response class {silent[0]}; put it together with another"
        raise EstimateError(message)
    factor = np.divide(asked, heard, out=np.ones_like(asked), where=heard > 0.0)
    return weights * answered * factor[response_class]


def post_stratify(weights: Numbers, margin: Margin) -> Numbers:
    """Weights that add up to the known count of every cell.

    Parameters
    ----------
    weights
        Shape (n,).
    margin
        Cells and their counts.

    Raises
    ------
    EstimateError
        A cell with households has no answer, or one with answers has no household.

    References
    ----------
    Holt, D. and Smith, T.M.F. (1979), Journal of the Royal Statistical Society A 142, 33-46.

    Examples
    --------
    >>> margin = Margin("area", np.array([0, 0, 1]), ("N", "S"), np.array([8.0, 3.0]))
    >>> post_stratify(np.ones(3), margin).tolist()
    [4.0, 4.0, 3.0]
    """
    return weights * margin.factors(weights)[margin.cell]


def rake(weights: Numbers, margins: Sequence[Margin]) -> Numbers:
    """Weights that add up to the counts of several margins at once.

    One margin after the other is met, over and over, until all are within 1e-10.

    Parameters
    ----------
    weights
        Shape (n,).
    margins
        What is known; all must add up to the same number of households.

    Raises
    ------
    EstimateError
        An empty cell, margins that disagree, or no convergence; the message names them.

    References
    ----------
    Deming, W.E. and Stephan, F.F. (1940), Annals of Mathematical Statistics 11, 427-444.
    Deville, J.-C. and Saerndal, C.-E. (1992), Journal of the American Statistical
    Association 87, 376-382.

    Examples
    --------
    >>> rows = Margin("area", np.array([0, 0, 1]), ("N", "S"), np.array([6.0, 4.0]))
    >>> columns = Margin("dwelling", np.array([0, 1, 1]), ("h", "a"), np.array([5.0, 5.0]))
    >>> rake(np.ones(3), [rows, columns]).round(6).tolist()
    [5.0, 1.0, 4.0]
    """
    check_agreement(margins)
    shape = tuple(margin.counts.size for margin in margins)
    combined = np.ravel_multi_index(tuple(margin.cell for margin in margins), shape)
    present, place = np.unique(combined, return_inverse=True)
    start = summed(place, weights, present.size)
    cells = np.unravel_index(present, shape)
    small = [
        Margin(margin.name, cell, margin.labels, margin.counts)
        for margin, cell in zip(margins, cells, strict=True)
    ]
    raked = start.copy()
    for _ in range(MOST_ROUNDS):
        for margin in small:
            raked = post_stratify(raked, margin)
        if all(margin.worst(raked)[0] <= TOLERANCE for margin in small):
            return np.asarray(weights * (raked / np.where(start > 0.0, start, 1.0))[place])
    worst = max(small, key=lambda margin: margin.worst(raked)[0])
    error, label = worst.worst(raked)
    message = (
        f"raking to {', '.join(margin.name for margin in margins)} does not converge: "
        f"{worst.name} {label} is still off by {error:.1e} of its count"
    )
    raise EstimateError(message)


def calibrate_linear(
    weights: Numbers, known: Numbers, totals: Numbers, names: Sequence[str]
) -> Numbers:
    """Weights of the regression estimator; some may be negative.

    Parameters
    ----------
    weights
        Shape (n,).
    known
        Shape (n, p): variables whose totals are known.
    totals
        Shape (p,): their totals in the population.
    names
        What they are called, for messages.

    Raises
    ------
    EstimateError
        The variables are not independent.

    References
    ----------
    Deville and Saerndal (1992), case 1.

    Examples
    --------
    >>> calibrate_linear(np.ones(2), np.ones((2, 1)), np.array([6.0]), ["households"]).tolist()
    [3.0, 3.0]
    """
    return _calibrate(weights, known, totals, names, lambda u: (1.0 + u, np.ones_like(u)))


def calibrate_raking(
    weights: Numbers, known: Numbers, totals: Numbers, names: Sequence[str]
) -> Numbers:
    """Weights multiplied by ``exp(x' lambda)``, never negative; see `calibrate_linear`."""

    def exponential(u: Numbers) -> tuple[Numbers, Numbers]:
        power = np.exp(np.minimum(u, _MOST_EXPONENT))
        return power, power

    return _calibrate(weights, known, totals, names, exponential)


def calibrate_bounded(
    weights: Numbers,
    known: Numbers,
    totals: Numbers,
    names: Sequence[str],
    bounds: tuple[float, float],
) -> Numbers:
    """Weights changed by a factor between bounds so that known totals are met.

    Parameters
    ----------
    weights
        Shape (n,).
    known
        Shape (n, p): variables whose totals are known.
    totals
        Shape (p,): their totals in the population.
    names
        What they are called, for messages.
    bounds
        Least and largest factor, below and above 1.

    Raises
    ------
    EstimateError
        No factors within the bounds meet the totals; the message names the worst.

    Notes
    -----
    The logit distance: ``F(u) = (L (U - 1) + U (1 - L) e^(A u)) / (U - 1 + (1 - L) e^(A u))``
    with ``A = (U - L) / ((1 - L) (U - 1))``.

    References
    ----------
    Deville and Saerndal (1992), case 6.

    Examples
    --------
    >>> households = np.ones((2, 1)), np.array([3.0]), ["households"]
    >>> calibrate_bounded(np.ones(2), *households, (0.5, 2.0)).round(9).tolist()
    [1.5, 1.5]
    """
    low, high = bounds
    if not low < 1.0 < high:
        message = (
            f"bounds {low} and {high} of the change of weights: expected one on each side of 1"
        )
        raise EstimateError(message)
    steepness = (high - low) / ((1.0 - low) * (high - 1.0))

    def logit(u: Numbers) -> tuple[Numbers, Numbers]:
        power = np.exp(np.clip(steepness * u, -_MOST_EXPONENT, _MOST_EXPONENT))
        below = high - 1.0 + (1.0 - low) * power
        factor = (low * (high - 1.0) + high * (1.0 - low) * power) / below
        return factor, (factor - low) * (high - factor) * steepness / (high - low)

    return _calibrate(weights, known, totals, names, logit)


def _calibrate(
    weights: Numbers,
    known: Numbers,
    totals: Numbers,
    names: Sequence[str],
    distance: Callable[[Numbers], tuple[Numbers, Numbers]],
) -> Numbers:
    """Newton's method on the multipliers, with halved steps where a full one is worse."""
    size = np.maximum(np.abs(totals), np.abs(known).T @ weights)
    scaled, target = known / size, totals / size
    multiplier = np.zeros(totals.size)

    def missed(at: Numbers) -> tuple[Numbers, Numbers, Numbers]:
        factor, slope = distance(scaled @ at)
        return factor, slope, target - scaled.T @ (weights * factor)

    factor, slope, gap = missed(multiplier)
    for _ in range(_MOST_NEWTON_STEPS):
        if np.abs(gap).max() <= TOLERANCE:
            return weights * factor
        step = _solve(scaled.T @ (scaled * (weights * slope)[:, None]), gap)
        length = 1.0
        trial = missed(multiplier + step)
        while np.abs(trial[2]).max() >= np.abs(gap).max() and length > _SMALLEST_STEP:
            length /= 2.0
            trial = missed(multiplier + length * step)
        if length <= _SMALLEST_STEP:
            break
        multiplier = multiplier + length * step
        factor, slope, gap = trial
    if np.abs(gap).max() <= TOLERANCE:
        return weights * factor
    worst = int(np.argmax(np.abs(gap)))
    message = (
        f"calibration does not converge: the known total of {names[worst]} ({totals[worst]:g}) "
        f"is still off by {abs(gap[worst]):.1e} of it. Widen the bounds or leave a total out."
    )
    raise EstimateError(message)


def _solve(matrix: Numbers, gap: Numbers) -> Numbers:
    """One Newton step; variables that depend on each other are refused."""
    scale = np.sqrt(np.maximum(np.diag(matrix), np.finfo(float).tiny))
    scaled = matrix / np.outer(scale, scale)
    if np.linalg.matrix_rank(scaled, tol=1e-12, hermitian=True) < gap.size:
        message = (
            "the known totals depend on each other, or the bounds leave no weight free to "
            "change. Leave one total out, or widen the bounds."
        )
        raise EstimateError(message)
    return np.asarray(np.linalg.solve(scaled, gap / scale) / scale)
