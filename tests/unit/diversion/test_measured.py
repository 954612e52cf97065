"""A town measured whole: where everybody answers, what was reported comes out again, by hand."""

from __future__ import annotations

import datetime as dt

import numpy as np
import polars as pl
import pytest

from planner.diversion.areas import area_figures
from planner.diversion.cohorts import Cohorts
from planner.diversion.measured import measure
from planner.diversion.planned import estimate_more_bins
from planner.diversion.rounds import prepare_rounds
from planner.diversion.town_year import (
    BELIEF_IDS,
    BOUND_ROWS,
    measure_in_use,
    measure_town,
    spreads_of,
)
from planner.errors import NotYetError
from planner.program import BaselineScenario
from planner.survey.weights import weigh_rounds
from planner.tables import DWELLINGS, PRIOR_SHARES
from tests.unit.diversion import town

DRAWS = 6
SURE = dict.fromkeys(BELIEF_IDS, 1e-4)
"""Beliefs so narrow that what was told stands."""

YEAR = slice(3, None)
"""Months of the reporting year, from July, among those from April on."""

IN_USE = town.IN_USE_SHARE * town.ASKED_OF_AREA * town.STANDS_FOR
KG = town.FED_KG * town.FACTORS["self_report_multiplier"]
KEPT_OUT_SHARE = 0.75 * (0.6 * (1.0 - 0.1) - 0.05)
"""Of a kilogram fed, by hand: landfilled × (residual × (1 − anyway) − thrown away)."""


def measured(counts):
    return measure(counts, town.program(), town.factors(DRAWS), SURE)


@pytest.fixture(scope="module")
def alike():
    return measured(town.counts())


def test_what_was_reported_was_fed_in_the_month_of_the_round(alike):
    """Of 240 bins 192 were in use, each fed 10 g by its report, which stands for 5 g weighed."""
    january = [month.month for month in alike.cohorts.months].index(1)
    assert alike.fed_kg[0, january] == pytest.approx(2 * IN_USE * KG * 31 / 7, rel=1e-4)
    # asked in the middle of the month: 192 lies between its ends
    assert alike.bins_in_use[0, january - 1] > 2 * IN_USE > alike.bins_in_use[0, january]
    assert alike.in_use_bin_weeks[0, january] == pytest.approx(2 * IN_USE * 31 / 7, rel=5e-3)


@pytest.mark.parametrize(
    ("told", "missing"), [(None, "no bin in use has one"), (0.0, "bins were fed nothing")]
)
def test_bins_in_use_are_known_where_no_feed_is(alike, told, missing):
    counts, program = town.counts(), town.program()
    fed = dict.fromkeys(("fed_kg_last_week", "fed_litres_last_week"), pl.lit(told, pl.Float64))
    counts.followup = counts.followup.with_columns(**fed)
    method = program.method.model_copy(update={"draws_count": DRAWS})
    with pytest.raises(NotYetError, match=missing):
        measured(counts)
    found = measure_in_use(counts, program.model_copy(update={"method": method}))
    assert found.bins_in_use == pytest.approx(alike.bins_in_use)


def test_each_kilogram_fed_keeps_out_what_the_shares_leave_of_it(alike):
    assert alike.kept_out_kg == pytest.approx(alike.fed_kg * KEPT_OUT_SHARE)
    assert alike.from_residual_bin_kg == pytest.approx(alike.fed_kg * 0.6)
    assert alike.fed_by_route_kg.sum(axis=1) == pytest.approx(alike.fed_kg)
    composted = PRIOR_SHARES.index("prior_garden_compost_share")
    assert alike.fed_by_route_kg[:, composted] == pytest.approx(alike.fed_kg * 0.4)


def test_areas_add_up_to_the_town_over_the_months_of_the_year(alike):
    areas, by_area = alike.of_areas, {"fed_kg", "kept_out_kg", "from_residual_bin_kg"}
    for name in by_area:
        year = getattr(alike, name)[:, YEAR].sum(axis=1)
        assert getattr(areas, name).sum(axis=1) == pytest.approx(year, rel=1e-5)
    assert areas.kept_out_of_town_kg == pytest.approx(alike.kept_out_kg[:, YEAR].sum(axis=1))
    assert areas.bins_in_use.sum(axis=1) == pytest.approx(alike.bins_in_use[:, -1])
    assert areas.fed_to_date_kg.sum() == pytest.approx(alike.fed_kg[0].sum())
    # as many bins of the same habits in both
    assert areas.fed_kg[:, 0] == pytest.approx(areas.fed_kg[:, 1])
    assert alike.differences.feed.predictor[0] == pytest.approx(np.zeros(2), abs=1e-9)


