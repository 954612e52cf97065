"""The binary regression behind the retention curve against a published fit.

Bliss (1935), Annals of Applied Biology 22, 134-167: beetles killed by carbon disulphide, as
refitted with complementary log-log link in Dobson, An Introduction to Generalized Linear
Models, chapter on binary variables (from memory: intercept -39.572, slope 22.041, fitted
numbers of killed as below).
"""

import numpy as np
import pytest

from planner.survey.retention import complementary_log_log

LOG_DOSE = np.array([1.6907, 1.7242, 1.7552, 1.7842, 1.8113, 1.8369, 1.8610, 1.8839])
BEETLES = np.array([59, 60, 62, 56, 63, 59, 62, 60], dtype=float)
KILLED = np.array([6, 13, 18, 28, 52, 53, 61, 60], dtype=float)
FITTED = np.array([5.59, 11.28, 20.95, 30.37, 47.78, 54.14, 61.11, 59.95])


def test_beetle_mortality_gives_the_published_coefficients() -> None:
    intercept, slope = complementary_log_log(
        LOG_DOSE, KILLED[None, :], BEETLES[None, :], shape_spread=np.inf
    )
    assert intercept[0] == pytest.approx(-39.572, abs=5e-4)
    assert slope[0] == pytest.approx(22.041, abs=5e-4)
    killed = BEETLES * -np.expm1(-np.exp(intercept[0] + slope[0] * LOG_DOSE))
    assert killed == pytest.approx(FITTED, abs=6e-3)
