"""Season of feeding: a stated belief, shrunk by weighed weeks, survey rounds and temperature.

The worms' model has a season of its own, what a stock can take. What is estimated here is
how far feed over the year goes beside that: summer scraps, holidays, winters indoors.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from planner.arrays import Integers, Numbers
from planner.units import DAYS_PER_YEAR, MONTHS_PER_YEAR

if TYPE_CHECKING:
    from collections.abc import Sequence


SEASONAL_VARIANCE_SHARE = 0.75
"""Of the stated spread of a surveyed week about its year, the part that returns every year;
the rest comes and goes (assumed, no source)."""

VARIANCE_SHARES = np.array([1 / 2, 3 / 16, 3 / 16, 1 / 16, 1 / 16])
"""How a belief in a season splits over temperature, a yearly and a half-yearly wave: households
are thought to follow the weather first (assumed, no source)."""

SCALES = np.array([1.0, 1.5, 2.0, 3.0, 4.0, 6.0])
"""Widths of the belief, over the stated one, that clear data may speak for."""

LEVEL_SPREAD = 0.05
"""Standard deviation of true changes of feed from round to round that are no season (assumed)."""

NEWTON_STEPS = 12


@dataclass(frozen=True)
class Season:
    """Feed over the year beside the worms' model, as the logarithm of a factor."""

    # shape (1 + draws_count, 5): of temperature and two waves, each with a mean square of 1 over
    # the year
    coefficients: Numbers
    # shape (1 + draws_count, rounds): how far the weeks of each round lie off for reasons that do
    # not return
    round_errors: Numbers
    temperature: Numbers  # shape (12,): monthly means, mean 0 and mean square 1
    scale: float  # width of the belief that the data spoke for, over the stated one
    # share of the variance of the belief in a season, over the year, that data took out
    data_share: float
    # weighed weeks of settled bins, and households with two or more of them, behind it
    weeks_count: int
    households_count: int

    def log_factor(self, days: Numbers) -> Numbers:
        """Logarithm of the season's factor on days, shape (1 + draws_count, days).

        Parameters
        ----------
        days
            Shape (days,): proleptic ordinals, as `datetime.date.toordinal` gives them.
        """
        return np.asarray(self.coefficients @ waves(days, self.temperature).T)


@dataclass(frozen=True)
class WeighedWeeks:
    """Weeks of settled bins that households weighed."""

    household: Integers  # shape (weeks,): number of each week's household
    days: Numbers  # shape (weeks,): ordinal of the middle of the week
    # shape (weeks,): weighed, and by the model of a bin in use without a season [kg]
    weighed_kg: Numbers
    modelled_kg: Numbers


@dataclass(frozen=True)
class RoundFeedRatios:
    """Surveyed over modelled feed of each round."""

    days: Numbers  # shape (rounds,): ordinals of their mean days
    ratios: Numbers  # shape (rounds,), central
    # shape (rounds,): of the logarithms of the ratios, by sampling
    standard_errors: Numbers
    # shape (rounds,): share of the reporting year that takes its level from each
    year_shares: Numbers
    year_days: Numbers  # shape (months,): ordinals of the middles of the year's months


def waves(days: Numbers, temperature: Numbers) -> Numbers:
    """Temperature, a yearly and a half-yearly wave on days, shape (days, 5).

    Examples
    --------
    >>> flat = waves(np.arange(365.0), np.zeros(12))
    >>> (flat**2).mean(axis=0).round(2).tolist()
    [0.0, 1.0, 1.0, 1.0, 1.0]
    """
    turn = 2.0 * np.pi * (days - dt.date(2001, 1, 1).toordinal()) / DAYS_PER_YEAR
    month = np.mod(turn / (2.0 * np.pi), 1.0) * MONTHS_PER_YEAR
    warmth = np.interp(month, np.arange(MONTHS_PER_YEAR) + 0.5, temperature, period=12.0)
    root = np.sqrt(2.0)
    return np.column_stack(
        [warmth, *(root * part(n * turn) for n in (1, 2) for part in (np.cos, np.sin))]
    )


