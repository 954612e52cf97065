"""Laws of worms in a bin, whatever the numbers."""

from __future__ import annotations

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from planner.worms.run_in import run_in, stock_kg
from planner.worms.temperature import TemperaturePoints, trapezoid_response

MASSES = st.floats(0.001, 5.0)
BINS = {
    "starter_kg": MASSES,
    "demand_kg_per_week": st.floats(0.01, 20.0),
    "tray_area_m2": st.floats(0.01, 2.0),
    "doubling_days": st.floats(15.0, 200.0),
    "ceiling_kg_per_m2": st.floats(1.0, 20.0),
    "feed_kg_per_kg_day": st.floats(0.1, 1.3),
    "startup_share": st.floats(0.0, 1.0),
}
AGES = np.linspace(0.0, 60.0, 241)


@given(st.fixed_dictionaries(BINS))
def test_run_in_lies_between_nothing_and_all_and_never_falls(settings):
    shares = run_in(AGES, **settings)
    assert ((shares >= 0.0) & (shares <= 1.0)).all()
    assert (np.diff(shares) >= -1e-12).all()


@given(st.fixed_dictionaries(BINS), st.floats(1.0, 3.0))
def test_more_starter_worms_never_take_less(settings, times):
    more = {**settings, "starter_kg": times * settings["starter_kg"]}
    assert (run_in(AGES, **more) >= run_in(AGES, **settings) - 1e-12).all()


@given(MASSES, st.floats(15.0, 200.0), MASSES)
def test_stock_never_falls_and_ends_at_the_ceiling(starter, doubling, ceiling):
    stock = stock_kg(AGES * 30.0, starter, doubling, ceiling)
    assert (np.diff(stock) >= -1e-12).all()
    assert (stock <= ceiling * (1 + 1e-12)).all()
    in_the_end = stock_kg(100 * doubling, starter, doubling, ceiling)
    assert np.isclose(in_the_end, ceiling)


@given(st.floats(-40.0, 60.0))
def test_the_trapezoid_is_a_share_and_mirrors_with_its_corners(temperature):
    share = trapezoid_response(temperature, TemperaturePoints(4.0, 15.0, 25.0, 35.0))
    mirrored = trapezoid_response(-temperature, TemperaturePoints(-35.0, -25.0, -15.0, -4.0))
    assert 0.0 <= share <= 1.0
    assert np.isclose(share, mirrored)
