"""Whether live worms may be sent: by the month's normals when planning, by forecast near it."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np
from scipy import stats

from planner.units import DAYS_PER_MONTH, MONTHS_PER_YEAR

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from numpy.typing import NDArray

    from planner.program.ordering import ShippingWindow

DAY_TO_DAY_CORRELATION = 0.7
"""Likeness of the warmth of one day to that of the next; common in daily records, no source."""

GRID_COUNT = 96
"""Nodes of the quadrature over a day's warmth."""

MID_MONTH = 0.5


@dataclass(frozen=True)
class DayForecast:
    """Forecast of one day [°C]."""

    coldest_c: float
    warmest_c: float


@dataclass(frozen=True)
class Weather:
    """What is known of the days on the way: normals, and forecasts where there are any.

    Parameters
    ----------
    monthly_mean_temperature_c
        Normals, January first [°C].
    window
        Warmest and coldest allowed, daily range and spread.
    forecasts
        Forecast by day.
    """

    monthly_mean_temperature_c: tuple[float, ...]
    window: ShippingWindow
    forecasts: Mapping[dt.date, DayForecast] = field(default_factory=dict)

    def held_chance(self, days: Sequence[dt.date]) -> float:
        """Probability that a parcel must wait: some day on the way leaves the window.

        Forecast days count as certain. The mean of each other day strays from its normal
        as a normal law of one memory: a warm day makes the next one likely warm.

        Parameters
        ----------
        days
            Every day on the way, the day of sending and that of delivery among them.
        """
        known = [self.forecasts[day] for day in days if day in self.forecasts]
        window = self.window
        if any(
            one.warmest_c > window.warmest_c or one.coldest_c < window.coldest_c for one in known
        ):
            return 1.0
        open_days = [day for day in days if day not in self.forecasts]
        if not open_days:
            return 0.0
        half = window.daily_range_c / 2.0
        normals = np.array([normal_c(self.monthly_mean_temperature_c, day) for day in open_days])
        low = (window.coldest_c + half - normals) / window.daily_spread_c
        high = (window.warmest_c - half - normals) / window.daily_spread_c
        return 1.0 - stays_inside(low, high, DAY_TO_DAY_CORRELATION)

    def warmest_c(self, days: Sequence[dt.date]) -> NDArray[np.float64]:
        """Warmest hour to expect on each day, but no more than the window lets travel [°C]."""
        half = self.window.daily_range_c / 2.0
        warmest = [
            self.forecasts[day].warmest_c
            if day in self.forecasts
            else normal_c(self.monthly_mean_temperature_c, day) + half
            for day in days
        ]
        return np.asarray(np.minimum(np.array(warmest), self.window.warmest_c))


def normal_c(monthly_mean_temperature_c: Sequence[float], day: dt.date) -> float:
    """Find the normal of a day on straight lines between the middles of the months [°C].

    Examples
    --------
    >>> round(normal_c([0.0, 10.0] + [0.0] * 10, dt.date(2026, 2, 1)), 1)
    5.0
    """
    place = day.month - 1 + (day.day - 1) / DAYS_PER_MONTH - MID_MONTH
    middles = range(-1, MONTHS_PER_YEAR + 1)
    means = [monthly_mean_temperature_c[month % MONTHS_PER_YEAR] for month in middles]
    return float(np.interp(place, list(middles), means))


def stays_inside(low: NDArray[np.float64], high: NDArray[np.float64], correlation: float) -> float:
    """Probability that a chain of standard normal days stays between its limits.

    Parameters
    ----------
    low, high
        Limits of each day in standard deviations from its normal, shape (days,).
    correlation
        Correlation of one day with the next; days further apart follow from it.

    Notes
    -----
    The joint density is carried from day to day by Gauss-Legendre quadrature over the
    interval of each day; exact to the nodes.

    Examples
    --------
    >>> round(stays_inside(np.array([-1.96]), np.array([1.96]), 0.7), 3)
    0.95
    """
    nodes, weights = np.polynomial.legendre.leggauss(GRID_COUNT)
    spread = np.sqrt(1.0 - correlation**2)
    density: NDArray[np.float64] | None = None
    place = np.zeros(0)
    mass = np.zeros(0)
    for begins, ends in zip(np.maximum(low, -8.0), np.minimum(high, 8.0), strict=True):
        if ends <= begins:
            return 0.0
        here = begins + (nodes + 1.0) / 2.0 * (ends - begins)
        if density is None:
            density = stats.norm.pdf(here)
        else:
            step = stats.norm.pdf((here[:, None] - correlation * place) / spread) / spread
            density = step @ mass
        place, mass = here, density * weights * (ends - begins) / 2.0
    return float(min(1.0, mass.sum()))