def fit_season(
    weeks: WeighedWeeks,
    rounds: RoundFeedRatios,
    monthly_mean_temperature_c: Sequence[float],
    year_to_surveyed_weeks: Numbers,
    spread: float,
    rng: np.random.Generator,
) -> Season:
    """Estimate the season from weighed weeks within households and from rounds among them.

    A household's weighed weeks are set against each other, so that who weighs does not
    matter; rounds against each other, beside true changes of level. Both shrink the stated
    belief, three quarters of whose variance is a season. Where they clearly speak for a
    wider season the belief is widened first; without data the error of a year's mean is
    that of the belief itself, draw by draw.

    Parameters
    ----------
    monthly_mean_temperature_c
        From the program file, January first [°C].
    year_to_surveyed_weeks
        Shape (1 + draws_count,): draws of the stated belief, a year's mean feed over that
        of one surveyed round, about 1.
    spread
        Standard deviation of that belief, see `stated_spread`.
    rng
        Draws what the belief leaves open beside the year's mean.

    Notes
    -----
    Weeks: quasi-Poisson likelihood given each household's total, its dispersion from
    residuals and from whole households; rounds: normal. Nothing central is taken from
    draws, so that another seed moves intervals alone. Prior
    ``N(0, s² diag(VARIANCE_SHARES) scale²)``, scale by marginal likelihood.

    References
    ----------
    McCullagh, P. and Nelder, J.A. (1989), Generalized Linear Models, 2nd ed., sections 6.4
    (conditional likelihood), 9.2 (quasi-likelihood). Gelman, A. et al. (2013), Bayesian Data
    Analysis, 3rd ed., section 4.1 (normal approximation).
    """
    temperature = standardised(np.asarray(monthly_mean_temperature_c, dtype=float))
    seasonal = spread**2 * SEASONAL_VARIANCE_SHARE
    irregular = float(spread * np.sqrt(1.0 - SEASONAL_VARIANCE_SHARE))
    belief = seasonal * VARIANCE_SHARES
    precision, pull, households_count = _told_by_weeks(weeks, temperature, belief)
    of_rounds = _told_by_rounds(rounds, temperature, irregular)
    precision, pull = precision + of_rounds[0], pull + of_rounds[1]
    scale = _width(belief, precision, pull)
    covariance = np.asarray(np.linalg.inv(precision + np.diag(1.0 / (belief * scale**2))))
    contrast = waves(rounds.year_days, temperature).mean(axis=0) - (
        rounds.year_shares @ waves(rounds.days, temperature)
    )
    deviations = _deviations(
        covariance, irregular, contrast, rounds.year_shares, year_to_surveyed_weeks, rng
    )
    return Season(
        coefficients=covariance @ pull + deviations[:, : belief.size],
        round_errors=deviations[:, belief.size :],
        temperature=temperature,
        scale=scale,
        data_share=1.0 - float(np.trace(covariance) / (belief.sum() * scale**2)),
        weeks_count=weeks.days.size,
        households_count=households_count,
    )


def stated_spread(draws: Numbers) -> float:
    """Take the standard deviation of a stated belief, to two digits: no belief is more exact.

    Rounded, it is the same whatever the seed of the draws.

    Examples
    --------
    >>> stated_spread(np.array([0.0, -0.0873, 0.0873]))
    0.087
    """
    return float(f"{draws[1:].std():.2g}")


def standardised(temperature_c: Numbers) -> Numbers:
    """Temperatures with mean 0 and mean square 1; all 0 where every month is alike."""
    away = temperature_c - temperature_c.mean()
    spread = float(np.sqrt(np.mean(away**2)))
    return np.asarray(away / spread if spread > 0.0 else away)


