"""What shape of the curve, and what season of giving up, the ages of stopping can bear."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
import scipy

from planner.arrays import Integers, Numbers
from planner.survey.interval_likelihood import Intervals, fit_log_times
from planner.units import DAYS_PER_MONTH, MONTHS_PER_YEAR

FEWEST_PIECES, MOST_PIECES = 3, 6
"""Giving up early, settling and giving up late need three; six follow what a large town's answers
say between."""

LEAST_STOPPED, STOPPED_IN_PIECE = 30, 20
"""The curve has pieces with so many ages of stopping, and more than three with so many a piece."""

SWINGS = (0.4, 0.8, 1.3, 2.0)
"""Logarithms of the pace in the season over that half-way that are tried: e² = 7 at most."""

FIRST_TRIED = 0.8
LEAST_GAIN = 0.5
"""One swing is tried first; where no month gains half a unit of log likelihood, no other can
outweigh none."""

LEAST_PROBABLE = 1.0 / 20.0
"""A season less likely than this moves nothing, not even an interval."""

USED_FROM = 3.0 / 4.0
"""From this probability on the likeliest season is in the central curve: three to one, which
Kass and Raftery (1995) call positive evidence."""

STEPS = 720
"""Points of the year at which a clock is read; between them it is a line."""


@dataclass(frozen=True)
class StoppingSeason:
    """A clock of use that runs at ``exp(swing cos(months from the peak)) / its mean``.

    A bin is as old as its clock says when it comes to giving up. A year is a year on every
    clock, so what is in use after 12 or 24 months is the same whenever a bin was given.

    Examples
    --------
    >>> july = StoppingSeason(1.3, 6.5)
    >>> july.clock_age(np.array([5.0]), np.array([3.0, 12.0])).round(2).tolist()
    [6.62, 12.0]
    """

    swing: float  # 0 for no season
    peak_month: float  # months since 1 January when giving up peaks, below 12

    def log_pace(self, month: Numbers) -> Numbers:
        """Logarithm of the pace at a time of the year [months since 1 January]."""
        turn = 2.0 * np.pi / MONTHS_PER_YEAR
        mean = self.swing + np.log(scipy.special.ive(0, self.swing))
        return np.asarray(self.swing * np.cos(turn * (month - self.peak_month)) - mean)

    @cached_property
    def _read(self) -> tuple[Numbers, Numbers]:
        edges = np.linspace(0.0, MONTHS_PER_YEAR, STEPS + 1)
        pace = np.exp(self.log_pace((edges[1:] + edges[:-1]) / 2.0))
        run = np.r_[0.0, np.cumsum(pace)]
        return edges, run * (MONTHS_PER_YEAR / run[-1])

    def _clock(self, month: Numbers) -> Numbers:
        years, left = np.divmod(month, MONTHS_PER_YEAR)
        return np.asarray(years * MONTHS_PER_YEAR + np.interp(left, *self._read))

    def clock_age(self, entry_month: Numbers, age_months: Numbers) -> Numbers:
        """Age on the clock of bins given at a time of the year; the two are broadcast [months]."""
        age = np.where(np.isfinite(age_months), age_months, 0.0)
        run = self._clock(entry_month + age) - self._clock(entry_month)
        return np.asarray(np.where(np.isfinite(age_months), run, np.inf))

    def on_clock(self, intervals: Intervals, entry_month: Numbers) -> Intervals:
        """Ages of stopping as the clock reads them."""
        if not self.swing:
            return intervals
        lower = self.clock_age(entry_month, intervals.lower)
        upper = self.clock_age(entry_month, intervals.upper)
        return Intervals(lower, np.where(intervals.is_exact, lower, upper))


NO_SEASON = StoppingSeason(0.0, 0.0)


@dataclass(frozen=True)
class SeasonBelief:
    """Seasons that the answers leave possible."""

    seasons: tuple[StoppingSeason, ...] = (NO_SEASON,)  # those tried, none first
    probability: tuple[float, ...] = (1.0,)  # shape (seasons,), adding up to 1

    @property
    def of_any(self) -> float:
        """Probability that there is a season."""
        return 1.0 - self.probability[0]

    @property
    def central(self) -> int:
        """Place of the season of the central curve: the likeliest, or none."""
        return 0 if self.of_any < USED_FROM else 1 + int(np.argmax(self.probability[1:]))

    def draw(self, rows: int, rng: np.random.Generator) -> Integers:
        """Place of each row's season, the central one first; nothing is drawn if none is likely."""
        places = np.full(rows, self.central, dtype=np.int64)
        if len(self.seasons) > 1:
            places[1:] = rng.choice(len(self.seasons), rows - 1, p=self.probability)
        return places


