"""A hazard of stopping that steps with age and with what is known, and what calls do to it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import scipy

from planner.arrays import Flags, Integers, Numbers
from planner.figures import INTERVAL_PERCENT
from planner.units import DAYS_PER_MONTH

if TYPE_CHECKING:
    import polars as pl


AGE_EDGES_MONTHS = (0.0, 2.0, 6.0, 12.0, 24.0)
"""Ages at which the hazard may step; five bands, as many as a few hundred answers can hold."""

LEVEL_SPREAD = 3.0
"""Standard deviation of the belief about the log of a level: next to none."""

RATIO_SPREADS = (0.05, 0.15, 0.4, 1.0)
"""Beliefs about the spread of log hazard ratios; the answers choose among them, by evidence."""

LEAST_HAZARD = 1e-12

HAZARD_CUT = (0.0, 0.15, 0.30)
"""Share by which a call that reaches a household lowers its hazard of stopping, for a year:
least, likeliest, most. Assumed: no trial of follow-up calls on the keeping of worm bins, or of
home composting, was found."""

REACHED_BEFORE = (6.0, 4.0)
"""Reached and not reached, as if ten calls had been made before. Assumed, and soon outweighed."""

DRAWS = 4_000
PER_CALLS = 100


@dataclass(frozen=True)
class Spells:
    """Spells laid out for the likelihood."""

    # shape (n, levels): whether a spell begins with the hand-over, then its months in each band of
    # age
    exposure: Numbers
    design: Numbers  # shape (n, k): columns that multiply the hazard
    # shape (n,): 1 where it ended in a stop, and how much it counts
    stopped: Numbers
    weights: Numbers

    def of(self, chosen: Flags) -> Spells:
        """Take some of the spells."""
        return Spells(*(getattr(self, name)[chosen] for name in self.__dataclass_fields__))


def exposure_months(start_days: pl.Series, end_days: pl.Series) -> Numbers:
    """Whether each spell begins with the hand-over, and its months in each band of age."""
    edges = np.r_[AGE_EDGES_MONTHS, np.inf] * DAYS_PER_MONTH
    start, end = (one.to_numpy().astype(float)[:, None] for one in (start_days, end_days))
    inside = np.minimum(end, edges[1:]) - np.maximum(start, edges[:-1])
    return np.asarray(np.c_[start == 0.0, np.maximum(inside, 0.0) / DAYS_PER_MONTH])


def fit_hazard(spells: Spells) -> Numbers:
    """Find the logs of the levels and of the hazard ratios, shape (levels + k,).

    The belief about the ratios spreads as far as the stops make likeliest.
    """
    if not spells.design.shape[1]:
        return _climb(spells, RATIO_SPREADS[0])
    fits = [(_climb(spells, spread), spread) for spread in RATIO_SPREADS]
    return max(fits, key=lambda fit: _evidence(spells, *fit))[0]


def _penalty(spells: Spells, ratio_spread: float) -> Numbers:
    bands, ratios = spells.exposure.shape[1], spells.design.shape[1]
    levels = np.full(bands, LEVEL_SPREAD**-2)
    return np.asarray(np.r_[levels, np.full(ratios, ratio_spread**-2)])


def _usual(spells: Spells) -> Numbers:
    """Middle of the beliefs: one rate at all ages, and ratios of 1."""
    rate = (spells.weights @ spells.stopped) / (spells.weights @ spells.exposure[:, 1:].sum(axis=1))
    levels = np.full(spells.exposure.shape[1], np.log(rate))
    return np.asarray(np.r_[levels, np.zeros(spells.design.shape[1])])


def _by_band(spells: Spells, point: Numbers) -> Numbers:
    """Hazard of each spell summed over its time in each band, shape (n, bands)."""
    bands = spells.exposure.shape[1]
    times = np.exp(spells.design @ point[bands:])
    return np.asarray(spells.exposure * np.exp(point[:bands]) * times[:, None])


def _worth(spells: Spells, point: Numbers, penalty: Numbers) -> tuple[float, Numbers]:
    """Penalised log-likelihood and its slope."""
    by_band = _by_band(spells, point)
    # both are kept finite where hardly any time passes
    total = np.maximum(by_band.sum(axis=1), LEAST_HAZARD)
    fallen = -np.expm1(-total)
    said = spells.stopped * np.log(fallen) - (1.0 - spells.stopped) * total
    pull = spells.weights * (spells.stopped * np.exp(-total) / fallen - (1.0 - spells.stopped))
    away = point - _usual(spells)
    slope = np.r_[pull @ by_band, (pull * total) @ spells.design] - penalty * away
    return float(spells.weights @ said - 0.5 * penalty @ away**2), slope


def _climb(spells: Spells, ratio_spread: float) -> Numbers:
    penalty = _penalty(spells, ratio_spread)

    def loss(point: Numbers) -> tuple[float, Numbers]:
        value, slope = _worth(spells, point, penalty)
        return -value, -slope

    found = scipy.optimize.minimize(loss, _usual(spells), jac=True, method="L-BFGS-B")
    return np.asarray(found.x)


def _evidence(spells: Spells, point: Numbers, ratio_spread: float) -> float:
    """Find the log of how likely the stops are under a belief, by Laplace's approximation."""
    penalty = _penalty(spells, ratio_spread)
    by_band = _by_band(spells, point)
    total = np.maximum(by_band.sum(axis=1), LEAST_HAZARD)
    moves = np.c_[by_band / total[:, None], spells.design]
    bend = spells.weights * total**2 * np.exp(-total) / -np.expm1(-total)
    curvature = (moves * bend[:, None]).T @ moves + np.diag(penalty)
    value, _ = _worth(spells, point, penalty)
    return value + 0.5 * float(np.log(penalty).sum() - np.linalg.slogdet(curvature)[1])


def total_hazard(spells: Spells, point: Numbers) -> Numbers:
    """Sum the hazard of each spell over its time, shape (n,)."""
    return np.asarray(_by_band(spells, point).sum(axis=1))


@dataclass(frozen=True)
class CallsValue:
    """Bins in use after a year that would have stopped without the calls, for 100 calls."""

    # value, low and high where the riskiest are called, and where as many at random are
    chosen: tuple[float, float, float]
    at_random: tuple[float, float, float]
    reached_share: float  # mean share of calls that reach somebody


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
    return CallsValue(spreads[0], spreads[1], float(reach.mean()))


def _at_random(there: int, count: int, rng: np.random.Generator) -> Integers:
    """Places of households drawn without return in each draw, shape (draws, count)."""
    return np.asarray(np.argsort(rng.random((DRAWS, there)), axis=1)[:, :count])


def _kept(
    in_use: Numbers,
    stops: Numbers,
    reach: Numbers,
    cut: Numbers,
    chosen: Integers,
    rng: np.random.Generator,
) -> Numbers:
    """Bins kept by the calls in each draw: in use, reached, and staying by the call alone."""
    stays = 1.0 - stops[chosen]
    chance = in_use[chosen] * reach[:, None] * (stays ** (1.0 - cut[:, None]) - stays)
    return np.asarray((rng.random(chance.shape) < chance).sum(axis=1, dtype=np.float64))


def _spread(draws: Numbers) -> tuple[float, float, float]:
    low, high = np.percentile(draws, INTERVAL_PERCENT)
    return float(draws.mean()), float(low), float(high)