def _told_by_weeks(
    weeks: WeighedWeeks, temperature: Numbers, belief: Numbers
) -> tuple[Numbers, Numbers, int]:
    """Precision and precision-weighted mean that weighed weeks give the coefficients."""
    nothing = np.zeros((belief.size, belief.size)), np.zeros(belief.size), 0
    count = np.bincount(weeks.household) if weeks.days.size else np.zeros(1, dtype=int)
    total = np.bincount(weeks.household, weeks.weighed_kg, minlength=count.size)
    # a household with one week, or none fed, has nothing to set against anything
    kept = (count[weeks.household] > 1) & (total[weeks.household] > 0.0)
    kept &= weeks.modelled_kg > 0.0
    households, member = np.unique(weeks.household[kept], return_inverse=True)
    freedom = int(kept.sum()) - households.size - belief.size
    if freedom <= 0:
        return nothing
    weighed, design = weeks.weighed_kg[kept], waves(weeks.days[kept], temperature)
    totals = np.bincount(member, weighed)
    mean = np.zeros(belief.size)
    # as wide a belief as any steadies the steps; it is taken out of what is handed back
    steady = np.diag(1.0 / (belief * SCALES[-1] ** 2))
    for _ in range(NEWTON_STEPS):
        rate = weeks.modelled_kg[kept] * np.exp(design @ mean)
        share = rate / np.bincount(member, rate)[member]
        fitted = totals[member] * share
        centre = _by(member, share[:, None] * design)[member]
        scores = _by(member, (weighed - fitted)[:, None] * design)
        score, away = scores.sum(axis=0), design - centre
        information = away.T @ (fitted[:, None] * away)
        dispersion = float(((weighed - fitted) ** 2 / fitted).sum()) / freedom
        # weeks of a household that go together count as fewer
        together = np.trace(np.linalg.pinv(information) @ (scores.T @ scores)) / belief.size
        dispersion = max(dispersion, float(together), 1e-9)
        step = np.linalg.solve(
            information / dispersion + steady, score / dispersion - steady @ mean
        )
        mean = mean + step
    precision = information / dispersion
    return precision, precision @ mean + (score / dispersion), households.size


def _by(member: Integers, values: Numbers) -> Numbers:
    """Sum rows by household, shape (households, columns)."""
    summed = np.zeros((int(member.max()) + 1, values.shape[1]))
    np.add.at(summed, member, values)
    return summed


def _told_by_rounds(
    rounds: RoundFeedRatios, temperature: Numbers, irregular: float
) -> tuple[Numbers, Numbers]:
    """Precision and precision-weighted mean that survey rounds give the coefficients."""
    variance = rounds.standard_errors**2 + LEVEL_SPREAD**2 + irregular**2
    weight = np.diag(1.0 / variance)
    # the common level is not known: what all rounds share says nothing of a season
    ones = weight.sum(axis=1)
    weight = weight - np.outer(ones, ones) / ones.sum()
    design = waves(rounds.days, temperature)
    logs = np.log(np.maximum(rounds.ratios, 1e-9))
    return design.T @ weight @ design, design.T @ weight @ logs


def _width(belief: Numbers, precision: Numbers, pull: Numbers) -> float:
    """Width of the belief by marginal likelihood, the stated one unless data speak up."""

    def evidence(scale: float) -> float:
        prior = belief * scale**2
        joint = precision + np.diag(1.0 / prior)
        height = pull @ np.linalg.solve(joint, pull)
        volume = np.linalg.slogdet(joint)[1] + np.log(prior).sum()
        return float((height - volume) / 2.0 - (scale - 1.0))

    return float(SCALES[int(np.argmax([evidence(scale) for scale in SCALES]))])


def _deviations(
    covariance: Numbers,
    irregular: float,
    contrast: Numbers,
    year_shares: Numbers,
    year_to_surveyed_weeks: Numbers,
    rng: np.random.Generator,
) -> Numbers:
    """Errors of coefficients and rounds, the first row 0, shape (1 + draws, 5 + rounds).

    The direction that moves the year's mean follows the draws of the stated belief, so that
    its shape stays and a share of the variance can be put down to it.
    """
    parts, rounds = contrast.size, year_shares.size
    root = np.zeros((parts + rounds, parts + rounds))
    root[:parts, :parts] = np.linalg.cholesky(covariance)
    root[parts:, parts:] = irregular * np.eye(rounds)
    along = root.T @ np.concatenate([contrast, -year_shares])
    size = float(np.linalg.norm(along))
    first = along / size if size > 0.0 else np.eye(along.size)[0]
    turned = np.linalg.qr(np.column_stack([first, np.eye(along.size)]))[0]
    turned[:, 0] = first  # the decomposition may turn its sign
    believed = year_to_surveyed_weeks - year_to_surveyed_weeks[0]
    spread = float(believed[1:].std()) if believed.size > 1 else 0.0
    normal = rng.standard_normal((believed.size, along.size))
    normal[0] = 0.0
    normal[:, 0] = believed / spread if spread > 0.0 else 0.0
    return np.asarray(normal @ turned.T @ root.T)
