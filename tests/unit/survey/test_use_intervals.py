"""Ages of stopping from the store's rows, and bounds for households that were silent."""

import numpy as np
import polars as pl
import pytest

from planner.survey.turnbull import fit_turnbull
from planner.survey.use_intervals import (
    KnownHazards,
    filled_if,
    stopping_ages,
)
from planner.units import DAYS_PER_MONTH


def households(*rows):
    return pl.DataFrame(
        rows,
        schema={
            "is_known": pl.Boolean,
            "asked_age_days": pl.Int64,
            "last_in_use_age_days": pl.Int64,
            "first_out_of_use_age_days": pl.Int64,
            "is_exact": pl.Boolean,
            "inclusion_probability": pl.Float64,
        },
        orient="row",
    )


IN_USE = (True, 300, 300, None, False, 0.5)
STOPPED = (True, 300, 100, 300, False, 0.5)
CAME_BACK = (True, 300, 90, 90, True, 0.5)
BACK_AT_ONCE = (True, 300, 0, 0, True, 0.5)
SILENT = (False, 300, 0, None, False, 0.5)
SILENT_BUT_SEEN = (False, 300, 200, None, False, 0.5)
SILENT_BUT_OUT = (False, 300, 100, 150, False, 0.5)


def in_days(intervals):
    return np.c_[intervals.lower, intervals.upper] * DAYS_PER_MONTH


def test_each_kind_of_knowledge_is_its_interval():
    found = in_days(stopping_ages(households(IN_USE, STOPPED, CAME_BACK, BACK_AT_ONCE)))
    expected = [[300, np.inf], [100, 300], [90, 90], [0.5, 0.5]]
    assert found == pytest.approx(np.array(expected))


def test_silent_households_kept_or_stopped_and_what_is_known_stays():
    rows = households(IN_USE, STOPPED, SILENT, SILENT_BUT_SEEN, SILENT_BUT_OUT)
    best = in_days(stopping_ages(filled_if(rows, "all kept")))
    worst = in_days(stopping_ages(filled_if(rows, "all stopped")))
    assert best[2:] == pytest.approx(np.array([[300, np.inf], [300, np.inf], [100, 150]]))
    assert worst[2:] == pytest.approx(np.array([[0, 300], [200, 300], [100, 150]]))
    assert best[:2] == pytest.approx(worst[:2])


def test_bounds_of_the_curve_hold_the_curve_of_those_who_answered():
    rng = np.random.default_rng(1)
    asked = rng.integers(60, 900, 400)
    kept = rng.random(400) < np.exp(-asked / 900)
    told = rng.random(400) < np.where(kept, 0.7, 0.4)
    rows = households(
        *(
            (bool(t), int(a), int(a) if t and k else 0, None if k or not t else int(a), False, 0.5)
            for t, a, k in zip(told, asked, kept, strict=True)
        )
    )
    at = np.array([6.0, 12.0, 18.0])
    weights = np.ones((1, rows.height))
    best = fit_turnbull(stopping_ages(filled_if(rows, "all kept")), weights).bounds(at)[1][0]
    worst = fit_turnbull(stopping_ages(filled_if(rows, "all stopped")), weights).bounds(at)[0][0]
    answered = rows.filter("is_known")
    middle = fit_turnbull(stopping_ages(answered), np.ones((1, answered.height))).bounds(at)[0][0]
    assert np.all(worst <= middle)
    assert np.all(middle <= best)


HAZARD, UNTIL = 0.05, 10.0
"""Stops a month of a bin in use, and the month at whose end bins in use are counted."""


def errors_of_bins_in_use(weights, last, rng):
    """Variance of the error of estimated bins in use against the town's own, and in general.

    Each household drawn stands for itself and for weight - 1 of which nothing is known; the
    hazard is estimated from what is known up to an age, and bins in use from the hazard.
    """
    stops = rng.exponential(1.0 / HAZARD, (3_000, weights.size))
    told = stops < last
    hazard = told @ weights / (np.minimum(stops, last) @ weights)
    share = np.exp(-HAZARD * UNTIL)
    estimated = weights.sum() * np.exp(-hazard * UNTIL)
    others = rng.binomial(int(weights.sum()) - weights.size, share, 3_000)
    own = (stops >= UNTIL).sum(axis=1) + others
    known = KnownHazards(
        HAZARD * np.minimum(stops, last)[:20].ravel(),
        np.full(20 * weights.size, HAZARD * UNTIL),
        told[:20].ravel(),
        np.tile(weights, 20),
    )
    part = np.repeat(np.arange(20), weights.size)
    return (estimated - own).var(), estimated.var(), known.shares(part, 20).mean()


@pytest.mark.parametrize(
    ("weights", "last"),
    [
        (np.full(150, 1.0), 10.0),
        (np.full(150, 2.0), 10.0),
        (np.full(150, 2.0), 6.0),
        (np.r_[np.full(100, 1.0), np.full(50, 3.0)], 8.0),
        (np.full(150, 40.0), 10.0),
    ],
)
def test_what_is_known_takes_its_share_off_the_variance(weights, last):
    """Simulated towns of exponential times; the errors' own variance is the check."""
    against_town, in_general, share = errors_of_bins_in_use(weights, last, np.random.default_rng(7))
    assert against_town / in_general == pytest.approx(1.0 - share, abs=0.06)
