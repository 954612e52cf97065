"""Retention: the share of bins still in use, by age since hand-over."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from planner.arrays import Flags, Integers, Numbers
from planner.survey.climbing import lengths
from planner.survey.row_weights import summed_by
from planner.survey.stopping_season import NO_SEASON, StoppingSeason

if TYPE_CHECKING:
    from collections.abc import Sequence

    from planner.survey.row_weights import Weights


BAND_MONTHS = 3
LEAST_ANSWERS_IN_BAND = 10
"""Fewer answers in a band of ages are not shown on their own."""

NODES = 48
"""Points of the quadrature of a piece of the curve; doubling them moves no digit printed."""


@dataclass(frozen=True)
class Retention:
    """A fitted retention curve, with draws: Weibull, or Weibull in pieces.

    ``S(a) = exp(-exp(z))`` with ``z = level + slope × log(a / reference)``; the slope, the
    Weibull shape, may change at the knots, where the curve has no step.
    """

    level: Numbers  # shape (1 + draws_count,): z at the reference age
    # shape (1 + draws_count, 1 + knots): below 1 the hazard of stopping falls with age
    shapes: Numbers
    reference_months: float  # age at which z is `level` [months]
    knots_months: tuple[float, ...]  # ages at which the shape may change [months]
    # households behind the fit, and those whose bin was known to be out of use
    answers_count: int
    stopped_count: int
    oldest_months: float  # oldest age known of; beyond it the curve is carried on [months]
    # seasons of giving up; the curve is then over ages on their clocks
    seasons: tuple[StoppingSeason, ...] = (NO_SEASON,)
    # shape (1 + draws_count,): place in `seasons` of each row's
    season_of_row: Integers | None = None
    # shape (12,): share of the bins given in each month of the year, over which a curve by age
    # alone is the mean
    entry_shares: tuple[float, ...] = (1.0,)
    # How far draws lie from the central row, as a share of where they would for bins in general:
    # below 1 where part of the bins is known. A number, or one for each age asked for.
    reach: float | Numbers = 1.0

    def first(self, rows: int) -> Retention:
        """Keep the first draws alone."""
        seasons = None if self.season_of_row is None else self.season_of_row[:rows]
        return replace(
            self, level=self.level[:rows], shapes=self.shapes[:rows], season_of_row=seasons
        )

    def in_use_share(self, age_months: Numbers, entry_month: Numbers | None = None) -> Numbers:
        """Share of bins in use at each age, shape (1 + draws_count, *ages).

        Parameters
        ----------
        age_months
            Any shape [months].
        entry_month
            When bins were given [months since 1 January], broadcast against the ages; unless
            said, the mean over those that were given.

        Examples
        --------
        >>> curve = Retention(np.zeros(1), np.ones((1, 1)), 24.0, (), 0, 0, 24.0)
        >>> curve.in_use_share(np.array([0.0, 24.0])).round(4).tolist()
        [[1.0, 0.3679]]
        """
        age = np.maximum(np.asarray(age_months, dtype=float), 0.0)
        share = self._in_general(age, entry_month)
        return np.asarray(share[:1] + self.reach * (share - share[:1]))

    def _in_general(self, age: Numbers, entry_month: Numbers | None) -> Numbers:
        if self.season_of_row is None:
            return self._of_rows(slice(None), age)
        shape = (
            age.shape if entry_month is None else np.broadcast_shapes(age.shape, entry_month.shape)
        )
        share = np.empty((self.level.size, *shape))
        for place in np.unique(self.season_of_row):
            rows, season = self.season_of_row == place, self.seasons[place]
            if season == NO_SEASON:
                share[rows] = self._of_rows(rows, np.broadcast_to(age, shape))
            elif entry_month is not None:
                share[rows] = self._of_rows(rows, season.clock_age(entry_month, age))
            else:
                share[rows] = sum(
                    part * self._of_rows(rows, season.clock_age(np.array(month + 0.5), age))
                    for month, part in enumerate(self.entry_shares)
                    if part > 0.0
                )
        return share

    def _of_rows(self, rows: slice | Flags, age: Numbers) -> Numbers:
        ages, place = np.unique(age, return_inverse=True)
        is_older = ages > 0.0
        share = np.ones((self.level[rows].size, ages.size))
        share[:, is_older] = self._at(rows, np.log(ages[is_older]))
        return np.asarray(share[:, place.reshape(age.shape)])

    def _at(self, rows: slice | Flags, log_age: Numbers) -> Numbers:
        origin = np.log(self.reference_months)
        knots = np.log(np.asarray(self.knots_months)) - origin
        along = lengths(log_age - origin, knots)
        z = self.level[rows, None] + self.shapes[rows] @ along.T
        with np.errstate(over="ignore"):
            return np.asarray(np.exp(-np.exp(z)))


def active_months(
    curve: Retention, horizon_months: Numbers, entry_month: Numbers | None = None
) -> Numbers:
    """Mean months in use of a bin up to an age, shape (1 + draws_count, *horizon).

    Parameters
    ----------
    horizon_months
        Ages, 0 or more [months]; a cohort's bin-months between two ages are the bins
        given times the difference.
    entry_month
        As for `Retention.in_use_share`, in the shape of the horizon.

    Notes
    -----
    ``M(H) = ∫₀ᴴ S``, in the logarithm of age: Gauss-Laguerre up to the first knot or H,
    Gauss-Legendre from knot to knot. For one shape k it is the known
    ``scale Γ(1 + 1/k) P(1/k, (H / scale)^k)``, which overflows where k is small.

    References
    ----------
    Royston, P. and Parmar, M.K.B. (2013), Restricted mean survival time, BMC Medical
    Research Methodology 13, 152.

    Examples
    --------
    >>> constant = Retention(np.zeros(1), np.ones((1, 1)), 10.0, (), 0, 0, 10.0)
    >>> active_months(constant, np.array([10.0])).round(6).tolist()  # 10 (1 - 1/e)
    [[6.321206]]
    """
    horizon = np.asarray(horizon_months, dtype=float)
    entry = None if curve.season_of_row is None else entry_month
    # a complex number holds a pair, and sorts far faster than one
    pairs = horizon.ravel() + (0.0j if entry is None else 1.0j * entry.ravel())
    distinct, place = np.unique(pairs, return_inverse=True)
    ends, given = distinct.real, distinct.imag

    def shares(ages: Numbers, reached: Flags) -> Numbers:
        return curve.in_use_share(ages, None if entry is None else given[reached, None])

    area = np.zeros((curve.level.size, ends.size))
    first = np.minimum(ends, min(curve.knots_months, default=np.inf))
    reached = first > 0.0
    back, weight = np.polynomial.laguerre.laggauss(NODES)
    ages = first[reached, None] * np.exp(-back)
    area[:, reached] = (shares(ages, reached) @ weight) * first[reached]
    node, weight = np.polynomial.legendre.leggauss(NODES)
    for begins, ends_at in zip(curve.knots_months, (*curve.knots_months[1:], np.inf), strict=False):
        reached = ends > begins
        log_low, log_high = np.log(begins), np.log(np.minimum(ends[reached], ends_at))
        half = (log_high - log_low) / 2.0
        ages = np.exp(log_low + half[:, None] * (node + 1.0))
        area[:, reached] += half * ((shares(ages, reached) * ages) @ weight)
    return np.asarray(area[:, place.reshape(horizon.shape)])


@dataclass(frozen=True)
class TownCurve:
    """The town's curve: those of its groups, each by its share of the households."""

    curves: tuple[Retention, ...]  # a curve for each group
    shares: Numbers  # shape (1 + draws_count, groups), each row adding up to 1

    def in_use_share(self, age_months: Numbers) -> Numbers:
        """Share of bins in use at each age, shape (1 + draws_count, *ages)."""
        return self._together([curve.in_use_share(age_months) for curve in self.curves])

    def active_months(self, horizon_months: Numbers) -> Numbers:
        """Mean months in use up to an age, shape (1 + draws_count, *horizon)."""
        return self._together([active_months(curve, horizon_months) for curve in self.curves])

    def first(self, rows: int) -> TownCurve:
        """Keep the first draws alone."""
        return TownCurve(tuple(c.first(rows) for c in self.curves), self.shares[:rows])

    def _together(self, parts: Sequence[Numbers]) -> Numbers:
        weight = self.shares.T.reshape(len(parts), -1, *[1] * (parts[0].ndim - 1))
        return np.asarray((weight * np.stack(parts)).sum(axis=0))


