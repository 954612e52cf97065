"""What calls are worth: how many bins are kept for each hundred calls, by simulation."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from planner.figures import INTERVAL_PERCENT

if TYPE_CHECKING:
    import polars as pl
    from numpy.typing import NDArray

    Numbers = NDArray[np.float64]

HAZARD_CUT = (0.0, 0.15, 0.30)
"""Share by which a call that reaches a household lowers its hazard of stopping, for a year:
least, likeliest, most. Assumed: no trial of follow-up calls on the keeping of worm bins, or of
home composting, was found."""

REACHED_BEFORE = (6.0, 4.0)
"""Reached and not reached, as if ten calls had been made before. Assumed, and soon outweighed."""

DRAWS = 4_000
PER_CALLS = 100


@dataclass(frozen=True)
class CallsValue:
    """Bins in use after a year that would have stopped without the calls, for 100 calls.

    Parameters
    ----------
    chosen, at_random
        Value, low and high where the riskiest are called, and where as many at random are.
    reached_share
        Mean share of calls that reach somebody.
    """

    chosen: tuple[float, float, float]
    at_random: tuple[float, float, float]
    reached_share: float
    calls_count: int


def value_of_calls(
    risk: pl.DataFrame, calls_count: int, outcomes: tuple[int, int], rng: np.random.Generator
) -> CallsValue:
    """Simulate a year with and without calls, for the riskiest and for as many at random.

    Parameters
    ----------
    risk
        in_use_chance, stop_chance_12_months and may_stop_chance of each household.
    calls_count
        Calls made; no more than there are households.
    outcomes
        Calls of the program so far that reached somebody, and that did not.
    rng
        Draws the effect, the reach and each household's year.

    Notes
    -----
    A household that uses its bin keeps it through the year with chance ``1 - q``; with a call
    that reaches it ``(1 - q)^(1 - cut)``, as a hazard lowered by that share makes it.
    """
    count = min(calls_count, risk.height)
    reach = rng.beta(REACHED_BEFORE[0] + outcomes[0], REACHED_BEFORE[1] + outcomes[1], DRAWS)
    cut = rng.triangular(*HAZARD_CUT, DRAWS)
    in_use, stops = (
        risk.sort("may_stop_chance", descending=True)[name].to_numpy()
        for name in ("in_use_chance", "stop_chance_12_months")
    )
    places = np.arange(count)
    spreads = [
        _spread(_kept(in_use, stops, reach, cut, chosen, rng) * PER_CALLS / count)
        for chosen in (np.tile(places, (DRAWS, 1)), _at_random(len(stops), count, rng))
    ]
    return CallsValue(spreads[0], spreads[1], float(reach.mean()), count)


def _at_random(there: int, count: int, rng: np.random.Generator) -> NDArray[np.int64]:
    """Places of households drawn without return in each draw, shape (draws, count)."""
    return np.asarray(np.argsort(rng.random((DRAWS, there)), axis=1)[:, :count])


def _kept(
    in_use: Numbers,
    stops: Numbers,
    reach: Numbers,
    cut: Numbers,
    chosen: NDArray[np.int64],
    rng: np.random.Generator,
) -> Numbers:
    """Bins kept by the calls in each draw: in use, reached, and staying by the call alone."""
    stays = 1.0 - stops[chosen]
    chance = in_use[chosen] * reach[:, None] * (stays ** (1.0 - cut[:, None]) - stays)
    return np.asarray((rng.random(chance.shape) < chance).sum(axis=1, dtype=np.float64))


def _spread(draws: Numbers) -> tuple[float, float, float]:
    low, high = np.percentile(draws, INTERVAL_PERCENT)
    return float(draws.mean()), float(low), float(high)
