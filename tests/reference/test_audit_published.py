"""Difference in differences of few clusters against published and computed answers.

Gross investment of ten American firms, 1935 to 1954: Grunfeld, Y. (1958), The Determinants
of Corporate Investment, thesis, Chicago; as printed in Greene, W.H., Econometric Analysis,
and in R's package plm. The placebo: firms 1 to 5 "given" from 1945 on, logarithms. Expected
numbers: two-way fixed effects by R's package clubSandwich 0.5.8 (CR2 with Satterthwaite
degrees of freedom), the wild bootstrap and the splits enumerated apart.
Fast-food employment: Card, D. and Krueger, A.B. (1994), American Economic Review 84,
772-793, table 3, row 4: changes of -2.28 (1.25) and 0.47 (0.48), difference 2.75 (1.34).
"""

import numpy as np
import pytest

from planner.errors import EstimateError
from planner.survey.audit import ChangeScores, difference, randomisation_test, wild_bootstrap_test

INVESTMENT = np.array(
    [
        [
            317.6,
            391.8,
            410.6,
            257.7,
            330.8,
            461.2,
            512,
            448,
            499.6,
            547.5,
            561.2,
            688.1,
            568.9,
            529.2,
            555.1,
            642.9,
            755.9,
            891.2,
            1304.4,
            1486.7,
        ],
        [
            209.9,
            355.3,
            469.9,
            262.3,
            230.4,
            361.6,
            472.8,
            445.6,
            361.6,
            288.2,
            258.7,
            420.3,
            420.5,
            494.5,
            405.1,
            418.8,
            588.2,
            645.5,
            641,
            459.3,
        ],
        [
            33.1,
            45,
            77.2,
            44.6,
            48.1,
            74.4,
            113,
            91.9,
            61.3,
            56.8,
            93.6,
            159.9,
            147.2,
            146.3,
            98.3,
            93.5,
            135.2,
            157.3,
            179.5,
            189.6,
        ],
        [
            40.29,
            72.76,
            66.26,
            51.6,
            52.41,
            69.41,
            68.35,
            46.8,
            47.4,
            59.57,
            88.78,
            74.12,
            62.68,
            89.36,
            78.98,
            100.66,
            160.62,
            145,
            174.93,
            172.49,
        ],
        [
            39.68,
            50.73,
            74.24,
            53.51,
            42.65,
            46.48,
            61.4,
            39.67,
            62.24,
            52.32,
            63.21,
            59.37,
            58.02,
            70.34,
            67.42,
            55.74,
            80.3,
            85.4,
            91.9,
            81.43,
        ],
        [
            20.36,
            25.98,
            25.94,
            27.53,
            24.6,
            28.54,
            43.41,
            42.81,
            27.84,
            32.6,
            39.03,
            50.17,
            51.85,
            64.03,
            68.16,
            77.34,
            95.3,
            99.49,
            127.52,
            135.72,
        ],
        [
            24.43,
            23.21,
            32.78,
            32.54,
            26.65,
            33.71,
            43.5,
            34.46,
            44.28,
            70.8,
            44.12,
            48.98,
            48.51,
            50,
            50.59,
            42.53,
            64.77,
            72.68,
            73.86,
            89.51,
        ],
        [
            12.93,
            25.9,
            35.05,
            22.89,
            18.84,
            28.57,
            48.51,
            43.34,
            37.02,
            37.81,
            39.27,
            53.46,
            55.56,
            49.56,
            32.04,
            32.24,
            54.38,
            71.78,
            90.08,
            68.6,
        ],
        [
            26.63,
            23.39,
            30.65,
            20.89,
            28.78,
            26.93,
            32.08,
            32.21,
            35.69,
            62.47,
            52.32,
            56.95,
            54.32,
            40.53,
            32.54,
            43.48,
            56.49,
            65.98,
            66.11,
            49.34,
        ],
        [
            2.54,
            2,
            2.19,
            1.99,
            2.03,
            1.81,
            2.14,
            1.86,
            0.93,
            1.18,
            1.36,
            2.24,
            3.81,
            5.66,
            4.21,
            3.42,
            4.67,
            6,
            6.53,
            5.12,
        ],
    ]
)
YEARS = np.arange(1935, 1955)


def placebo():
    late = YEARS >= 1945
    log = np.log(INVESTMENT)
    change = log[:, late].mean(axis=1) - log[:, ~late].mean(axis=1)
    return ChangeScores(change[:5], change[5:], 0)


def with_mean_and_error(mean, error, n):
    """Scores that have exactly this mean and standard error of the mean."""
    scores = np.linspace(-1.0, 1.0, n)
    return mean + scores / scores.std(ddof=1) * error * np.sqrt(n)


def test_change_scores_give_cr2_of_two_way_fixed_effects():
    found = difference(placebo())
    assert found.value == pytest.approx(-0.121917767751, rel=1e-11)
    assert found.standard_error == pytest.approx(0.129860875341, rel=1e-11)
    assert found.degrees_of_freedom == pytest.approx(8.0, rel=1e-12)
    assert found.p_value == pytest.approx(0.3752922205, rel=1e-9)


def test_all_252_splits_of_the_firms():
    found = randomisation_test(placebo(), np.random.default_rng(0))
    assert (found.count, found.is_enumerated) == (252, True)
    assert found.p_value == pytest.approx(0.373015873016, abs=1e-12)


def test_all_1024_signs_of_the_firms():
    """Ties count here; without them 0.365234375 = 374 / 1024."""
    found = wild_bootstrap_test(placebo(), np.random.default_rng(0))
    assert (found.count, found.is_enumerated) == (1024, True)
    assert found.p_value == 0.3671875


def test_card_and_krueger_s_difference_follows_from_their_printed_changes():
    """309 shops of New Jersey against 75 of Pennsylvania, printed to two decimals."""
    scores = ChangeScores(
        with_mean_and_error(0.47, 0.48, 309), with_mean_and_error(-2.28, 1.25, 75), 0
    )
    found = difference(scores)
    assert found.value == pytest.approx(2.75, abs=1e-9)
    assert found.standard_error == pytest.approx(1.34, abs=0.005)


def test_one_treated_cluster_has_no_standard_error():
    """As California in Kessler and Roth's study of organ donors: tests then over-reject."""
    with pytest.raises(EstimateError, match="1 clusters given bins and 26 for comparison"):
        difference(ChangeScores(np.array([-0.02]), np.linspace(-0.1, 0.1, 26), 0))
