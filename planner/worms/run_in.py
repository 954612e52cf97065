"""What a new bin starts with, how its stock grows, and how much of the scraps it can take."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from planner.arrays import Numbers, quotient
from planner.units import DAYS_PER_MONTH, DAYS_PER_WEEK, MONTHS_PER_YEAR

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

    from planner.factors import FactorTable

STARTUP_WEEKS = 4.0
"""Weeks for which a new bin is fed less (factor startup_weeks, project_judgement)."""


def capacity_kg_per_week(
    age_days: ArrayLike,
    starter_kg: ArrayLike,
    tray_area_m2: ArrayLike,
    doubling_days: ArrayLike,
    ceiling_kg_per_m2: ArrayLike,
    feed_kg_per_kg_day: ArrayLike,
    startup_share: ArrayLike,
    appetite_share: ArrayLike = 1.0,
) -> Numbers:
    """Scraps that the stock of a bin can take at an age [kg/week].

    The parameters are those of `run_in`, with the age in days.

    Examples
    --------
    >>> capacity_kg_per_week([0.0, 90.0], 0.25, 0.16, 90.0, 1e9, 0.5, 0.5).round(4).tolist()
    [0.4375, 1.75]
    """
    age_days = np.asarray(age_days, dtype=np.float64)
    ceiling_kg = np.asarray(ceiling_kg_per_m2) * np.asarray(tray_area_m2)
    worms_kg = stock_kg(age_days, starter_kg, doubling_days, ceiling_kg)
    is_starting = age_days < STARTUP_WEEKS * DAYS_PER_WEEK
    fed_share = np.where(is_starting, np.asarray(startup_share), 1.0)
    capacity = worms_kg * np.asarray(feed_kg_per_kg_day) * DAYS_PER_WEEK * fed_share
    return np.asarray(capacity * np.asarray(appetite_share))


def run_in(
    age_months: ArrayLike,
    starter_kg: ArrayLike,
    demand_kg_per_week: ArrayLike,
    tray_area_m2: ArrayLike,
    doubling_days: ArrayLike,
    ceiling_kg_per_m2: ArrayLike,
    feed_kg_per_kg_day: ArrayLike,
    startup_share: ArrayLike,
    appetite_share: ArrayLike = 1.0,
) -> Numbers:
    """Share of a household's full feed that the stock can take at an age.

    The stock grows from the starter to what the tray carries and eats in proportion; in the
    first weeks the bin is fed at the start-up share of that. Where the tray's ceiling is
    below the demand, the share levels off below 1. Cold and heat lower the appetite, not
    the demand: a grown stock at half its appetite may still take all.

    Parameters
    ----------
    age_months
        Months since the hand-over. All arguments broadcast together: with draws on the
        first axis, give ages the shape (1, ages) and factors (draws, 1).
    demand_kg_per_week
        What the household would feed a settled bin [kg/week]; 0 gives a share of 1.
    tray_area_m2
        Surface that limits the stock [m²].
    doubling_days
        Time in which a small stock doubles [days].
    ceiling_kg_per_m2
        Most worms on a square metre [kg/m²].
    feed_kg_per_kg_day
        Food that a kilogram of worms takes in a day [kg/kg/day].
    appetite_share
        What the temperature leaves of the stock's appetite, as by `season`.

    References
    ----------
    nyc_guide_2012 (feed); munroe_manual (growth, ceiling); project_judgement (start-up).

    Examples
    --------
    >>> run_in([0.0, 1.0, 12.0], 0.25, 1.0, 0.16, 90.0, 10.0, 0.5, 0.5).round(3).tolist()
    [0.438, 1.0, 1.0]
    """
    capacity = capacity_kg_per_week(
        np.asarray(age_months, dtype=np.float64) * DAYS_PER_MONTH,
        starter_kg,
        tray_area_m2,
        doubling_days,
        ceiling_kg_per_m2,
        feed_kg_per_kg_day,
        startup_share,
        appetite_share,
    )
    return np.minimum(1.0, quotient(capacity, demand_kg_per_week, otherwise=1.0))


def stock_kg(
    age_days: ArrayLike, starter_kg: ArrayLike, doubling_days: ArrayLike, ceiling_kg: ArrayLike
) -> Numbers:
    """Mass of worms in a bin at an age, by logistic growth [kg].

    Doubles in `doubling_days` while it is far below the ceiling, then levels off. A starter
    above the ceiling counts as the ceiling: the bin carries no more.

    Parameters
    ----------
    age_days
        Days since the hand-over, any shape that broadcasts with the rest.
    doubling_days
        Time in which a small stock doubles [days].
    ceiling_kg
        Most that the bin carries: ceiling density times tray area [kg].

    Notes
    -----
    N(t) = K / (1 + (K/N0 − 1) 2^(−t/d)), 0 where no worms or no room were given.

    References
    ----------
    munroe_manual, doubling of 60 to 90 days and stocking density; Verhulst (1838) for the
    form, whose use here is a judgement.

    Examples
    --------
    >>> stock_kg([0.0, 90.0], 0.25, 90.0, 1e9).round(3).tolist()
    [0.25, 0.5]
    """
    ceiling = np.asarray(ceiling_kg, dtype=np.float64)
    starter = np.minimum(np.asarray(starter_kg, dtype=np.float64), ceiling)
    halvings = np.asarray(age_days, dtype=np.float64) / np.asarray(doubling_days)
    room = np.exp2(-halvings)
    # K N0 / (N0 + (K − N0) 2^−t/d): the same curve, defined for an empty starter too.
    weight = starter + (ceiling - starter) * room
    product = ceiling * starter
    return quotient(product, weight)


def starter_for_scraps_kg(
    people_count: float,
    scraps_kg_per_person_week: float,
    taken_share: float,
    feed_kg_per_kg_day: float,
    startup_share: float = 1.0,
) -> float:
    """Mass of worms that takes a share of a household's scraps from the start [kg].

    Parameters
    ----------
    scraps_kg_per_person_week
        What a person would feed the bin [kg/week].
    taken_share
        Share of it that the stock should take.
    feed_kg_per_kg_day
        Food that a kilogram of worms takes in a day [kg/kg/day].
    startup_share
        Share of that feed in the first weeks; 1 asks for the share after them.

    References
    ----------
    nyc_guide_2012: a pound of worms takes about 3.5 lb a week, half its mass a day.

    Examples
    --------
    >>> starter_for_scraps_kg(2.0, 0.875, 0.5, 0.5)
    0.25
    """
    wanted_kg_per_day = people_count * scraps_kg_per_person_week * taken_share / DAYS_PER_WEEK
    return wanted_kg_per_day / (feed_kg_per_kg_day * startup_share)


def run_in_of_starter(
    starter_kg: float,
    demand_kg_per_week: float,
    tray_area_m2: float,
    factors: FactorTable,
) -> Numbers:
    """Run-in of the first year that follows from a starter, by the central factors.

    Parameters
    ----------
    demand_kg_per_week
        What the household would feed a settled bin [kg/week].

    Returns
    -------
    ndarray
        Share of the scraps that the stock takes, by months since the hand-over from 0 to 12.
    """
    return run_in(
        range(MONTHS_PER_YEAR + 1),
        starter_kg,
        demand_kg_per_week,
        tray_area_m2,
        factors.find("doubling_days", "new_bin").value,
        factors.find("ceiling_kg_per_m2").value,
        factors.find("feed_kg_per_kg_day").value,
        factors.find("startup_share").value,
    )
