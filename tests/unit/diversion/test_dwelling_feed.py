"""Feed by dwelling where few feed anything, or nobody does."""

import numpy as np
import polars as pl
import pytest

from planner.diversion.groups import _relative_feed, dwelling_estimates
from planner.errors import EstimateError
from planner.survey.feed import Calibration, UnitCalibration, weekly_feed

UNIT = UnitCalibration(np.ones(2), "published factors")
CALIBRATION = Calibration(UNIT, UNIT)


def answers(kg):
    return pl.DataFrame(
        {
            "wave_id": ["A"] * len(kg),
            "household_id": [f"H{n:02d}" for n in range(len(kg))],
            "dwelling": ["house"] * 30 + ["apartment"] * (len(kg) - 30),
            "is_in_use": [True] * len(kg),
            "age_days": [100] * len(kg),
            "fed_kg_last_week": kg,
            "fed_litres_last_week": pl.Series([None] * len(kg), dtype=pl.Float64),
        }
    )


def test_nothing_fed_at_all_is_told_as_a_slip():
    with pytest.raises(EstimateError, match="bins were fed nothing"):
        dwelling_estimates(
            answers([0.0] * 60), np.ones((2, 60)), CALIBRATION, None, np.random.default_rng(1)
        )


def test_a_draw_that_meets_none_of_the_few_who_feed_is_nothing_and_no_gap():
    told = answers([2.0] + [0.0] * 59)
    weights = np.ones((2, 60))
    weights[1, 0] = 0.0  # the one who feeds is not drawn
    pooled = weekly_feed(told, weights, CALIBRATION).kg_per_in_use_bin_week
    has_feed = np.ones(60, dtype=bool)
    relative = _relative_feed(
        told, weights, CALIBRATION, has_feed, pooled, np.random.default_rng(1)
    )
    assert pooled == pytest.approx([2.0 / 60.0, 0.0])
    assert np.isfinite(relative).all()
    assert (pooled[:, None] * relative)[1].tolist() == [0.0] * relative.shape[1]


def test_a_dwelling_differs_by_those_who_told_what_they_fed():
    """Houses feed 3 kg and flats 1 kg, each sure of it; nine flats that told say nothing yet."""
    rng, weights = np.random.default_rng(1), np.ones((2, 60))
    told = answers([3.0] * 30 + [1.0] * 30)

    def ratio(has_feed):
        pooled = weekly_feed(told, weights, CALIBRATION).kg_per_in_use_bin_week
        house, _, flat = _relative_feed(told, weights, CALIBRATION, has_feed, pooled, rng)[0]
        return house / flat

    assert ratio(np.ones(60, dtype=bool)) == pytest.approx(3.0, rel=0.03)
    # the flats then stay at the town's mean, and the houses at their own over it
    assert ratio(np.arange(60) < 39) == pytest.approx(1.5, rel=0.03)
    assert ratio(np.arange(60) < 40) == pytest.approx(3.0, rel=0.05)
