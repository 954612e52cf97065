"""Turnbull and Weibull fits to interval-censored times against other programs.

Data: see breast_cosmesis.py. Masses to four decimals are printed by Fay and Shaw (2010); to
ten digits they come from R's npsurv 0.5-0 (E1 to E3) and, by another algorithm, from the
Python packages surpyval 0.25 and lifelines 0.30.3. Weibull fits: R's survreg,
survival 3.5-3, with Surv(type = "interval2").
"""

import numpy as np
import pytest

from planner.survey.interval_likelihood import Intervals, fit_log_times
from planner.survey.turnbull import fit_turnbull
from tests.reference.breast_cosmesis import (
    ALL,
    BOTH,
    BOTH_AS_FAY,
    RADIOTHERAPY,
    WEIGHTS_OF_ALL,
)
from tests.unit.survey.alone import (
    fit_weibull,
    log_likelihood,
    shape_and_scale,
    slope_excess,
)

ALONE = {
    (4, 5): 0.0463467739931,
    (6, 7): 0.0333633709348,
    (7, 8): 0.0886673680630,
    (11, 12): 0.0707529217927,
    (24, 25): 0.0926458365855,
    (33, 34): 0.0817857649032,
    (38, 40): 0.120879827347,
    (46, 48): 0.465558136381,
}
TOGETHER = {
    (4, 5): 0.0432826279,
    (5, 8): 0.0432826279,
    (11, 12): 0.0692055837,
    (16, 17): 0.1453977161,
    (18, 19): 0.1410948987,
    (19, 20): 0.1157459264,
    (24, 25): 0.0998653115,
    (30, 31): 0.0708813769,
    (35, 36): 0.1608311113,
    (44, 48): 0.0552064098,
    (48, 60): 0.0552064098,
}
PRINTED_ALONE = (0.0463, 0.0334, 0.0887, 0.0708, 0.0926, 0.0818, 0.1209, 0.4656)


def ones(intervals):
    return np.ones((1, intervals.lower.size))


@pytest.mark.parametrize(
    ("intervals", "expected", "worth"),
    [(RADIOTHERAPY, ALONE, -58.060021954), (BOTH_AS_FAY, TOGETHER, -65.6369649077)],
)
def test_turnbull_masses(intervals, expected, worth):
    """R's npsurv stops at a slope of 1e-6 above 1, which leaves the ninth digit open."""
    found = fit_turnbull(intervals, ones(intervals))
    carried = {
        (low, high): mass
        for low, high, mass in zip(found.lower, found.upper, found.mass[0], strict=True)
        if mass > 0.0
    }
    assert carried.keys() == expected.keys()
    assert list(carried.values()) == pytest.approx(list(expected.values()), abs=6e-9)
    assert log_likelihood(found, intervals, ones(intervals)) == pytest.approx(worth, abs=1e-9)
    assert slope_excess(found, intervals, ones(intervals)) < 1e-9


def test_turnbull_masses_as_printed():
    found = fit_turnbull(RADIOTHERAPY, ones(RADIOTHERAPY))
    assert found.mass[0][found.mass[0] > 0].round(4).tolist() == list(PRINTED_ALONE)


def test_turnbull_of_weighted_answers():
    found = fit_turnbull(ALL, WEIGHTS_OF_ALL)
    low, high = found.bounds(np.array([5.0, 8.0, 12.0, 20.0, 25.0, 39.0]))
    expected = [0.973754842, 0.887538017, 0.809021172, 0.600562323, 0.514288985, 0.298917567]
    worth = log_likelihood(found, ALL, WEIGHTS_OF_ALL)
    assert worth[0] == pytest.approx(-264.6548778, abs=5e-8)
    assert low[0] == pytest.approx(expected, abs=1e-9)
    assert high[0] == pytest.approx(expected, abs=1e-9)


@pytest.mark.parametrize(
    ("intervals", "weights", "shape", "scale"),
    [
        (RADIOTHERAPY, ones(RADIOTHERAPY), 1.120410137, 57.52453329),
        (BOTH, ones(BOTH), 2.144986764, 27.92517898),
        (ALL, WEIGHTS_OF_ALL, 1.621035781, 36.80458826),
    ],
)
def test_weibull_fits(intervals, weights, shape, scale):
    """R's optimiser leaves the last of its ten digits open."""
    found = fit_weibull(intervals, weights)
    assert shape_and_scale(found) == pytest.approx((shape, scale), rel=2e-9)


OVARIAN_DIED = (59, 115, 156, 268, 329, 353, 365, 431, 464, 475, 563, 638)
OVARIAN_LEFT = (377, 421, 448, 477, 744, 769, 770, 803, 855, 1040, 1106, 1129, 1206, 1227)


def test_days_known_exactly_or_not_yet_reached_give_what_r_prints():
    """R, survreg(Surv(futime, fustat) ~ 1, ovarian), data and output from memory.

    Printed: (Intercept) 7.111, Log(scale) -0.103, Scale= 0.902, Loglik(model)= -98.
    """
    died = np.array([*OVARIAN_DIED, *[np.inf] * len(OVARIAN_LEFT)])
    days = np.array([*OVARIAN_DIED, *OVARIAN_LEFT], dtype=float)
    fit = fit_log_times(Intervals(days, died), np.ones((1, days.size)))
    assert fit.location[0].round(3) == 7.111
    assert np.log(fit.scale[0]).round(3) == -0.103
    assert fit.scale[0].round(3) == 0.902
    assert fit.log_likelihood[0].round() == -98.0
