"""The target: the chance of meeting it, and how many bins would meet it as surely as wished."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from planner.sizing.allocation import NoPlanError, allocate
from planner.sizing.problem import MOST_TONNES, at_most, total_row

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import NDArray

    from planner.sizing.allocation import Allocation
    from planner.sizing.problem import Problem

SEARCH_GAP = 1e-3


@dataclass(frozen=True)
class Needed:
    """Answer to how many bins keep so many tonnes out in one year, as surely as wished.

    Parameters
    ----------
    bins_count
        Fewest bins that do, spread as the plan would spread so many; None where no number
        does.
    bins_cost
        What those bins cost, without the fixed cost [currency].
    chance
        Chance with so many bins, or the best that can be had.
    most_bins_count
        Bins of that best.
    """

    bins_count: int | None
    bins_cost: float | None
    chance: float
    most_bins_count: int


def chance_of(tonnes: NDArray[np.float64], target_t: float) -> float:
    """Share of the replicates that reach a target.

    Parameters
    ----------
    tonnes
        Shape (1 + draws,): the central value first [t].
    target_t
        [t].

    Examples
    --------
    >>> chance_of(np.array([9.0, 1.0, 2.0, 3.0, 4.0]), 3.0)
    0.5
    """
    return float((tonnes[1:] >= target_t).mean())


def bins_needed(
    problem: Problem,
    tonnes_of: Callable[[Allocation], NDArray[np.float64]],
    target_t: float,
    confidence: float,
) -> Needed:
    """Find the fewest bins that reach a target with the wished confidence.

    Parameters
    ----------
    problem
        Choices and limits without those of money.
    tonnes_of
        Gives the draws of the target year's tonnes of an allocation, (1 + draws,).
    target_t, confidence
        What is wished.

    Notes
    -----
    By halving the range of bins; each number of bins is placed where it keeps most out.
    """
    best = allocate(problem, MOST_TONNES, SEARCH_GAP)
    chance = chance_of(tonnes_of(best), target_t)
    most = best.bins_count
    if chance < confidence:
        return Needed(None, None, chance, most)
    few, enough, found = -1, most, best
    while enough - few > 1:
        middle = (few + enough) // 2
        tried = _of_count(problem, middle)
        own = 0.0 if tried is None else chance_of(tonnes_of(tried), target_t)
        if tried is not None and own >= confidence:
            enough, found, chance = middle, tried, own
        else:
            few = middle
    return Needed(enough, found.cost, chance, most)


def _of_count(problem: Problem, bins_count: int) -> Allocation | None:
    row = total_row(np.ones(problem.choices.count))
    limit = at_most("bins_tried", "", row, bins_count)
    try:
        return allocate(problem.with_limits(limit), MOST_TONNES, SEARCH_GAP)
    except NoPlanError:
        return None
