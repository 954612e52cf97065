"""Areas follow their own answers as far as these carry, and add up to the town."""

import datetime as dt
from types import SimpleNamespace

import numpy as np
import pytest

from planner.diversion.areas import area_figures, in_use_with
from planner.diversion.cohorts import AreaEstimates, Cohorts

DRAWS = 4000
BINS = np.array([200.0, 100.0, 20.0, 0.0])


def effects(log_ratios, spread=0.0):
    rng = np.random.default_rng(3)
    predictor = np.tile(np.asarray(log_ratios, dtype=float), (1 + DRAWS, 1))
    predictor[1:] += spread * rng.standard_normal((DRAWS, predictor.shape[1]))
    return SimpleNamespace(predictor=predictor)


def diversion(hazard=(0, 0, 0, 0), feed=(0, 0, 0, 0), known=(0, 0, 0, 0), cv=0.0, route_spread=0.0):
    given = np.zeros((1, 4, 3))
    given[0, :, 0] = BINS
    in_use = np.broadcast_to(BINS * 0.7, (1 + DRAWS, 4)).copy()
    return SimpleNamespace(
        cohorts=Cohorts((dt.date(2026, 6, 1),), ("n", "e", "s", "w"), given),
        of_areas=AreaEstimates(
            in_use,
            in_use * 5.0,
            in_use * 2.0,
            in_use * 4.0,
            in_use[0] * 5.0,
            in_use.sum(axis=1) * 2.0,
            BINS,
        ),
        estimates=SimpleNamespace(household_feed_cv=cv),
        routes=SimpleNamespace(household_spread=route_spread),
        differences=SimpleNamespace(
            hazard=effects(hazard),
            feed=effects(feed),
            known_share=np.array(known, dtype=float),
        ),
    )


def figures(seed=1, **differing):
    return area_figures(diversion(**differing), 0.5, seed)


@pytest.mark.parametrize("hazard", [(0, 0, 0, 0), (0.5, -0.3, 0.0, 0.2)])
def test_areas_add_up_to_the_town_in_every_draw(hazard) -> None:
    found = figures(hazard=hazard, feed=(0.2, -0.4, 0.1, 0), cv=0.6)
    town = diversion().of_areas
    for parts, whole in (
        (found.bins_in_use, town.bins_in_use),
        (found.fed_kg, town.fed_kg),
        (found.kept_out_kg, town.kept_out_kg),
    ):
        assert parts.sum(axis=1) == pytest.approx(whole.sum(axis=1), rel=1e-6)
    assert np.all(found.bins_in_use >= 0.0)
    assert np.all(found.bins_in_use <= BINS + 1e-9)


def test_areas_that_do_not_differ_have_the_towns_share() -> None:
    found = figures()
    assert found.bins_in_use[0].tolist() == pytest.approx([140.0, 70.0, 14.0, 0.0])
    assert found.kept_out_kg[0].tolist() == pytest.approx([280.0, 140.0, 28.0, 0.0])


def test_a_doubled_hazard_squares_the_share_before_the_common_shift() -> None:
    """Proportional hazards: S becomes S to the power of the ratio; the odd area out is small."""
    in_use = np.array([[7_000_000.0, 70.0]])
    found = in_use_with(in_use, np.array([10_000_000.0, 100.0]), np.array([[1.0, 2.0]]))
    assert found[0, 1] == pytest.approx(100.0 * 0.7**2, rel=1e-4)


def test_bins_in_use_spread_as_a_binomial_does() -> None:
    """N p (1 - p), conditional on the sum: var × (1 - var's part of all)."""
    variance = BINS * 0.7 * 0.3
    expected = variance * (1.0 - variance / variance.sum())
    found = figures().bins_in_use
    assert found[1:, 0].std() == pytest.approx(expected[0] ** 0.5, rel=0.05)
    assert np.all(found[:, 3] == 0.0)


def test_nothing_is_left_to_chance_where_everybody_was_asked() -> None:
    found = figures(known=np.ones(4), cv=0.7)
    assert found.bins_in_use.std(axis=0) == pytest.approx(np.zeros(4), abs=1e-6)
    assert found.fed_kg.std(axis=0) == pytest.approx(np.zeros(4), abs=1e-6)


def test_few_households_spread_more() -> None:
    found = figures(cv=0.7)
    relative = found.kept_out_kg[1:, :3].std(axis=0) / found.kept_out_kg[0, :3]
    assert relative[2] > 2.0 * relative[0]


def test_share_landfilled_is_unknown_where_nothing_is_fed() -> None:
    share = figures(cv=0.5).landfill_share
    assert share[:, :3] == pytest.approx(np.full((1 + DRAWS, 3), 0.4))
    assert np.isnan(share[:, 3]).all()


def test_the_share_landfilled_spreads_by_who_the_few_households_are() -> None:
    """A mean over n households that count by their feed: spread × sqrt((1 + cv²) / n)."""
    found = figures(cv=0.6, known=np.ones(4), route_spread=0.3)
    in_use = BINS[:2] * 0.7
    expected = 0.5 * 0.3 * np.sqrt((1 + 0.6**2) / in_use)
    assert found.landfill_share[1:, :2].std(axis=0) == pytest.approx(expected, rel=0.05)
    assert found.landfill_share[0, :2] == pytest.approx([0.4, 0.4])


def test_the_chance_of_who_lives_in_an_area_does_not_move_what_is_expected_of_it() -> None:
    """14 bins in use of households that feed with a spread of 60% are fed 5 kg each on average."""
    fed = figures(cv=0.6).fed_kg[1:].mean(axis=0)
    assert fed[:3] == pytest.approx(np.array([140.0, 70.0, 14.0]) * 5.0, rel=0.01)


def test_where_every_bin_is_out_of_use_none_is_in_use_in_any_area() -> None:
    ended, none = diversion(), np.zeros((1 + DRAWS, 4))
    ended.of_areas = AreaEstimates(none, none, none, none, none[0], none.sum(axis=1), BINS)
    assert (area_figures(ended, 0.5, 1).bins_in_use == 0.0).all()
