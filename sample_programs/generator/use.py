"""How long bins stay in use and what they are fed: the generator's own formulas."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from scipy.special import i0e, ndtri

if TYPE_CHECKING:
    from sample_programs.generator.calendar import Calendar
    from sample_programs.generator.towns import Feeding, Stopping

_DAYS_A_YEAR = 365.25
NEVER_DAYS = 36_500.0
"""Longest time in use that is kept; it only bounds the drawing."""

_CLOCK_DAYS = 20 * 365


def draw_use_days(
    stopping: Stopping,
    dwelling: np.ndarray,
    feed_score: np.ndarray,
    own_hazard: np.ndarray,
    rng: np.random.Generator,
) -> np.ndarray:
    """Draw how many days each bin stays in use, of shape (bins,) [days].

    A mixture: never set up (0 days), early quitters (lognormal), and the rest, whose
    hazard declines as 1 / (scale + age), so S(t) = (1 + t / scale) ** -shape.
    `own_hazard` is what street and consent multiply each bin's hazard by.
    """
    count = len(dwelling)
    hazard = np.array(stopping.dwelling_hazard)[dwelling] * own_hazard
    hazard = hazard * np.exp(-stopping.feed_link * feed_score)
    never = np.minimum(stopping.never_set_up_share * hazard, 0.5)
    early = np.minimum(stopping.early_share * hazard, 0.4)
    early_days = stopping.early_median_days * np.exp(
        stopping.early_spread * rng.standard_normal(count)
    )
    late_uniform = 1.0 - rng.random(count)
    late_days = _late_days(stopping, late_uniform, hazard)
    kind = rng.random(count)
    days = np.where(kind < never, 0.0, np.where(kind < never + early, early_days, late_days))
    return np.minimum(days, NEVER_DAYS)


def _late_days(stopping: Stopping, uniform: np.ndarray, hazard: np.ndarray) -> np.ndarray:
    """Days of those who neither never began nor gave up early, from uniform numbers."""
    if stopping.late_lognormal is None:
        return stopping.late_scale_days * (uniform ** (-1.0 / (stopping.late_shape * hazard)) - 1.0)
    median, spread = stopping.late_lognormal
    return median * np.exp(spread * ndtri(1.0 - uniform ** (1.0 / hazard)))


def crowd_into_season(
    stopping: Stopping, first_day_of_year: int, handover_day: np.ndarray, use_days: np.ndarray
) -> np.ndarray:
    """Move the ends of use towards the season of giving up, of shape (bins,) [days].

    Clocks of use run at ``1 - share + share × exp(sharpness (cos - 1)) / its mean``: fast in
    the season, slow outside, a year as long as a year. A bin stops when its clock has run
    the days that it would have been used without a season.
    """
    days = np.arange(_CLOCK_DAYS + 1)
    turn = 2.0 * np.pi / _DAYS_A_YEAR
    away = np.cos(turn * (days + first_day_of_year - stopping.season_peak_day)) - 1.0
    bump = np.exp(stopping.season_sharpness * away)
    mean = i0e(stopping.season_sharpness)
    pace = 1.0 - stopping.season_share + stopping.season_share * bump / mean
    clock = np.concatenate([[0.0], np.cumsum(pace[:-1])])
    reads = np.interp(handover_day, days, clock) + use_days
    stopped = np.interp(reads, clock, days) + np.maximum(reads - clock[-1], 0.0)
    return np.where(use_days > 0.0, np.maximum(stopped - handover_day, 0.0), 0.0)


def season_factor(feeding: Feeding, day_of_year: np.ndarray) -> np.ndarray:
    """Season's factor on feed: a cosine, divided by a bump where heat slows the worms."""
    turn = 2.0 * np.pi / _DAYS_A_YEAR
    swing = 1.0 + feeding.season_swing * np.cos(turn * (day_of_year - feeding.season_peak_day))
    nearness = np.cos(turn * (day_of_year - feeding.heat_day)) - 1.0
    return swing / (1.0 + feeding.heat_dip * np.exp(feeding.heat_sharpness * nearness))


def ramp_factor(feeding: Feeding, age_weeks: np.ndarray, half_weeks: np.ndarray) -> np.ndarray:
    """Run-in: from `ramp_start` to 1, half of the way at `half_weeks` (a Hill curve)."""
    age_squared = np.square(np.maximum(age_weeks, 0.0))
    climbed = age_squared / (age_squared + np.square(half_weeks))
    return feeding.ramp_start + (1.0 - feeding.ramp_start) * climbed


def settled_kg_per_week(
    feeding: Feeding, dwelling: np.ndarray, people: np.ndarray, feed_score: np.ndarray
) -> np.ndarray:
    """Weekly feed of a run-in bin in a season of factor 1, of shape (bins,) [kg/week]."""
    level = feeding.median_kg_per_week * (people / 2.4) ** feeding.people_power
    spread = np.exp(feeding.household_spread * feed_score)
    return level * np.array(feeding.dwelling_factors)[dwelling] * spread


def in_use_days(
    calendar: Calendar, handover_day: np.ndarray, stopped_day: np.ndarray
) -> np.ndarray:
    """Days in use in each piece, of shape (bins, pieces) [days]."""
    begins, ends = calendar.piece_edges[:-1], calendar.piece_edges[1:]
    last = np.minimum(stopped_day[:, None], ends)
    first = np.maximum(handover_day[:, None], begins)
    return np.maximum(last - first, 0.0)


def draw_fed_kg(
    feeding: Feeding,
    calendar: Calendar,
    settled: np.ndarray,
    handover_day: np.ndarray,
    used_days: np.ndarray,
    rng: np.random.Generator,
) -> np.ndarray:
    """Feed of every bin in every piece, of shape (bins, pieces) [kg]."""
    bins_count, weeks_count = len(settled), int(calendar.piece_week[-1]) + 1
    half_weeks = rng.uniform(*feeding.ramp_half_weeks, bins_count)
    spread = feeding.weekly_spread
    noise = np.exp(spread * rng.standard_normal((bins_count, weeks_count)) - spread**2 / 2)
    noise *= rng.random((bins_count, weeks_count)) >= feeding.missed_week_share
    noise *= np.exp(feeding.town_week_spread * rng.standard_normal(weeks_count))
    middle = calendar.piece_edges[:-1] + calendar.piece_days / 2.0
    age_weeks = (middle - handover_day[:, None]) / 7.0
    day_of_year = calendar.origin.timetuple().tm_yday + middle
    return (
        settled[:, None]
        * ramp_factor(feeding, age_weeks, half_weeks[:, None])
        * season_factor(feeding, day_of_year)
        * noise[:, calendar.piece_week]
        * used_days
        / 7.0
    )
