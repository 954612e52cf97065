"""When to seed a nursery, with how much, so that the worms are there for each hand-over."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from planner.arrays import Flags, Numbers, quotient
from planner.errors import OrderError
from planner.messages import paper
from planner.worms.life_history import COCOON_STEPS, FACTOR_IDS, JUVENILE_STEPS, life_history, pace
from planner.worms.temperature import TemperaturePoints

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

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


NURSERY_FACTOR_IDS = (
    *FACTOR_IDS,
    "doubling_days",
    "starting_kg_per_m2",
    "ceiling_kg_per_m2",
    *TemperaturePoints._fields,
)
"""Factors to draw; `doubling_days` is that of a bed."""

FINEST_SHARE = 0.005
"""The seed is found to half a per cent."""

MID_MONTH_DAY = 15


@dataclass(frozen=True)
class Need:
    """Worms that a hand-over takes."""

    event_id: str
    on_date: dt.date  # day on which they leave the bed
    worms_kg: float


@dataclass(frozen=True)
class NurseryPlan:
    """A seeding that meets every need with the chance asked for."""

    seed_kg: float
    area_m2: float
    chance: float  # share of the draws in which no hand-over lacks worms
    # shape (1 + draws, needs): worms in the bed on the day of each need, before the harvest [kg];
    # index 0 with the central factors
    ready_kg: Numbers


@dataclass(frozen=True)
class Nursery:
    """What a nursery's plans rest on."""

    monthly_bed_temperature_c: Sequence[float]  # January first, shape (12,): means of the bed [°C]
    factors: Mapping[str, Numbers]  # draws, shape (1 + draws,), of NURSERY_FACTOR_IDS
    most_area_m2: float  # bed area there is [m²]
    chance: float  # chance wanted that no hand-over lacks worms

    def season(self, seed_date: dt.date, needs: Sequence[Need]) -> Season:
        """Lay out the days from the seeding to the last need."""
        days_count = (max(need.on_date for need in needs) - seed_date).days
        days = [seed_date + dt.timedelta(days=n) for n in range(1, days_count + 1)]
        bed = _bed_by_day_c(self.monthly_bed_temperature_c, days)
        wanted = np.zeros(days_count)
        for need in needs:
            wanted[(need.on_date - seed_date).days - 1] += need.worms_kg
        central = {name: draws[:1] for name, draws in self.factors.items()}
        points = TemperaturePoints.of(central)
        highest = float(self.factors["feeding_highest_c"][0])
        return Season(pace(bed, points, self.factors), bed >= highest, wanted)

    def plan(self, seed_date: dt.date, needs: Sequence[Need]) -> NurseryPlan:
        """Find the least seed on a date that meets every need with the chance wanted.

        The bed has the area that the seed is spread on at the published starting density,
        or all that there is where that is less.

        Raises
        ------
        OrderError
            A need falls on or before the seeding, or the bed cannot carry what is wanted.
        """
        early = next((need for need in needs if need.on_date <= seed_date), None)
        if early is not None:
            message = paper().say(
                "nursery.fail.too_late", day=seed_date, event=early.event_id, date=early.on_date
            )
            raise OrderError(message)
        season = self.season(seed_date, needs)
        seed_kg = self._least_seed_kg(season, needs)
        year = self._run(season, seed_kg)
        days = [(need.on_date - seed_date).days - 1 for need in needs]
        ready_kg = (year.worms_kg[:, 1:] + year.harvested_kg)[:, days]
        chance = 1.0 - float(np.mean(_lacks(season, year)))
        return NurseryPlan(seed_kg, self.area_m2(seed_kg), chance, ready_kg)

    def area_m2(self, seed_kg: float) -> float:
        """Bed that a seed is spread on [m²]."""
        density = float(self.factors["starting_kg_per_m2"][0])
        return min(self.most_area_m2, seed_kg / density)

    def _run(self, season: Season, seed_kg: float) -> BedYear:
        life = life_history(self.factors, self.factors["doubling_days"])
        ceiling_kg = self.area_m2(seed_kg) * float(self.factors["ceiling_kg_per_m2"][0])
        return run_bed(life, season, min(seed_kg, ceiling_kg), ceiling_kg)

    def _chance(self, season: Season, seed_kg: float) -> float:
        return float(np.mean(~_lacks(season, self._run(season, seed_kg))))

    def _least_seed_kg(self, season: Season, needs: Sequence[Need]) -> float:
        """Double the seed until it is enough, then halve the gap."""
        high = max(need.worms_kg for need in needs) * FINEST_SHARE
        most_kg = self.most_area_m2 * float(self.factors["ceiling_kg_per_m2"][0])
        while self._chance(season, high) < self.chance:
            if high >= most_kg:
                raise OrderError(self._too_small(season, high))
            high *= 2.0
        low = high / 2.0
        while high - low > FINEST_SHARE * high:
            middle = (low + high) / 2.0
            low, high = (
                (low, middle) if self._chance(season, middle) >= self.chance else (middle, high)
            )
        return high

    def _too_small(self, season: Season, seed_kg: float) -> str:
        short = self._run(season, seed_kg).lacking_kg[0].sum()
        words = paper()
        return words.say(
            "nursery.fail.too_little",
            area=words.significant(self.most_area_m2),
            wanted=words.number(season.wanted_kg.sum()),
            lacking=words.number(short),
        )


def _lacks(season: Season, year: BedYear) -> Flags:
    """Whether worms lack in each draw, the central one left out."""
    return np.asarray(year.lacking_kg[1:].sum(axis=1) > season.wanted_kg.sum() * FINEST_SHARE**2)


def _bed_by_day_c(monthly_c: Sequence[float], days: Sequence[dt.date]) -> Numbers:
    """Mean temperature of each day, in a line between the middles of months."""
    middles = np.array(
        [dt.date(2001, month, MID_MONTH_DAY).timetuple().tm_yday for month in range(1, 13)]
    )
    day_of_year = np.array([min(day.timetuple().tm_yday, 365) for day in days])
    return np.asarray(
        np.interp(day_of_year, middles, np.asarray(monthly_c, dtype=float), period=365)
    )
