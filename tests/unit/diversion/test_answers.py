"""What is made of answers before tonnes: rounds in order, feed of areas, tilts, by hand."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import polars as pl
import pytest

from planner.diversion import area_differences
from planner.diversion.areas import fed_ratio
from planner.diversion.groups import _feed_cv
from planner.diversion.retained import DwellingRetention
from planner.diversion.rounds import (
    households_with_weights,
    linked,
    pairs_with_weights,
    with_weights,
)
from planner.errors import EstimateError
from planner.survey.feed import Calibration
from planner.survey.prior_routes import LEAST_FEEDING_IN_BOTH, PriorRoutes
from planner.tables import DWELLINGS, PRIOR_SHARES
from tests.unit.diversion.test_areas import BINS, diversion
from tests.unit.survey.alone import weibull_curve

ONE_TO_ONE = SimpleNamespace(kg_per_unit=np.array([1.0, 1.0]))
HALF_KILO_LITRES = SimpleNamespace(kg_per_unit=np.array([0.5, 0.5]))
PLAIN = Calibration(ONE_TO_ONE, HALF_KILO_LITRES)


def answers(kg, litres=None, *, dwelling="house", **more):
    count = len(kg)
    return pl.DataFrame(
        {
            "household_id": [f"H{place}" for place in range(count)],
            "dwelling": [dwelling] * count,
            "is_in_use": [True] * count,
            "fed_kg_last_week": pl.Series(kg, dtype=pl.Float64),
            "fed_litres_last_week": pl.Series(litres or [None] * count, dtype=pl.Float64),
            **more,
        }
    )


def test_the_spread_of_feed_is_that_of_those_who_feed():
    """Weights 1 and 3 on 1 and 3 kg: mean 2.5, variance (2.25 + 3 x 0.25) / 4."""
    fed = answers([1.0, 3.0, 0.0])
    expected = np.sqrt(0.75) / 2.5
    assert _feed_cv(fed, np.array([1.0, 3.0, 50.0]), PLAIN) == pytest.approx(expected)
    # neither the unit nor what all weights are multiplied by matters
    in_litres = answers([None] * 3, [8.0, 24.0, 0.0])
    assert _feed_cv(in_litres, np.array([5.0, 15.0, 1.0]), PLAIN) == pytest.approx(expected)
    assert _feed_cv(answers([0.0, 0.0]), np.ones(2), PLAIN) == 0.0


def test_feed_of_an_area_is_set_against_the_mean_of_its_dwelling():
    town = area_differences.AreaPlaces(("n", "s"), np.zeros((2, 1)), np.zeros(2))
    means = np.ones((2, len(DWELLINGS)))
    means[0, DWELLINGS.index("house")] = 4.0
    frame = answers([2.0, None, None, 6.0], [None, 4.0, None, None], area_id=["n", "s", "s", "s"])
    frame = frame.with_columns(is_in_use=pl.Series([True, True, True, False]))
    estimates = SimpleNamespace(kg_per_in_use_bin_week=means)
    codes, ratios, weights = area_differences._feed_ratios(
        town, frame, np.array([1.0, 2.0, 3.0, 4.0]), estimates, PLAIN
    )
    # four litres weigh two kilograms; no answer on feed, and a bin out of use, tell nothing
    assert codes.tolist() == [0, 1]
    assert ratios.tolist() == [0.5, 0.5]
    assert weights.tolist() == [1.0, 2.0]


def test_where_nobody_feeds_a_dwelling_no_area_differs():
    town = area_differences.AreaPlaces(("n",), np.zeros((1, 1)), np.zeros(1))
    estimates = SimpleNamespace(kg_per_in_use_bin_week=np.zeros((2, len(DWELLINGS))))
    found = area_differences._feed_ratios(
        town, answers([2.0], area_id=["n"]), np.ones(1), estimates, PLAIN
    )
    assert found[1].tolist() == [1.0]


def test_a_few_who_told_stand_for_no_more_of_an_area_than_they_are():
    town = area_differences.AreaPlaces(("n", "s"), np.zeros((2, 1)), np.array([10.0, 0.0]))
    households = pl.DataFrame({"area_id": ["n", "n"]})
    known = SimpleNamespace(shares=lambda codes, count: np.array([0.9, 0.0]))
    estimates = SimpleNamespace(retained=SimpleNamespace(known=known))
    shares = area_differences._known_shares(town, households, estimates)
    assert shares.tolist() == [0.2, 0.0]
    known.shares = lambda codes, count: np.array([0.1, 0.0])
    assert area_differences._known_shares(town, households, estimates).tolist() == [0.1, 0.0]


def test_what_the_next_bins_are_fed_differs_as_areas_do_and_adds_up():
    alike = fed_ratio(diversion())
    assert alike == pytest.approx(np.ones(4))
    given = diversion(feed=(np.log(2.0), 0.0, 0.0, 0.0))
    found = fed_ratio(given)
    fed = given.of_areas.fed_to_date_kg
    assert found @ fed == pytest.approx(fed.sum())
    # of 200, 100 and 20 bins the first feed twice as much as the others each
    assert found[0] / found[1] == pytest.approx(2.0)
    assert found[1] == pytest.approx(320.0 / 520.0)
    # where more bins are out of use a bin given is fed less
    stopping = fed_ratio(diversion(hazard=(0.5, 0.0, 0.0, 0.0)))
    assert stopping[0] < 1.0 < stopping[1]
    assert stopping @ (BINS * 0.7) == pytest.approx(BINS.sum() * 0.7)


def test_what_is_known_of_bins_narrows_curves_by_their_age():
    """Nothing known leaves the whole chance, all known none; between, the root of the rest."""
    curve = weibull_curve(np.array([30.0]), np.array([1.0]))
    told = SimpleNamespace(curves=(curve,), known_by_year_of_age=np.array([0.0, 0.36, 1.0]))

    def reach(age):
        return float(DwellingRetention.of_town_at(told, np.array([age]))[0].reach[0])

    assert [reach(age) for age in (6.0, 12.0, 24.0, 36.0, 80.0)] == [1.0, 1.0, 0.8, 0.0, 0.0]
    assert reach(18.0) == pytest.approx(np.sqrt(1.0 - 0.18))


def wave(wave_id, *households):
    weights = np.tile(np.arange(1.0, 1.0 + len(households)), (3, 1))
    ids = pl.Series(households, dtype=pl.String)
    place = {name: number for number, name in enumerate(households)}
    return SimpleNamespace(
        wave_id=wave_id,
        household_ids=ids,
        of=lambda names: weights[:, [place[name] for name in names]],
    )


@pytest.fixture
def plain_weights(monkeypatch):
    monkeypatch.setattr(
        "planner.diversion.rounds.RowWeights",
        SimpleNamespace(joined=lambda parts: np.hstack(parts)),
    )


@pytest.mark.usefixtures("plain_weights")
def test_bins_back_that_were_drawn_stand_for_all_that_came_back():
    intervals = pl.DataFrame(
        {
            "wave_id": ["B", "A", "A", "A", "A"],
            "household_id": ["b1", "a1", "a2", "a3", "unknown"],
            "is_given_back": [False, False, True, False, False],
        }
    )
    frames = pl.DataFrame(
        {
            "wave_id": ["A"] * 6,
            "is_given_back": [True, True, True, False, False, False],
            "is_drawn": [True, False, False, True, True, True],
        }
    )
    waves = [wave("A", "a1", "a2", "a3"), wave("B", "b1")]
    households, weights = households_with_weights(intervals, waves, frames)
    assert households["household_id"].to_list() == ["a1", "a2", "a3", "b1"]
    # one of three that came back was drawn: it counts for three, those in use for themselves
    assert weights[0].tolist() == [1.0, 2.0 * 3.0, 3.0, 1.0]


@pytest.mark.usefixtures("plain_weights")
def test_diaries_of_rounds_without_weights_wait():
    pairs = pl.DataFrame({"wave_id": ["A", "Z"], "household_id": ["a1", "z1"]})
    own, weights = pairs_with_weights(pairs, [wave("A", "a1", "a2")], 2)
    assert own["household_id"].to_list() == ["a1"]
    assert weights.tolist() == [[1.0]] * 3
    none, weights = pairs_with_weights(pairs, [wave("B", "b1")], 2)
    assert none.is_empty()
    assert weights.shape == (3, 0)


@pytest.mark.parametrize(("kind", "named"), [("baseline", "baseline"), ("followup", "follow-up")])
def test_without_a_round_of_its_kind_nothing_is_weighed(kind, named):
    with pytest.raises(EstimateError, match=f"a {named} round with ten answers"):
        with_weights(pl.DataFrame({"wave_id": ["A"]}), [], kind)


def test_answers_are_linked_to_the_newest_baseline_of_the_same_household():
    follow_up = pl.DataFrame({"household_id": ["H1", "H2", "H3"]})
    priors = pl.DataFrame(
        {
            "opens_date": [dt.date(2025, 1, 1), dt.date(2024, 1, 1), dt.date(2025, 1, 1)],
            "wave_id": ["B2", "B1", "B2"],
            "household_id": ["H3", "H3", "H1"],
            **{name: [0.2, 0.9, 0.4] for name in PRIOR_SHARES},
        }
    )
    found, weights = linked(follow_up, np.array([[1.0, 2.0, 3.0]]), priors)
    assert found["household_id"].to_list() == ["H1", "H3"]
    assert found[PRIOR_SHARES[0]].to_list() == [0.4, 0.2]
    assert weights.tolist() == [[1.0, 3.0]]


def routes():
    cells = np.full((2, 1, len(DWELLINGS), len(PRIOR_SHARES)), 1.0 / len(PRIOR_SHARES))
    return PriorRoutes(("n",), cells, {}, 60, np.zeros((2, 1, len(DWELLINGS))), 0.3)


ONE_CELL = np.array([1.0, 0.0, 0.0])  # all that is fed is fed in houses


def fed_and_before(counts, kg, first_shares):
    """Households of which each gave a share to the first route and the rest to the last."""
    shares = np.repeat(first_shares, counts)
    given = {name: np.zeros(shares.size) for name in PRIOR_SHARES}
    given[PRIOR_SHARES[0]], given[PRIOR_SHARES[-1]] = shares, 1.0 - shares
    return answers(np.repeat(kg, counts).tolist(), **given)


def test_shares_lean_to_those_who_feed_more():
    """Twenty feed 3 kg and binned all, twenty feed 1 kg and binned none.

    By feed three quarters were binned, by household one half: the share leans by 1.5, that of
    the last route by 0.5, and all are scaled to add up to 1.
    """
    tilted = routes().tilted_by_feed(
        fed_and_before([20, 20], [3.0, 1.0], [1.0, 0.0]), np.ones((2, 40)), PLAIN, ONE_CELL
    )
    assert tilted.linked_count == 40
    cell = tilted.shares[0, 0, 0]
    assert cell.sum() == pytest.approx(1.0)
    assert cell[0] / cell[-1] == pytest.approx(1.5 / 0.5)


@pytest.mark.parametrize(
    ("binned", "times", "truth"),
    [((0.7, 0.5), 3.0, 0.65), ((0.95, 0.2), 1.5, 0.65), ((0.999, 0.001), 3.0, 0.7495)],
)
def test_the_towns_share_of_what_is_fed_comes_out_where_areas_differ(binned, times, truth):
    """Two areas of one size; households of the first feed as many times more as said.

    Worked by hand: of the first area's feed and of the second's, by weight, what was binned.
    """
    fed = pl.concat(
        [
            fed_and_before([40], [kg], [share])
            for kg, share in zip((times, 1.0), binned, strict=True)
        ]
    )
    shares = np.zeros((2, 2, len(DWELLINGS), len(PRIOR_SHARES)))
    shares[..., 0] = np.array(binned)[:, None]
    shares[..., -1] = 1.0 - shares[..., 0]
    areas = replace(routes(), area_ids=("n", "s"), shares=shares)
    found = areas.tilted_by_feed(fed, np.ones((2, 80)), PLAIN, ONE_CELL).shares
    assert found[:, :, 0, 0].mean(axis=1) == pytest.approx([truth, truth], abs=1e-5)
    assert found.sum(axis=3) == pytest.approx(np.ones(found.shape[:3]))
    assert (found[:, 0, 0, 0] > found[:, 1, 0, 0]).all()


def test_an_area_that_used_one_route_alone_keeps_it():
    """Nobody who feeds binned anything, so all that is fed leans away from the bin."""
    shares = np.zeros((2, 2, len(DWELLINGS), len(PRIOR_SHARES)))
    shares[:, 0, :, 0], shares[:, 1, :, -1] = 1.0, 1.0
    areas = replace(routes(), area_ids=("n", "s"), shares=shares)
    fed = fed_and_before([20, 40], [0.0, 2.0], [1.0, 0.0])
    found = areas.tilted_by_feed(fed, np.ones((2, 60)), PLAIN, ONE_CELL).shares
    assert found == pytest.approx(shares)


def test_dwellings_are_leant_each_against_its_own_households():
    """Flats feed little and binned all: that is no tilt, for within each all are alike."""
    houses = fed_and_before([30], [3.0], [0.2])
    flats = fed_and_before([30], [1.0], [1.0]).with_columns(dwelling=pl.lit("apartment"))
    both = pl.concat([houses, flats])
    found = routes().tilted_by_feed(both, np.ones((2, 60)), PLAIN, ONE_CELL)
    assert found.shares == pytest.approx(routes().shares)


def test_too_few_who_feed_lean_nothing():
    few = LEAST_FEEDING_IN_BOTH - 1
    fed = fed_and_before([few, 20], [3.0, 0.0], [1.0, 0.0])
    assert routes().tilted_by_feed(fed, np.ones((2, few + 20)), PLAIN, ONE_CELL).linked_count == 0
    enough = fed_and_before([few + 1, 20], [3.0, 0.0], [1.0, 0.0])
    leant = routes().tilted_by_feed(enough, np.ones((2, few + 21)), PLAIN, ONE_CELL)
    assert leant.linked_count == few + 1
