"""Feed from reports and weighed diaries, by hand-worked cases."""

import numpy as np
import polars as pl
import pytest

from planner.survey.feed import (
    Calibration,
    Reports,
    UnitCalibration,
    calibrate,
    reports_of,
    weekly_feed,
)

ONES = np.ones(4)


def pairs(kg: list[float | None], litres: list[float | None], weighed: list[float]) -> pl.DataFrame:
    return pl.DataFrame(
        {"fed_kg_last_week": kg, "fed_litres_last_week": litres, "weighed_kg_per_week": weighed},
        schema_overrides={"fed_kg_last_week": pl.Float64, "fed_litres_last_week": pl.Float64},
    )


def calibrated(
    diary: pl.DataFrame, weights: np.ndarray, share: np.ndarray, density: np.ndarray
) -> Calibration:
    """Calibrate with no report beside those of the diaries."""
    nothing = Reports(*(np.zeros(1) for _ in range(4)))
    return calibrate((diary, weights), (nothing, np.ones((share.size, 1))), share, density)


def test_own_weighings_give_the_ratio_of_sums() -> None:
    """Cochran 1977, section 6.1: the ratio estimate is the ratio of the sums, 12 / 15."""
    diary = pairs([1.5] * 10, [None] * 10, [1.2] * 10)
    found = calibrated(diary, np.ones((4, diary.height)), 0.5 * ONES, 0.6 * ONES)
    assert found.of_kg.kg_per_unit == pytest.approx(np.full(4, 0.8))
    assert found.of_litres.kg_per_unit == pytest.approx(np.full(4, 0.8 * 0.6))
    assert found.of_kg.basis == "own weighings"
    assert found.of_litres.basis == "own weighings in kg, published density"
    # where all are alike no report tells one household from another
    assert found.of_kg.correlation_squared == 0.0


def test_own_weighings_in_litres_replace_the_published_density() -> None:
    diary = pairs([None] * 10, [4.0] * 10, [1.8] * 10)
    found = calibrated(diary, np.ones((4, diary.height)), 0.5 * ONES, 0.9 * ONES)
    assert found.of_litres.kg_per_unit == pytest.approx(np.full(4, 0.45))
    assert found.of_kg.kg_per_unit == pytest.approx(np.full(4, 0.5))
    assert found.of_kg.basis == "published factors"


def test_a_report_of_nothing_counts_where_something_was_weighed() -> None:
    """Cochran 1977, section 6.1, by hand: (10 x 1.2 + 3.0) / (10 x 1.5) = 1.0."""
    diary = pairs([1.5] * 10 + [0.0], [None] * 11, [1.2] * 10 + [3.0])
    found = calibrated(diary, np.ones((4, 11)), 0.5 * ONES, 0.6 * ONES)
    assert found.of_kg.kg_per_unit == pytest.approx(ONES)
    assert found.of_kg.pairs_count == 10


def test_survey_weights_weigh_the_pairs() -> None:
    """By hand: (5 x 3 x 1.0 + 5 x 2.0) / (5 x 3 x 2.0 + 5 x 2.0) = 25 / 40."""
    diary = pairs([2.0] * 10, [None] * 10, [1.0] * 5 + [2.0] * 5)
    weights = np.array([[3.0] * 5 + [1.0] * 5] * 4)
    found = calibrated(diary, weights, 0.5 * ONES, 0.6 * ONES)
    assert found.of_kg.kg_per_unit == pytest.approx(np.full(4, 25.0 / 40.0))


def test_nine_diaries_are_too_few() -> None:
    diary = pairs([1.5] * 9, [None] * 9, [1.2] * 9)
    found = calibrated(diary, np.ones((4, diary.height)), 0.5 * ONES, 0.6 * ONES)
    assert found.of_kg.kg_per_unit == pytest.approx(np.full(4, 0.5))
    assert found.of_kg.basis == "published factors"
    assert (found.of_kg.intercept, found.of_kg.slope) == (0.0, 0.0)  # no line without pairs


