"""A nursery bed through the year: cocoons, young and adults, harvested for hand-overs."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from planner.arrays import Flags, Numbers, quotient
from planner.worms.life_history import COCOON_STEPS, JUVENILE_STEPS

if TYPE_CHECKING:
    from planner.worms.life_history import LifeHistory


@dataclass(frozen=True)
class Season:
    """What the days bring to a bed."""

    pace: Numbers  # shape (days,): how fast life goes, as by `life_history.pace`
    is_deadly: Flags  # shape (days,): the bed is so hot that the stock dies
    wanted_kg: Numbers  # shape (days,): worms taken out at the end of each day [kg]


@dataclass(frozen=True)
class BedYear:
    """A bed day by day."""

    # shape (draws, days + 1): young and adults, after the day's harvest; the seed first
    worms_kg: Numbers
    # shape (draws, days): taken out, and wanted but not there [kg]
    harvested_kg: Numbers
    lacking_kg: Numbers


def seed_numbers(life: LifeHistory, seed_kg: float) -> Numbers:
    """Worms of each step in a delivery of mixed sizes, shape (draws, JUVENILE_STEPS + 1).

    Sizes are mixed as in a bed that grows steadily. Cocoons are sieved out of a delivery,
    so none come with it.
    """
    growth, juvenile = life.growth_per_day, life.juvenile_rate_per_day
    passing = juvenile / (juvenile + growth)
    steps = passing[:, None] ** np.arange(JUVENILE_STEPS) / (juvenile + growth)[:, None]
    adults = passing**JUVENILE_STEPS / (growth + life.adult_death_per_day)
    shape = np.concatenate([steps, adults[:, None]], axis=1)
    mass = (shape * life.mass_kg).sum(axis=1, keepdims=True)
    return np.asarray(shape * seed_kg / mass)


def run_bed(life: LifeHistory, season: Season, seed_kg: float, ceiling_kg: float) -> BedYear:
    """Follow a bed day by day from its seed.

    Each day cocoons are laid and pass their steps, young grow up, adults die, at the pace
    of the bed. Crowding takes from the cocoons laid as the bed fills, and what exceeds the
    ceiling leaves. A harvest takes worms of all sizes alike and leaves cocoons.

    Parameters
    ----------
    life
        Rates, shape (draws,) each.
    season
        Days from the seeding on.
    ceiling_kg
        Most that the bed carries: ceiling density times area [kg].

    Notes
    -----
    Nothing is made but by hatching and growth: a bed of no adults stays one.

    References
    ----------
    johnston_2014 (stages and growth); munroe_manual (ceiling, doubling). Logistic crowding
    is a judgement.
    """
    worms = seed_numbers(life, seed_kg)
    cocoons = np.zeros((worms.shape[0], COCOON_STEPS))
    days = season.pace.size
    stock = np.empty((worms.shape[0], days + 1))
    harvested, lacking = (np.zeros((worms.shape[0], days)) for _ in range(2))
    stock[:, 0] = (worms * life.mass_kg).sum(axis=1)
    for day in range(days):
        cocoons, worms = _next_day(life, float(season.pace[day]), cocoons, worms, ceiling_kg)
        if season.is_deadly[day]:
            cocoons, worms = np.zeros_like(cocoons), np.zeros_like(worms)
        there = (worms * life.mass_kg).sum(axis=1)
        kept = np.minimum(there, ceiling_kg)
        harvested[:, day] = np.minimum(kept, season.wanted_kg[day])
        lacking[:, day] = season.wanted_kg[day] - harvested[:, day]
        stock[:, day + 1] = kept - harvested[:, day]
        worms = worms * quotient(stock[:, day + 1], there)[:, None]
    return BedYear(stock, harvested, lacking)


def _next_day(
    life: LifeHistory, pace: float, cocoons: Numbers, worms: Numbers, ceiling_kg: float
) -> tuple[Numbers, Numbers]:
    """Lay, hatch, grow up and die for one day."""
    stock = (worms * life.mass_kg).sum(axis=1)
    room = np.maximum(0.0, 1.0 - stock / ceiling_kg)
    laid = life.hatchlings_per_adult_day * pace * room * worms[:, -1]
    through = (life.cocoon_rate_per_day * pace)[:, None] * cocoons
    grown = (life.juvenile_rate_per_day * pace)[:, None] * worms[:, :-1]
    hatched = through[:, -1] * life.hatchlings_surviving_share
    cocoons = cocoons - through
    cocoons[:, 0] += laid
    cocoons[:, 1:] += through[:, :-1]
    worms = worms.copy()
    worms[:, :-1] -= grown
    worms[:, 0] += hatched
    worms[:, 1:] += grown
    # adults of the morning die, not those that grew up today
    worms[:, -1] -= life.adult_death_per_day * (worms[:, -1] - grown[:, -1])
    return cocoons, worms