@dataclass(frozen=True)
class ObservedShares:
    """Plain weighted shares in use by band of age, to set beside the curve."""

    # limits of each band [months]
    from_months: tuple[int, ...]
    to_months: tuple[int, ...]
    mean_months: tuple[float, ...]  # mean age of its answers [months]
    in_use_share: Numbers  # shape (1 + draws_count, bands)
    answers_count: tuple[int, ...]  # answers in each band


def observed_shares(age_months: Numbers, is_in_use: Flags, weights: Weights) -> ObservedShares:
    """Take the weighted share in use in each band of three months with ten answers or more.

    Parameters
    ----------
    age_months, is_in_use
        Shape (n,).
    weights
        Shape (1 + draws_count, n).

    Examples
    --------
    >>> age = np.full(10, 4.0)
    >>> bands = observed_shares(age, np.arange(10) < 8, np.ones((1, 10)))
    >>> bands.from_months, bands.in_use_share.tolist()
    ((3,), [[0.8]])
    """
    band = np.floor(np.maximum(age_months, 0.0) / BAND_MONTHS).astype(np.int64)
    bands, place, counts = np.unique(band, return_inverse=True, return_counts=True)
    is_shown = counts >= LEAST_ANSWERS_IN_BAND
    chosen = bands[is_shown]
    total = summed_by(weights, place, bands.size)[:, is_shown]
    share = summed_by(weights * is_in_use.astype(float), place, bands.size)[:, is_shown] / total
    mean = np.bincount(place, weights[0] * age_months)[is_shown] / total[0]
    return ObservedShares(
        tuple(int(b) * BAND_MONTHS for b in chosen),
        tuple((int(b) + 1) * BAND_MONTHS for b in chosen),
        tuple(float(m) for m in mean),
        share,
        tuple(counts[is_shown].tolist()),
    )