def test_weighted_mean_over_in_use_bins() -> None:
    """By hand: weights 1, 2, 3, 4; the last is out of use; kg 1, 3 litres at 0.5, no answer."""
    answers = pl.DataFrame(
        {
            "is_in_use": [True, True, True, False],
            "fed_kg_last_week": [1.0, None, None, None],
            "fed_litres_last_week": [None, 3.0, None, None],
        }
    )
    calibration = calibrated(pairs([], [], []), np.ones((2, 0)), np.ones(2), np.full(2, 0.5))
    found = weekly_feed(answers, np.array([[1.0, 2.0, 3.0, 4.0]] * 2), calibration)
    assert found.in_use_share == pytest.approx([0.6, 0.6])
    assert found.kg_per_in_use_bin_week == pytest.approx([(1.0 + 2 * 1.5) / 3] * 2)


def test_kilograms_win_where_both_are_given() -> None:
    answers = pl.DataFrame(
        {"is_in_use": [True], "fed_kg_last_week": [2.0], "fed_litres_last_week": [50.0]}
    )
    calibration = calibrated(pairs([], [], []), np.ones((1, 0)), np.ones(1), np.ones(1))
    found = weekly_feed(answers, np.ones((1, 1)), calibration)
    assert found.kg_per_in_use_bin_week == pytest.approx([2.0])


def test_thirty_pairs_off_the_origin_are_calibrated_by_their_line() -> None:
    """Weighed is 1 kg + half of the report: a mean report of 4 kg weighs 3 kg, 0.75 of it."""
    told = [1.0 + 0.1 * n for n in range(40)]
    wobble = [0.01 * (-1) ** n for n in range(40)]
    weighed = [1.0 + 0.5 * kg + w for kg, w in zip(told, wobble, strict=True)]
    answers = pl.DataFrame(
        {
            "is_in_use": [True] * 20 + [False] * 5,
            "fed_kg_last_week": [3.0, 5.0] * 10 + [9.0] * 5,
            "fed_litres_last_week": pl.Series([None] * 25, dtype=pl.Float64),
        }
    )
    weights = np.ones((3, 25))
    found = calibrate(
        (pairs(told, [None] * 40, weighed), np.ones((3, 40))),
        (reports_of(answers), weights),
        0.5 * np.ones(3),
        0.6 * np.ones(3),
    )
    assert found.of_kg.estimator == "regression"
    assert found.of_kg.kg_per_unit == pytest.approx(np.full(3, 0.75), abs=0.005)
    assert found.of_litres.kg_per_unit == pytest.approx(0.6 * found.of_kg.kg_per_unit)
    feed = weekly_feed(answers, weights, found).kg_per_in_use_bin_week
    assert feed == pytest.approx(np.full(3, 3.0), abs=0.02)


def test_parts_of_the_weighed_kilograms_add_up() -> None:
    """Law: shares that add up to 1 divide what was fed and lose nothing."""
    rng = np.random.default_rng(1)
    answers = pl.DataFrame(
        {
            "is_in_use": rng.random(50) < 0.8,
            "fed_kg_last_week": [float(n % 5) if n % 2 else None for n in range(50)],
            "fed_litres_last_week": [float(n % 7) for n in range(50)],
        }
    )
    unit = UnitCalibration(np.array([0.8, 0.7]), "own weighings")
    calibration = Calibration(unit, unit)
    weights, shares = rng.gamma(1.0, size=(2, 50)), rng.dirichlet(np.ones(5), 50)
    told = reports_of(answers)
    divided = calibration.weighed_kg(weights, told, shares).sum(axis=1)
    assert divided == pytest.approx(calibration.weighed_kg(weights, told)[:, 0])
    assert divided[0] == pytest.approx(weights[0] @ calibration.central_kg(told))
