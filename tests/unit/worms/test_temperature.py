"""Season and refusals of the temperature response."""

from __future__ import annotations

import numpy as np
import pytest

from planner.factors import read_factors
from planner.factors.draws import draw_factors
from planner.worms.temperature import TemperaturePoints, arrhenius_response, season
from tests.unit.worms.points import temperature_points

YEAR_C = [4.5, 4.9, 6.9, 9.3, 12.4, 15.3, 17.5, 17.3, 14.7, 11.2, 7.4, 5.0]


def test_drawn_corners_give_a_season_for_each_draw():
    table = read_factors()
    ids = TemperaturePoints._fields
    drawn = draw_factors([table.find(factor_id) for factor_id in ids], 30, seed=2)
    seasons = season(YEAR_C, TemperaturePoints.of(drawn))
    assert seasons.shape == (31, 12)
    assert seasons[0] == pytest.approx(season(YEAR_C, temperature_points(table)))
    assert np.ptp(seasons[1:, 0]) > 0


def test_the_arrhenius_ratio_is_refused_in_heat():
    with pytest.raises(ValueError, match=r"found 26\.0, expected at most 25"):
        arrhenius_response([20.0, 26.0], 0.25, 8.62e-5, 25.0)