def entry_months(day_of_year: Numbers) -> Numbers:
    """Months since 1 January at the middle of a day of the year, below 12."""
    return np.asarray(np.mod((day_of_year - 0.5) / DAYS_PER_MONTH, MONTHS_PER_YEAR))


def choose_knots(intervals: Intervals, weights: Numbers) -> tuple[float, ...]:
    """Ages at which the curve's shape may change: between equal parts of the ages of stopping.

    With thirty bins known to have stopped, the weighted thirds of their ages (the middle of
    what is known), from eighty on a part for every twenty, six at most; with fewer than thirty
    none, which leaves a Weibull curve. Bins never set up, given up in the first months and
    given up later do not follow one shape.

    Parameters
    ----------
    intervals
        Shape (n,): ages between which each bin stopped [months].
    weights
        Shape (n,).

    References
    ----------
    Royston, P. and Parmar, M.K.B. (2002), Statistics in Medicine 21, 2175-2197 (knots at
    quantiles of the times that are known). Ten and twenty a piece: common practice, no source.

    Examples
    --------
    >>> seen = Intervals(np.arange(60.0), np.arange(60.0) + 2.0)
    >>> choose_knots(seen, np.ones(60))
    (20.0, 40.0)
    >>> choose_knots(seen, np.zeros(60))
    ()
    """
    is_out = np.isfinite(intervals.upper) & (weights > 0.0)
    if is_out.sum() < LEAST_STOPPED:
        return ()
    pieces = int(np.clip(is_out.sum() // STOPPED_IN_PIECE, FEWEST_PIECES, MOST_PIECES))
    middle = (intervals.lower[is_out] + intervals.upper[is_out]) / 2.0
    order = np.argsort(middle, kind="stable")
    reached = np.cumsum(weights[is_out][order])
    places = np.searchsorted(reached, reached[-1] * np.arange(1, pieces) / pieces - 1e-9)
    return tuple(float(age) for age in np.unique(middle[order][places]) if age > 0.0)


def believe_season(
    intervals: Intervals,
    entry_month: Numbers,
    weights: Numbers,
    design_effect: float,
    slope_belief: float,
) -> SeasonBelief:
    """Weigh seasons of giving up against none by how well the curve fits under each.

    Peaks in every month and four swings are tried, the curve fitted anew under each. None and
    some are held equally likely before, seasons alike among themselves. Those that leave less
    than a twentieth for a season are dropped, as are all where too few have stopped; else
    replicates draw one, which widens intervals where the answers cannot tell, and the central
    curve takes the likeliest from three to one on.

    Parameters
    ----------
    intervals
        Shape (n,): ages between which each bin stopped [months].
    entry_month
        Shape (n,): when each was given [months since 1 January].
    weights
        Shape (n,).
    design_effect
        An answer counts one over it in the likelihood.
    slope_belief
        As for `fit_log_times`.

    References
    ----------
    Kass, R.E. and Raftery, A.E. (1995), Bayes factors, Journal of the American Statistical
    Association 90, 773-795. Mardia, K.V. and Jupp, P.E. (2000), Directional Statistics, Wiley,
    section 3.5.4 (the von Mises density). Cox, D.R. and Oakes, D. (1984), Analysis of Survival
    Data, Chapman and Hall, chapter 5 (ages on a clock of use). All from memory.
    """
    if not choose_knots(intervals, weights):
        return SeasonBelief()
    scaled = weights * (intervals.lower.size / weights.sum() / design_effect)

    def worth(season: StoppingSeason) -> float:
        seen = season.on_clock(intervals, entry_month)
        fit = fit_log_times(seen, scaled[None, :], slope_belief, choose_knots(seen, weights))
        # a density in days of the year, not of the clock
        exact = intervals.is_exact
        pace = season.log_pace((entry_month + intervals.lower)[exact])
        return float(fit.log_likelihood[0] + scaled[exact] @ pace)

    peaks = np.arange(MONTHS_PER_YEAR) + 0.5
    none = worth(NO_SEASON)
    gains = {(FIRST_TRIED, peak): worth(StoppingSeason(FIRST_TRIED, peak)) - none for peak in peaks}
    if max(gains.values()) < LEAST_GAIN:
        return SeasonBelief()
    for swing in SWINGS:
        if swing != FIRST_TRIED:
            gains |= {(swing, p): worth(StoppingSeason(swing, p)) - none for p in peaks}
    gain = np.array(list(gains.values()))
    worth_of_all = np.r_[0.0, gain - np.log(gain.size)]
    odds = np.exp(worth_of_all - worth_of_all.max())
    probability = odds / odds.sum()
    if probability[1:].sum() < LEAST_PROBABLE:
        return SeasonBelief()
    seasons = (NO_SEASON, *(StoppingSeason(*pair) for pair in gains))
    return SeasonBelief(seasons, tuple(probability.tolist()))
