"""Activity of scraps that all went to landfill before, with nothing given out for them."""

from __future__ import annotations

import numpy as np

from planner.emissions.activity import Activity, Supplies

_YEAR = np.zeros(1)
NO_SUPPLIES = Supplies(
    np.zeros((0, 1)),
    np.zeros((0, 1)),
    np.zeros(0),
    np.zeros(0),
    np.zeros(0, np.int64),
    _YEAR,
    _YEAR,
)


def scraps_alone(kept_out_kg, fed_kg, year_months):
    """Scraps kept out and fed by draw and month, none of them from other routes."""
    none = np.zeros_like(kept_out_kg)
    return Activity(kept_out_kg, fed_kg, none, none, none, none, none, NO_SUPPLIES, year_months)
