"""Where to ask: a sample shared out among strata."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from scipy import optimize

from planner.errors import EstimateError

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    Numbers = NDArray[np.float64]

_HALVINGS = 200
_CLOSE = 1e-7


def neyman_worth(
    population_count: Numbers, standard_deviation: Numbers, unit_cost: Numbers | None = None
) -> Numbers:
    """Numbers to which the best allocation is proportional.

    Parameters
    ----------
    population_count
        Shape (strata,): households.
    standard_deviation
        Shape (strata,): of the values; equal ones give proportional allocation.
    unit_cost
        Shape (strata,): cost of one answer; equal unless said.

    References
    ----------
    Neyman, J. (1934), Journal of the Royal Statistical Society 97, 558-625. Cochran, W.G.
    (1977), Sampling Techniques, section 5.5.

    Examples
    --------
    >>> neyman_worth(np.array([10.0, 5.0]), np.array([1.0, 4.0])).tolist()
    [10.0, 20.0]
    """
    worth = population_count * standard_deviation
    return worth if unit_cost is None else worth / np.sqrt(unit_cost)


def share_out(
    spend: float,
    worth: Numbers,
    least: Numbers,
    most: Numbers,
    unit_cost: Numbers | None = None,
) -> Numbers:
    """Best real-valued sizes between bounds: proportional to worth, cut at the bounds.

    Parameters
    ----------
    spend
        Answers to share out, or what they may cost.
    worth
        Shape (strata,), from `neyman_worth`.
    least, most
        Shape (strata,): bounds of the sizes.
    unit_cost
        Shape (strata,): cost of one answer; 1 unless said.

    Returns
    -------
    ndarray
        Shape (strata,), costing `spend` in all.

    Raises
    ------
    EstimateError
        The bounds do not leave room for it.

    Notes
    -----
    ``n_h = min(max(lambda a_h, m_h), M_h)``; the total is piecewise linear in lambda, so
    that lambda lies on the line between two neighbouring corners. This is the exact
    solution: Gabler, Ganninger and Muennich (2012), Metrika 75, 151-161.

    Examples
    --------
    >>> two = np.array([1.0, 1.0])
    >>> share_out(10.0, np.array([9.0, 1.0]), two, np.array([6.0, 50.0])).tolist()
    [6.0, 4.0]
    """
    cost = np.ones_like(worth) if unit_cost is None else unit_cost
    _check_room(spend, float(cost @ least), float(cost @ most))
    has_worth = worth > 0.0
    scale = worth[has_worth]
    corners = np.unique(np.concatenate([least[has_worth] / scale, most[has_worth] / scale, [0.0]]))

    def sizes(multiplier: float) -> Numbers:
        return np.clip(multiplier * worth, least, most)

    spent = np.array([float(cost @ sizes(corner)) for corner in corners])
    if spend > spent[-1]:
        message = f"{spend:g} cannot be shared out: too many strata are worth nothing"
        raise EstimateError(message)
    return sizes(float(np.interp(spend, spent, corners)))


def share_out_whole(
    answers: int, worth: Numbers, least: NDArray[np.int64], most: NDArray[np.int64]
) -> NDArray[np.int64]:
    """Best whole sizes between bounds, exactly.

    Every further answer goes where it lowers the variance most: the answers taken are
    those of greatest priority ``a_h / sqrt(k (k + 1))``, k being those already there.

    Parameters
    ----------
    answers
        Answers to share out.
    worth
        Shape (strata,), from `neyman_worth`.
    least, most
        Shape (strata,): bounds of the sizes; at least 1.

    Returns
    -------
    ndarray
        Shape (strata,), adding up to `answers`. Ties go to the earlier stratum.

    Raises
    ------
    EstimateError
        The bounds do not leave room for it, or one is below 1.

    References
    ----------
    Wright, T. (2012), The equivalence of Neyman optimum allocation for sampling and equal
    proportions for apportioning the U.S. House of Representatives, American Statistician
    66, 217-224; and (2017), Statistics and Probability Letters 129, 50-57.

    Examples
    --------
    >>> one, many = np.array([1, 1]), np.array([90, 90])
    >>> share_out_whole(4, np.array([3.0, 1.0]), one, many).tolist()
    [3, 1]
    """
    _check_room(answers, int(least.sum()), int(most.sum()))
    if least.min() < 1:
        message = "an allocation with a stratum of which nobody is asked; ask at least one"
        raise EstimateError(message)

    def sizes(multiplier: float) -> NDArray[np.int64]:
        """Sizes when every priority above 1 / multiplier has been taken."""
        reach = multiplier * worth
        whole = np.floor(0.5 + np.sqrt(0.25 + reach**2)).astype(np.int64)
        return np.clip(whole, least, most)

    low, high = 0.0, float((most.max() + 1.0) / worth[worth > 0.0].min(initial=np.inf))
    high = high if high > 0.0 else 1.0
    for _ in range(_HALVINGS):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if sizes(middle).sum() <= answers else (low, middle)
    taken = sizes(low)
    # What halving cannot tell apart are ties, a few at most.
    for _ in range(answers - int(taken.sum())):
        priority = np.where(taken < most, worth / np.sqrt(taken * (taken + 1.0)), -1.0)
        taken[int(np.argmax(priority))] += 1
    return taken


def cheapest_for_targets(
    population_count: Numbers,
    standard_deviations: Numbers,
    totals: Numbers,
    relative_errors: Numbers,
    *,
    names: Sequence[str],
    least: Numbers,
    unit_cost: Numbers | None = None,
) -> Numbers:
    """Smallest sizes with which several totals all have the precision wanted.

    Parameters
    ----------
    population_count
        Shape (strata,): households; no more are asked.
    standard_deviations
        Shape (strata, targets): of each target's values.
    totals, relative_errors
        Shape (targets,): expected totals and the standard errors wanted over them.
    names
        What the targets are called, for messages.
    least
        Shape (strata,): smallest sizes.
    unit_cost
        Shape (strata,): cost of one answer; 1 unless said.

    Returns
    -------
    ndarray
        Shape (strata,): real-valued sizes; rounded up they still meet every target.

    Raises
    ------
    EstimateError
        No solution was found; the message names the target that is furthest off.

    Notes
    -----
    Least ``sum c_h n_h`` with ``sum N_h² S_hj² / n_h <= (r_j T_j)² + sum N_h S_hj²`` for
    every target j, solved by its dual: ``n_h = sqrt(sum_j lambda_j N_h² S_hj² / c_h)`` cut
    at the bounds.

    References
    ----------
    Bethel, J. (1989), Survey Methodology 15, 47-57. Chromy, J.R. (1987), Proceedings of
    the Survey Research Methods Section, American Statistical Association, 194-199.

    Examples
    --------
    >>> n = cheapest_for_targets(
    ...     np.array([1e9]), np.array([[2.0]]), np.array([1e9]), np.array([0.1]),
    ...     names=["fed"], least=np.array([2.0]))
    >>> round(float(n[0]), 3)
    400.0
    """
    cost = np.ones_like(population_count) if unit_cost is None else unit_cost
    allowed = (relative_errors * totals) ** 2 + population_count @ standard_deviations**2
    # A target without any spread is met by every allocation.
    safe = np.where(allowed > 0.0, allowed, 1.0)
    share = (population_count[:, None] * standard_deviations) ** 2 / safe
    # What each target alone would cost: with it as a scale the prices are near 1.
    scale = float((np.sqrt(share * cost[:, None]).sum(axis=0) ** 2).max())
    if scale == 0.0:
        return np.minimum(least, population_count)

    def sizes(price: Numbers) -> Numbers:
        best = np.sqrt(share @ price * scale / cost)
        return np.clip(best, np.minimum(least, population_count), population_count)

    def dual(price: Numbers) -> tuple[float, Numbers]:
        n = sizes(price)
        overrun = share.T @ (1.0 / n) - 1.0
        return -float(cost @ n) / scale - float(price @ overrun), -overrun

    start = np.full(totals.size, 1.0 / totals.size)
    found = optimize.minimize(
        dual,
        start,
        jac=True,
        method="SLSQP",
        bounds=[(0.0, None)] * totals.size,
        options={"ftol": 1e-15, "maxiter": 1000},
    )
    n = sizes(found.x)
    overrun = share.T @ (1.0 / n) - 1.0
    if overrun.max() > _CLOSE or np.any(np.abs(found.x * overrun) > _CLOSE):
        worst = names[int(np.argmax(np.abs(overrun)))]
        message = f"no allocation was found for the targets; furthest off is {worst}"
        raise EstimateError(message)
    return n


def _check_room(spend: float, least: float, most: float) -> None:
    if least <= spend <= most:
        return
    message = f"{spend:g} to share out among strata, but their bounds ask {least:g} to {most:g}"
    raise EstimateError(message)
