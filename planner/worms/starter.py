"""How many kilograms of worms a new bin starts with."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from planner.units import DAYS_PER_WEEK
from planner.worms.run_in import run_in

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from planner.factors import FactorTable

RUN_IN_MONTHS = tuple(range(13))
"""Months after the hand-over for which the run-in is shown."""


@dataclass(frozen=True)
class RunIn:
    """What a bin can take of its household's scraps after the hand-over.

    Attributes
    ----------
    months
        Months since the hand-over.
    taken_share
        Share of the scraps that the stock takes, of the same length.
    full_after_months
        First of these months in which it takes all; None where it never does.
    """

    months: tuple[int, ...]
    taken_share: NDArray[np.float64]
    full_after_months: int | None


def starter_for_scraps_kg(
    people_count: float,
    scraps_kg_per_person_week: float,
    taken_share: float,
    feed_kg_per_kg_day: float,
    startup_share: float = 1.0,
) -> float:
    """Mass of worms that takes a share of a household's scraps from the start.

    Parameters
    ----------
    people_count
        People in the household, or their mean.
    scraps_kg_per_person_week
        What a person would feed the bin [kg/week].
    taken_share
        Share of it that the stock should take.
    feed_kg_per_kg_day
        Food that a kilogram of worms takes in a day [kg/kg/day].
    startup_share
        Share of that feed in the first weeks; 1 asks for the share after them.

    Returns
    -------
    float
        Worms [kg].

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
    months: Sequence[int] = RUN_IN_MONTHS,
) -> RunIn:
    """Run-in that follows from a starter, by the central factors.

    Parameters
    ----------
    starter_kg
        Worms given with the bin [kg].
    demand_kg_per_week
        What the household would feed a settled bin [kg/week].
    tray_area_m2
        Surface of a tray [m²].
    factors
        Published factors: growth, ceiling, feed, start-up.
    months
        Months since the hand-over.

    Raises
    ------
    FactorError
        The tables lack one of them.
    """
    ages = np.asarray(months, dtype=np.float64)
    taken = run_in(
        ages,
        starter_kg,
        demand_kg_per_week,
        tray_area_m2,
        factors.find("doubling_days", "new_bin").value,
        factors.find("ceiling_kg_per_m2").value,
        factors.find("feed_kg_per_kg_day").value,
        factors.find("startup_share").value,
    )
    full = np.flatnonzero(taken >= 1.0)
    return RunIn(tuple(months), taken, int(months[full[0]]) if full.size else None)
