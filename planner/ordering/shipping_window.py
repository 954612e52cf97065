"""Whether live worms may be sent: by the month's normals when planning, by forecast near it."""

from __future__ import annotations

import csv
import datetime as dt
from dataclasses import dataclass, field
from functools import cache
from typing import TYPE_CHECKING

import numpy as np
import scipy

from planner.errors import OrderError
from planner.messages import say
from planner.units import DAYS_PER_MONTH, MONTHS_PER_YEAR

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence
    from pathlib import Path

    from numpy.typing import NDArray

    from planner.factors import FactorTable
    from planner.program.ordering import ShippingWindow

TROPICAL_FROM_C, COLD_BELOW_C = 18.0, -3.0
"""Coldest month that parts tropical, temperate and cold climates: Köppen's groups A, C and D as in
Peel, Finlayson & McMahon (2007), table 1."""


def climate_of(monthly_mean_temperature_c: Sequence[float]) -> str:
    """Name the climate by its coldest month, as factors by climate do.

    Examples
    --------
    >>> climate_of([26.8] * 12), climate_of([-5.0] + [10.0] * 11), climate_of([5.0] * 12)
    ('tropical', 'cold', 'temperate')
    """
    coldest = min(monthly_mean_temperature_c)
    if coldest >= TROPICAL_FROM_C:
        return "tropical"
    return "cold" if coldest < COLD_BELOW_C else "temperate"


@dataclass(frozen=True)
class TravelLimits:
    """Coldest and warmest hour outdoors through which worms may be sent [°C]."""

    coldest_c: float
    warmest_c: float


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
    """What is known of the days on the way: normals, and forecasts where there are any."""

    monthly_mean_temperature_c: tuple[float, ...]  # normals, January first [°C]
    plain: TravelLimits = TravelLimits(4.0, 27.0)  # limits of plainly packed worms
    daily_range_c: float = 9.0  # between a day's coldest and warmest hour [°C]
    daily_spread_c: float = 3.0  # standard deviation of a day's mean about its normal [°C]
    held_chance_most: float = 0.25  # largest chance to be held with which parcels are planned
    forecasts: Mapping[dt.date, DayForecast] = field(default_factory=dict)  # forecast by day

    @classmethod
    def of(
        cls,
        normals_c: tuple[float, ...],
        window: ShippingWindow,
        factors: FactorTable,
        forecasts: Mapping[dt.date, DayForecast],
    ) -> Weather:
        """Take range and spread from the program file, or else those of the climate."""
        climate = climate_of(normals_c)
        ranged, spread = window.daily_range_c, window.daily_spread_c
        return cls(
            normals_c,
            TravelLimits(window.coldest_c, window.warmest_c),
            factors.find("daily_range_c", climate).value if ranged is None else ranged,
            factors.find("daily_spread_c", climate).value if spread is None else spread,
            window.held_chance_most,
            forecasts,
        )

    def held_chance(self, days: Sequence[dt.date], limits: TravelLimits | None = None) -> float:
        """Probability that a parcel must wait: some day on the way leaves its limits.

        Forecast days count as certain. The mean of each other day strays from its normal
        as a normal law of one memory: a warm day makes the next one likely warm. The days of
        sending and of delivery are among those on the way; limits are those of plain packing
        unless given.
        """
        held = self.plain if limits is None else limits
        known = [self.forecasts[day] for day in days if day in self.forecasts]
        if any(one.warmest_c > held.warmest_c or one.coldest_c < held.coldest_c for one in known):
            return 1.0
        open_days = [day for day in days if day not in self.forecasts]
        if not open_days:
            return 0.0
        half = self.daily_range_c / 2.0
        normals = np.array([normal_c(self.monthly_mean_temperature_c, day) for day in open_days])
        low = (held.coldest_c + half - normals) / self.daily_spread_c
        high = (held.warmest_c - half - normals) / self.daily_spread_c
        return 1.0 - probability_within(low, high, DAY_TO_DAY_CORRELATION)

    def warmest_c(self, days: Sequence[dt.date]) -> NDArray[np.float64]:
        """Warmest hour to expect about the worms on each day [°C].

        No more than plain packing lets travel: better packing keeps what lies beyond it out.
        """
        half = self.daily_range_c / 2.0
        warmest = [
            self.forecasts[day].warmest_c
            if day in self.forecasts
            else normal_c(self.monthly_mean_temperature_c, day) + half
            for day in days
        ]
        return np.asarray(np.minimum(np.array(warmest), self.plain.warmest_c))


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