def test_where_nobody_weighs_no_diary_moves_the_level(alike):
    assert (alike.diaries.weight, alike.diaries.households_count) == (0.0, 0)
    assert alike.calibration.of_kg.kg_per_unit == pytest.approx(np.full(1 + DRAWS, 0.5))
    # all composted something, so none can be told from the others
    assert alike.composters is None


def test_areas_differ_as_their_answers_do(alike):
    """North feeds three times as much as south, and binned all where south composted all."""
    counts = town.counts(
        fed_kg={"N": 1.5 * town.FED_KG, "S": 0.5 * town.FED_KG}, residual={"N": 1.0, "S": 0.0}
    )
    apart = measured(counts)
    north, south = apart.differences.feed.predictor[0]
    # sixty answers an area, all alike: hardly drawn to each other
    assert np.exp(north - south) == pytest.approx(3.0, rel=0.1)
    assert apart.fed_kg[0] == pytest.approx(alike.fed_kg[0])
    shares = apart.of_areas.from_residual_bin_kg[0] / apart.of_areas.fed_kg[0]
    assert shares == pytest.approx([1.0, 0.0], abs=0.02)
    # of four parts fed, three were binned before
    of_town = apart.from_residual_bin_kg[0].sum() / apart.fed_kg[0].sum()
    assert of_town == pytest.approx(0.75, abs=0.01)
    # in the follow-up too, of those asked before they had a bin
    assert apart.routes.linked_count == 2 * town.IN_USE_SHARE * town.ASKED_OF_AREA
    assert apart.composters.household_share[0] == pytest.approx(0.5)


def test_what_areas_feed_apart_leans_the_town_and_no_area():
    """North feeds half as much again as south, and binned 95% of it, south 20%.

    Within an area all are alike, so its share is its answers'; of five parts fed in the town
    three are north's: (3 × 0.95 + 2 × 0.2) / 5 = 0.65.
    """
    counts = town.counts(
        fed_kg={"N": 1.2 * town.FED_KG, "S": 0.8 * town.FED_KG}, residual={"N": 0.95, "S": 0.2}
    )
    apart = measured(counts)
    of_town = apart.from_residual_bin_kg[0].sum() / apart.fed_kg[0].sum()
    assert of_town == pytest.approx(0.65, abs=0.01)
    found = area_figures(apart, 1.0, town.program().method.seed)
    assert found.landfill_share[0] == pytest.approx([0.95, 0.2], abs=0.02)
    assert found.fed_kg[0] / found.fed_kg[0].sum() == pytest.approx([0.6, 0.4], abs=0.02)
    kept_out = found.kept_out_kg[0]
    assert kept_out.sum() == pytest.approx(apart.of_areas.kept_out_of_town_kg[0])
    assert kept_out[0] / kept_out.sum() == pytest.approx(2.85 / 3.25, abs=0.03)


def test_no_more_bins_are_in_use_than_households_hold(alike):
    """North's bins all came back on record after the round, south's did not.

    Of 240 bins the curve expects some 190 in use at the end; 120 can be. What comes then is
    carried on from those.
    """
    counts = town.counts()
    counts.back = pl.DataFrame(
        {"area_id": ["N"], "back_month": [dt.date(2026, 4, 1)], "households_back": [120]}
    )
    emptied = measured(counts)
    expected, found = alike.bins_in_use, emptied.bins_in_use
    april = alike.cohorts.months.index(dt.date(2026, 4, 1))
    assert (expected[:, april:] > 120.0).all()
    assert found[:, april:] == pytest.approx(120.0)
    np.testing.assert_array_equal(found[:, :april], expected[:, :april])
    # over April from all there were to those that are left
    left = (1.0 + 120.0 / expected[:, april]) / 2.0
    assert emptied.fed_kg[:, april] == pytest.approx(alike.fed_kg[:, april] * left)
    assert emptied.kept_out_kg == pytest.approx(emptied.fed_kg * KEPT_OUT_SHARE)
    assert emptied.still_held_share[:, 0] == pytest.approx(120.0 / expected[:, -1])
    of_areas = area_figures(emptied, 1.0, town.program().method.seed).bins_in_use
    assert of_areas == pytest.approx(np.broadcast_to([0.0, 120.0], of_areas.shape))


def test_weights_that_are_given_are_those_that_are_made(alike):
    counts = town.counts()
    asked = prepare_rounds(counts.frames, counts.households, DRAWS, town.program().method)
    inputs = counts, town.program(), town.factors(DRAWS), SURE
    again = measure_town(inputs, weigh_rounds(asked))
    np.testing.assert_array_equal(again.fed_kg, alike.fed_kg)
    assert [one.asked["wave_id"][0] for one in alike.asked] == ["B", "F"]
    # replicates are the most of what is in memory, and the bounds of silence read few of them
    few = min(1 + DRAWS, BOUND_ROWS)
    assert [wave.weights.shape[0] for wave in alike.waves] == [few, few]


