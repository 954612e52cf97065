"""Who is likely to give up: a hazard of stopping fitted on a program's own answers."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import polars as pl
import scipy

from planner.arrays import Integers, Numbers, numbers_of
from planner.field.stopping import (
    Spells,
    exposure_months,
    fit_hazard,
    total_hazard,
)
from planner.figures import INTERVAL_PERCENT
from planner.survey.response import stopping_design
from planner.units import DAYS_PER_MONTH, PER_CENT

KNOWN_AT_START = (
    "dwelling",
    "people",
    "channel",
    "area_id",
    "model_id",
    "reported_state",
    "reported_feed",
    "has_complained",
    "is_reached",
    "is_taught",
)
"""Columns of the query stopping_spells that may tell who stops."""

DRAWS = 2_000

LEAST_STOPPED = 30
"""Fewest stops of a fit. Common practice asks 10 for each effect; the belief holds the rest."""

FOLDS = 5
AHEAD_MONTHS = 3.0


@dataclass(frozen=True)
class Dropout:
    """A fitted hazard of stopping, and how it did on households that it had not seen."""

    # one row a household whose bin may still be in use: household_id, in_use_chance (on the day),
    # stop_chance (within three months, if in use), may_stop_chance (both: in use and stopping
    # within three months), stop_chance_12_months
    risk: pl.DataFrame
    # held-out spells in five groups by rising risk: spells_count, expected_share, stopped_share,
    # low, high (exact 95% interval of the share stopped)
    groups: pl.DataFrame
    # of calibration: 1 where risks spread as they should, less where they spread too far
    slope: float
    expected_over_stopped: float  # stops expected over stops seen, of spells held out
    # In the fifth whose risk is largest for the age of its bins, stops seen over stops that age
    # alone expects, held out; with the 95% interval of 2,000 draws of households. At 1 the model
    # knows no more than the age of the bin.
    lift: float
    lift_low: float
    lift_high: float
    # what the fit rests on
    spells_count: int
    stopped_count: int

    @property
    def sorts(self) -> bool:
        """Whether it sorts better than chance on households that it had not seen."""
        return self.lift_low > 1.0


def fit_dropout(spells: pl.DataFrame, rng: np.random.Generator) -> Dropout | None:
    """Fit the hazard of stopping and judge it on held-out households; None where stops are few.

    The chance that a bin in use at one time is found out of use at the next is one minus the
    exponential of minus the hazard summed over the time between: the grouped proportional
    hazards model. The hazard steps with the age of the bin and is multiplied by what was known
    when the time began. A normal belief about the logarithm of each hazard ratio shrinks what few
    households say; how far it spreads is chosen by the evidence of the answers. A bin that came
    back is known of without an answer, those kept are not: such spells weigh as much as the
    share of households heard.

    Notes
    -----
    ``P(stop) = 1 - exp(-sum_b e_b exp(a_b + x'beta))`` with e_b months in age band b, and 1
    for the lump at the hand-over, which holds bins that were never set up.

    References
    ----------
    Prentice, R.L. and Gloeckler, L.A. (1978), Regression analysis of grouped survival data
    with application to breast cancer data, Biometrics 34, 57-67 (from memory). Cox, D.R.
    (1958), Two further applications of a model for binary regression, Biometrika 45, 562-565
    (calibration slope; from memory). MacKay, D.J.C. (1992), Bayesian interpolation, Neural
    Computation 4, 415-447 (the spread by evidence; from memory).
    """
    ended = spells["has_stopped"].is_not_null().to_numpy()
    stopped_count = int(spells["has_stopped"].sum() or 0)
    if stopped_count < LEAST_STOPPED or stopped_count == int(ended.sum()):
        return None
    design = stopping_design(spells, KNOWN_AT_START)
    laid = Spells(
        exposure_months(spells["start_age_days"], spells["end_age_days"]),
        design[:, 1:],
        spells["has_stopped"].fill_null(value=False).to_numpy().astype(float),
        _weights(spells),
    )
    point = fit_hazard(laid.of(ended))
    known, rows = laid.of(ended), spells.filter(ended)
    fold = _folds(rows, rng)
    of_age = replace(known, design=known.design[:, :0])
    hazard, by_age = (_held_out_hazard(one, fold) for one in (known, of_age))
    judged = _judge(hazard, by_age, known, rows, rng)
    return Dropout(
        _risks(spells, laid, point),
        *judged,
        int(ended.sum()),
        stopped_count,
    )


def _weights(spells: pl.DataFrame) -> Numbers:
    """One, and for spells that a giveback ended the share of other households heard."""
    heard = (
        spells.group_by("household_id")
        .agg(
            is_back=pl.col("ends_by_giveback").any(),
            is_heard=pl.col("has_stopped").is_not_null().any(),
        )
        .filter(~pl.col("is_back"))["is_heard"]
        .mean()
    )
    share = float(heard) if isinstance(heard, float) else 1.0
    return np.where(spells["ends_by_giveback"].to_numpy(), share, 1.0)


def _folds(rows: pl.DataFrame, rng: np.random.Generator) -> Integers:
    """Deal households to folds; all spells of one go together."""
    household = numbers_of(rows["household_id"])
    return np.asarray(rng.permutation(np.arange(household.max() + 1) % FOLDS)[household])


def _held_out_hazard(spells: Spells, fold: Integers) -> Numbers:
    """Sum the hazard of each spell, by a fit to households of the other folds."""
    hazard = np.zeros(len(fold))
    for one in range(FOLDS):
        mine = fold == one
        hazard[mine] = total_hazard(spells.of(mine), fit_hazard(spells.of(~mine)))
    return hazard


def _judge(
    hazard: Numbers, of_age: Numbers, spells: Spells, rows: pl.DataFrame, rng: np.random.Generator
) -> tuple[pl.DataFrame, float, float, float, float, float]:
    """Calibration of held-out spells in fifths by risk for the age, and lift over age alone."""
    group, chance = _fifths(hazard / of_age), -np.expm1(-hazard)
    expected, household = -np.expm1(-of_age), numbers_of(rows["household_id"])
    count = household.max() + 1
    times = rng.multinomial(count, np.full(count, 1.0 / count), size=DRAWS)
    drawn = [_lift(group, expected, spells, one[household]) for one in times]
    lift_low, lift_high = np.nanpercentile(drawn, INTERVAL_PERCENT)
    return (
        _calibration(group, chance, spells),
        _slope(hazard, spells),
        float((spells.weights @ chance) / (spells.weights @ spells.stopped)),
        _lift(group, expected, spells),
        float(lift_low),
        float(lift_high),
    )


def _calibration(group: Integers, chance: Numbers, spells: Spells) -> pl.DataFrame:
    """Set stops of each fifth against those expected, weighed as they were fitted."""
    counted = (
        pl.DataFrame(
            {
                "group": group,
                "weight": spells.weights,
                "expected": spells.weights * chance,
                "stopped": spells.weights * spells.stopped,
            }
        )
        .group_by("group")
        .agg(pl.len().cast(pl.Int64).alias("spells_count"), pl.exclude("group").sum())
        .sort("group")
    )
    low, high = exact_interval(counted["stopped"].to_numpy(), counted["weight"].to_numpy())
    return counted.select(
        "spells_count",
        expected_share=pl.col("expected") / pl.col("weight"),
        stopped_share=pl.col("stopped") / pl.col("weight"),
        low=pl.Series(low),
        high=pl.Series(high),
    )


def _fifths(risk: Numbers) -> Integers:
    """Fifth of each spell by rising risk, from 0."""
    group = np.empty(len(risk), dtype=np.int64)
    group[np.argsort(risk, kind="stable")] = np.arange(len(risk)) * FOLDS // len(risk)
    return group


def _lift(
    group: Integers, expected: Numbers, spells: Spells, times: Numbers | float = 1.0
) -> float:
    """Set stops over those that age expects, in the riskiest fifth, against the same of all."""
    weights = spells.weights * times
    top = group == FOLDS - 1
    of_all = (weights @ spells.stopped) / (weights @ expected)
    at_top = weights[top] @ expected[top]
    if of_all == 0.0 or at_top == 0.0:
        return float("nan")
    return float((weights[top] @ spells.stopped[top]) / at_top / of_all)


def _slope(hazard: Numbers, spells: Spells) -> float:
    """Slope of the log hazard in a fit of the stops on it, about its mean."""
    logs = np.log(np.maximum(hazard, 1e-12))
    centre = logs.mean()

    def loss(point: Numbers) -> float:
        total = np.exp(np.clip(point[0] + point[1] * (logs - centre), -30.0, 10.0))
        fallen = -np.expm1(-np.maximum(total, 1e-12))
        said = spells.stopped * np.log(fallen) - (1.0 - spells.stopped) * total
        return -float(spells.weights @ said)

    return float(scipy.optimize.minimize(loss, np.array([centre, 1.0]), method="Nelder-Mead").x[1])


def exact_interval(stopped: Numbers, count: Numbers) -> tuple[Numbers, Numbers]:
    """Exact 95% interval of a binomial share, lower and upper limits.

    References
    ----------
    Clopper, C.J. and Pearson, E.S. (1934), Biometrika 26, 404-413.

    Examples
    --------
    >>> low, high = exact_interval(np.array([0.0]), np.array([10.0]))
    >>> low.round(4).tolist(), high.round(4).tolist()
    ([0.0], [0.3085])
    """
    tail = INTERVAL_PERCENT[0] / PER_CENT
    stopped, count = np.asarray(stopped, dtype=float), np.asarray(count, dtype=float)
    inner = scipy.special.betaincinv(np.maximum(stopped, 1e-300), count - stopped + 1.0, tail)
    outer = scipy.special.betaincinv(stopped + 1.0, np.maximum(count - stopped, 1e-300), 1.0 - tail)
    return np.where(stopped > 0.0, inner, 0.0), np.where(stopped < count, outer, 1.0)


def _risks(spells: pl.DataFrame, laid: Spells, point: Numbers) -> pl.DataFrame:
    """Chances of the households whose newest spell is open."""
    is_open = spells["has_stopped"].is_null().to_numpy()
    now = spells["end_age_days"]

    def hazard_until(days: float) -> Numbers:
        ahead = Spells(exposure_months(now, now + days), laid.design, laid.stopped, laid.weights)
        return total_hazard(ahead.of(is_open), point)

    in_use = np.exp(-total_hazard(laid.of(is_open), point))
    soon = -np.expm1(-hazard_until(AHEAD_MONTHS * DAYS_PER_MONTH))
    year = -np.expm1(-hazard_until(12.0 * DAYS_PER_MONTH))
    return pl.DataFrame(
        {
            "household_id": spells["household_id"].filter(is_open),
            "in_use_chance": in_use,
            "stop_chance": soon,
            "may_stop_chance": in_use * soon,
            "stop_chance_12_months": year,
        }
    )
