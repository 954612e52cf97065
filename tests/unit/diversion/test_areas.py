"""Figures of single areas carry the chance of few households."""

import datetime as dt
from types import SimpleNamespace

import numpy as np
import pytest

from planner.diversion.areas import area_figures
from planner.diversion.cohorts import Cohorts

DRAWS = 20_000
BINS = np.array([200.0, 20.0, 0.0])


def figures(seed: int = 1, spread: float = 0.0, cv: float = 0.0):
    given = np.zeros((1, 3, 3))
    given[0, :, 0] = BINS
    in_use = np.broadcast_to((BINS * 0.7)[None, :, None], (1 + DRAWS, 3, 1)).copy()
    diversion = SimpleNamespace(
        cohorts=Cohorts((dt.date(2026, 6, 1),), ("n", "s", "w"), given),
        bins_in_use=in_use,
        fed_kg=in_use * 5.0,
        kept_out_kg=in_use * 2.0,
        estimates=SimpleNamespace(household_feed_cv=cv),
    )
    return area_figures(diversion, slice(0, 1), np.full(1 + DRAWS, spread), seed)


def test_bins_in_use_spread_as_a_binomial_does() -> None:
    """Binomial: sd = sqrt(n p (1 - p)), 6.48 for 200 bins of which 70% are in use."""
    found = figures().bins_in_use
    assert found[0].tolist() == pytest.approx([140.0, 14.0, 0.0])
    assert found[1:, 0].std() == pytest.approx(np.sqrt(200 * 0.7 * 0.3), rel=0.03)
    assert found[:, 1].max() <= 20.0
    assert np.all(found[:, 2] == 0.0)


def test_feed_follows_the_bins_in_use_and_the_stated_spread() -> None:
    """Independent relative errors add in squares: binomial 4.63% and a spread of 10%."""
    found = figures(spread=0.1).fed_kg[1:, 0] / 700.0
    assert found.mean() == pytest.approx(1.0, abs=0.003)
    assert found.std() == pytest.approx(np.hypot(6.48 / 140, 0.1), rel=0.03)


def test_few_households_spread_more() -> None:
    found = figures(cv=0.7)
    relative = found.kept_out_kg[1:, :2].std(axis=0) / found.kept_out_kg[0, :2]
    assert relative[1] > 2.5 * relative[0]


def test_share_landfilled_is_untouched_and_unknown_where_nothing_is_fed() -> None:
    share = figures(spread=0.2, cv=0.5).landfill_share
    assert share[:, :2] == pytest.approx(np.full((1 + DRAWS, 2), 0.4))
    assert np.isnan(share[:, 2]).all()


def test_an_area_keeps_its_chance_when_others_come_and_go() -> None:
    assert np.array_equal(figures(7).bins_in_use, figures(7).bins_in_use)
    assert not np.array_equal(figures(7).bins_in_use, figures(8).bins_in_use)