def test_spreads_are_those_of_the_draws_to_two_digits():
    rng = np.random.default_rng(1)
    drawn = {name: 1.0 + 0.0873 * rng.standard_normal(4001) for name in BELIEF_IDS}
    assert spreads_of(drawn) == pytest.approx(dict.fromkeys(BELIEF_IDS, 0.087), abs=0.0021)


def more_bins(alike, north, south):
    """Houses given bins in July 2026, a month of which half is left."""
    bins = np.zeros((2, 2, len(DWELLINGS)))
    bins[0, :, DWELLINGS.index("house")] = north, south
    months = (town.BEFORE, dt.date(2026, 8, 1))
    return Cohorts(months, alike.cohorts.area_ids, bins)


def test_bins_to_come_do_what_those_given_did(alike):
    counts, factors = town.counts(), town.factors(DRAWS)
    found = estimate_more_bins(more_bins(alike, 60.0, 60.0), alike, counts, town.program(), factors)
    in_use, fed, kept_out = found
    curve = alike.estimates.retained.curves[DWELLINGS.index("house")]
    assert in_use == pytest.approx(120.0 * curve.in_use_share(np.array([0.5, 1.5])))
    ages = np.array([1.0 / 3.0, 1.0])  # of bins given all through July, in it and after it
    weeks = 120.0 * curve.in_use_share(ages) * np.array([0.5 * 31, 31]) / 7
    level = alike.benchmark.by_month((town.BEFORE, dt.date(2026, 8, 1)))
    assert fed == pytest.approx(weeks * level * alike.estimates.pooled_kg_per_in_use_bin_week[0])
    assert kept_out == pytest.approx(fed * KEPT_OUT_SHARE)


def test_a_collection_takes_its_share_from_the_bins_of_its_area_alone(alike):
    """Half of the north's scraps go to a kerbside bin from August on."""
    coming = BaselineScenario(
        name="Food", begins=dt.date(2026, 8, 1), leaves_residual_bin_share=0.5, areas=("N",)
    )
    program = town.program().model_copy(update={"scenarios": (coming,)})
    more = more_bins(alike, 90.0, 30.0)
    _, fed, kept_out = estimate_more_bins(more, alike, town.counts(), program, town.factors(DRAWS))
    # by hand: of a kilogram fed in the north 0.75 (0.3 × 0.9 − 0.05), three in four of all
    half = 0.75 * (0.75 * 0.3 * 0.9 + 0.25 * 0.6 * 0.9 - 0.05)
    assert kept_out[0] == pytest.approx(fed[0] * [KEPT_OUT_SHARE, half])


def test_the_year_follows_draw_by_draw_what_is_believed_of_it_over_the_weeks_surveyed(alike):
    believed = np.r_[1.0, np.tile([1.1, 0.9], DRAWS // 2)]
    unsure = measure(
        town.counts(),
        town.program(),
        town.factors(DRAWS) | {"year_to_surveyed_weeks_multiplier": believed},
        SURE | {"year_to_surveyed_weeks_multiplier": 0.1},
    )
    ratio = (unsure.fed_kg / alike.fed_kg)[:, YEAR].mean(axis=1)
    assert ratio[0] == pytest.approx(1.0)
    assert ratio == pytest.approx(believed, rel=0.03)


def weighed_weeks(kg):
    """Weeks of twelve households that nobody asked, each weighed twice in settled months."""
    weeks = [dt.date(2026, 1, 5), dt.date(2026, 2, 2)]
    return pl.DataFrame(
        {
            "household_id": [f"D{n:02d}" for n in range(12) for _ in weeks],
            "week_start_date": weeks * 12,
            "dwelling": ["house"] * 24,
            "age_days": [(day - town.GIVEN).days for day in weeks] * 12,
            "fed_kg": [kg] * 24,
            "is_calibrating": [False] * 24,
        }
    )


def test_weighed_weeks_of_others_draw_the_level_towards_them(alike):
    times, counts = 1.25, town.counts()
    counts.diary_weeks = weighed_weeks(times * KG)
    joined = measured(counts)
    assert joined.diaries.households_count == 12
    assert joined.diaries.ratio[0] == pytest.approx(times, rel=0.01)
    moved = joined.fed_kg[0].sum() / alike.fed_kg[0].sum()
    assert moved == pytest.approx(times**joined.diaries.weight, rel=0.01)
    assert 0.1 < joined.diaries.weight < 0.9
