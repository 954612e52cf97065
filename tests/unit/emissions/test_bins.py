"""The bins' own gases."""

from __future__ import annotations

import numpy as np
import pytest

from planner.emissions.activity import bin_gas_kg


def test_grams_to_the_kilogram_become_kilograms():
    # Equations 4.1 and 4.2 carry 10 to the minus 3: a gigagram at 4 g/kg gives 0.004 Gg.
    assert float(bin_gas_kg(1e6, 4.0)) == pytest.approx(0.004 * 1e6)


def test_draws_of_mass_and_factor_go_together():
    fed_kg, factor = np.array([1.0, 2.0]), np.array([4.0, 8.0])
    assert bin_gas_kg(fed_kg, factor).tolist() == [0.004, 0.016]