@cache
def _quadrature() -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Nodes and weights between -1 and 1: their roots take longer than all that follows."""
    nodes, weights = np.polynomial.legendre.leggauss(GRID_COUNT)
    return nodes, weights


def probability_within(
    low: NDArray[np.float64], high: NDArray[np.float64], correlation: float
) -> float:
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
    >>> round(probability_within(np.array([-1.96]), np.array([1.96]), 0.7), 3)
    0.95
    """
    nodes, weights = _quadrature()
    spread = np.sqrt(1.0 - correlation**2)
    density: NDArray[np.float64] | None = None
    place = np.zeros(0)
    mass = np.zeros(0)
    for begins, ends in zip(np.maximum(low, -8.0), np.minimum(high, 8.0), strict=True):
        if ends <= begins:
            return 0.0
        here = begins + (nodes + 1.0) / 2.0 * (ends - begins)
        if density is None:
            density = scipy.stats.norm.pdf(here)
        else:
            step = scipy.stats.norm.pdf((here[:, None] - correlation * place) / spread) / spread
            density = step @ mass
        place, mass = here, density * weights * (ends - begins) / 2.0
    return float(min(1.0, mass.sum()))


COLUMNS = ("date", "coldest_c", "warmest_c")
MOST_C = 60.0
HEADING_ROW = 1


def read_forecast(path: Path) -> dict[dt.date, DayForecast]:
    """Read a forecast: the columns date (2026-03-09), coldest_c and warmest_c.

    Commas or semicolons part the columns; numbers may have a decimal comma with semicolons.

    Raises
    ------
    OrderError
        The file cannot be read, lacks a column, or a cell is not a day or a temperature.
    """
    try:
        text = path.read_text(encoding="utf-8-sig")
    except (OSError, UnicodeDecodeError) as error:
        message = say("order.fail.unreadable", file=str(path), error=str(error))
        raise OrderError(message, path=str(path)) from error
    sign = ";" if ";" in text.partition("\n")[0] else ","
    rows = [row for row in csv.reader(text.splitlines(), delimiter=sign) if any(row)]
    heading = [cell.strip().lower() for cell in rows[0]] if rows else []
    lacking = [name for name in COLUMNS if name not in heading]
    if lacking:
        message = say(
            "order.fail.no_column",
            file=str(path),
            row=HEADING_ROW,
            names=", ".join(lacking),
            columns=", ".join(COLUMNS),
        )
        raise OrderError(message, path=str(path), row=HEADING_ROW)
    places = [heading.index(name) for name in COLUMNS]
    found = {}
    for number, row in enumerate(rows[1:], start=HEADING_ROW + 1):
        cells = [row[place].strip() if place < len(row) else "" for place in places]
        day = _day(path, number, cells[0])
        coldest = _degrees(path, number, "coldest_c", cells[1])
        warmest = _degrees(path, number, "warmest_c", cells[2])
        if warmest < coldest:
            message = say(
                "order.fail.below_coldest",
                file=str(path),
                row=str(number),
                warmest=cells[2],
                coldest=cells[1],
            )
            raise OrderError(message, path=str(path), row=number)
        found[day] = DayForecast(coldest, warmest)
    return found


def _day(path: Path, row: int, cell: str) -> dt.date:
    try:
        return dt.date.fromisoformat(cell)
    except ValueError:
        message = say("order.fail.no_day", file=str(path), row=str(row), found=cell)
        raise OrderError(message, path=str(path), row=row, column="date") from None


def _degrees(path: Path, row: int, column: str, cell: str) -> float:
    try:
        degrees = float(cell.replace(",", "."))
    except ValueError:
        degrees = float("nan")
    if not -MOST_C <= degrees <= MOST_C:
        named = {"file": str(path), "row": str(row), "column": column}
        message = say("order.fail.no_degrees", found=cell, **named)
        raise OrderError(message, path=str(path), row=row, column=column)
    return degrees
