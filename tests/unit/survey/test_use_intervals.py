"""Ages of stopping from the store's rows, and bounds for households that were silent."""

import numpy as np
import polars as pl
import pytest

from planner.errors import EstimateError
from planner.survey.turnbull import fit_turnbull
from planner.survey.use_intervals import (
    base_weights,
    filled_if,
    silent_bounds,
    stopping_ages,
)
from planner.units import DAYS_PER_MONTH


def households(*rows):
    return pl.DataFrame(
        rows,
        schema={
            "has_answered": pl.Boolean,
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
    weights = base_weights(rows)
    best = fit_turnbull(stopping_ages(filled_if(rows, "all kept")), weights).bounds(at)[1][0]
    worst = fit_turnbull(stopping_ages(filled_if(rows, "all stopped")), weights).bounds(at)[0][0]
    answered = rows.filter("has_answered")
    middle = fit_turnbull(stopping_ages(answered), base_weights(answered)).bounds(at)[0][0]
    assert np.all(worst <= middle)
    assert np.all(middle <= best)


def test_bounds_by_class_are_worked_out_by_hand():
    """Class a: 1 of a weight of 4 answered, in use. Class b: all 3 answered, none in use."""
    found = silent_bounds(
        pl.Series(["a", "a", "b"]),
        pl.Series([1.0, 1 / 3, 1 / 3]),
        pl.Series([True, False, True]),
        pl.Series([True, None, False]),
    )
    assert found.by_class.rows() == [
        ("a", 4.0, 0.25, 1.0, 0.25, 1.0),
        ("b", 3.0, 1.0, 0.0, 0.0, 0.0),
    ]
    assert found.in_use_share_low == pytest.approx(1 / 7)
    assert found.in_use_share_high == pytest.approx(4 / 7)


def test_bounds_of_nobody_are_an_error():
    nothing = pl.Series([], dtype=pl.Float64)
    with pytest.raises(EstimateError, match="no household"):
        silent_bounds(nothing.cast(pl.String), nothing, nothing.cast(bool), nothing.cast(bool))
