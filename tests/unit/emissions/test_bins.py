"""The bins' own gases."""

from __future__ import annotations

import numpy as np
import pytest

from planner.emissions.activity import bin_gases_kg_co2e_per_kg


def test_grams_to_the_kilogram_become_kilograms_of_carbon_dioxide():
    # Equations 4.1 and 4.2 carry 10 to the minus 3: a gigagram at 4 g/kg gives 0.004 Gg.
    factors = {
        "compost_methane_g_per_kg": np.array([4.0, 8.0]),
        "compost_nitrous_oxide_g_per_kg": np.array([0.24, 0.6]),
        "methane_gwp100": np.array([28.0, 28.0]),
        "nitrous_oxide_gwp100": np.array([265.0, 265.0]),
    }
    methane, nitrous_oxide = bin_gases_kg_co2e_per_kg(factors)
    assert methane == pytest.approx([0.004 * 28.0, 0.008 * 28.0])
    assert nitrous_oxide == pytest.approx([0.00024 * 265.0, 0.0006 * 265.0])
