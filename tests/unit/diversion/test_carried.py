"""Bins carried forward and the chain from gross to net, against closed forms."""

from __future__ import annotations

import datetime as dt
from itertools import pairwise
from types import SimpleNamespace

import numpy as np
import polars as pl
import pytest

from planner.diversion.benchmark import YOUNG_MONTHS, RunInFit
from planner.diversion.carried import _months_to_come, another_year, carry_forward
from planner.diversion.cohorts import cohorts, weeks_of
from planner.diversion.gross_to_net import gross_to_net
from planner.diversion.leakage import Leakage
from planner.diversion.town_year import FACTOR_IDS
from planner.factors import read_factors
from planner.factors.draws import draw_factors
from planner.paths import PROGRAM_FILE, TEMPLATES
from planner.program import BaselineScenario, read_program
from planner.tables import DWELLINGS

BINS = 40
SCALE_MONTHS = 24.0
FEED_KG_PER_WEEK = 0.01
"""So little that any stock takes it all: the feed share is 1 at every age."""

RESIDUAL_SHARE, LANDFILLED_SHARE = 0.6, 0.5
ANYWAY, THROWN = 0.1, 0.04
KEPT_OUT_SHARE = 0.5 * (0.6 * 0.9 - 0.04)
LIFE_YEARS = 2
GIVEN, BEFORE = dt.date(2025, 4, 1), dt.date(2026, 4, 1)
DRAWS = 1 + 8
AS_PUBLISHED = RunInFit(np.ones(DRAWS), 0, 0)


def program():
    """Take the shipped program file, its bins lasting two years."""
    shipped = read_program(TEMPLATES / PROGRAM_FILE)
    short = shipped.bin_models[0].model_copy(update={"service_life_years": LIFE_YEARS})
    landfill = shipped.landfill.model_copy(
        update={"landfilled_share_of_residual_waste": LANDFILLED_SHARE}
    )
    return shipped.model_copy(update={"bin_models": (short,), "landfill": landfill})


def handovers(given_in=GIVEN):
    """Forty households in April 2025; two of them took a second bin."""
    return pl.DataFrame(
        {
            "area_id": ["A"],
            "dwelling": [DWELLINGS[0]],
            "model_id": [program().bin_models[0].model_id],
            "handover_month": [given_in],
            "bins_given": [BINS + 2],
            "households_begun": [BINS],
            "month_left": [1.0 / 2.0],
            "month_left_square": [1.0 / 3.0],
            "worms_kg": [20.0],
            "starters_count": [BINS],
        }
    )


class Exponential:
    """Bins stop at a constant rate, so that shares in use have a closed form."""

    def in_use_share(self, age_months, entry_month=None):
        share = np.exp(-np.maximum(np.asarray(age_months, dtype=float), 0.0) / SCALE_MONTHS)
        return np.broadcast_to(share, (DRAWS, *share.shape))


def measured(given_in=GIVEN, run_in=AS_PUBLISHED):
    """Write down what measuring would give of these bins, as far as is asked for."""
    given = cohorts(handovers(given_in), ("A",), BEFORE)
    feed = np.full((DRAWS, len(DWELLINGS)), FEED_KG_PER_WEEK)
    shares = np.zeros((DRAWS, 1, len(DWELLINGS), 5))
    shares[..., 0] = RESIDUAL_SHARE
    in_use = np.exp(-given.age_in_month()[:, 0] / SCALE_MONTHS) * given.exposure()[:, 0] * BINS
    fed = np.broadcast_to(in_use * FEED_KG_PER_WEEK * given.weeks, (DRAWS, len(given.months)))
    return SimpleNamespace(
        cohorts=given,
        estimates=SimpleNamespace(
            retention=tuple(Exponential() for _ in DWELLINGS),
            retained=SimpleNamespace(curves=tuple(Exponential() for _ in DWELLINGS)),
            kg_per_in_use_bin_week=feed,
            pooled_kg_per_in_use_bin_week=feed[:, 0],
        ),
        benchmark=SimpleNamespace(by_month=lambda months: np.ones((DRAWS, len(months)))),
        routes=SimpleNamespace(shares=shares),
        still_held_share=np.ones((DRAWS, 1)),
        bins_in_use=np.ones((DRAWS, len(given.months))),
        fed_kg=fed,
        kept_out_kg=fed * KEPT_OUT_SHARE,
        from_residual_bin_kg=fed * RESIDUAL_SHARE,
        leakage=Leakage(np.full(DRAWS, ANYWAY), np.full(DRAWS, THROWN), {}),
        run_in=run_in,
        fed_by_route_kg=fed[:, None] * np.array([RESIDUAL_SHARE, 0.4, 0.0, 0.0, 0.0])[:, None],
    )


def counts(given_in=GIVEN):
    return SimpleNamespace(handovers=handovers(given_in), before_date=BEFORE, from_date=GIVEN)


@pytest.fixture(scope="module")
def factors():
    table = read_factors()
    rows = [*map(table.of_new_bin, FACTOR_IDS)]
    return draw_factors(rows, DRAWS - 1, seed=1)


@pytest.fixture(scope="module")
def carried(factors):
    return carry_forward(measured(), counts(), program(), factors)


def test_months_run_from_the_last_measured_to_the_end_of_the_year_of_the_last_bin(carried):
    # bins of April 2025 last to days of April 2027; that reporting year ends in March 2028
    assert carried.months[0] == BEFORE
    assert carried.months[-1] == dt.date(2028, 3, 1)
    assert len(carried.months) == len(set(carried.months)) == 24


def test_months_run_on_for_the_last_bins_and_not_for_the_first_alone():
    # bins of March 2027 last to April 2029, those of April 2025 to April 2027
    months = _months_to_come(GIVEN, dt.date(2027, 4, 1), 24, program())
    assert (months[0], months[-1]) == (dt.date(2027, 4, 1), dt.date(2029, 3, 1))


def test_a_month_to_come_has_the_weeks_of_its_days():
    assert weeks_of([dt.date(2028, 2, 1)]) * 7 == pytest.approx([29])
    year_s_end = [dt.date(2026, 11, 1), dt.date(2026, 12, 1)]
    assert weeks_of(year_s_end) * 7 == pytest.approx([30, 31])


def test_what_is_kept_out_follows_the_retention_curve(carried):
    for month in (0, 5, 11):
        age = 12 + month
        first = carried.months[month]
        days = (carried.months[month + 1] - first).days
        kg = BINS * np.exp(-age / SCALE_MONTHS) * FEED_KG_PER_WEEK * days / 7
        assert carried.fed_kg[:, month] == pytest.approx(kg, rel=1e-12)
        kept_out = kg * KEPT_OUT_SHARE
        assert carried.kept_out_kg[:, month] == pytest.approx(kept_out, rel=1e-12)
        at_end = BINS * np.exp(-(age + 0.5) / SCALE_MONTHS)
        assert carried.bins_in_use[:, month] == pytest.approx(at_end, rel=1e-12)


def test_a_bin_is_there_for_its_service_life_and_no_longer(carried):
    # exposure of the measured months (half of the first) and of those carried add up to it
    age = 12.0 + np.arange(len(carried.months))
    days = np.diff([m.toordinal() for m in (*carried.months, dt.date(2028, 4, 1))])
    full = BINS * np.exp(-age / SCALE_MONTHS) * FEED_KG_PER_WEEK * days / 7
    exposure = carried.fed_kg[0] / full
    assert 0.5 + 11 + exposure.sum() == pytest.approx(LIFE_YEARS * 12)
    assert (carried.kept_out_kg[:, age > LIFE_YEARS * 12] == 0.0).all()


def with_collection(begins, share):
    """Add a food collection to the program, as a council decides one."""
    coming = BaselineScenario(name="Food", begins=begins, leaves_residual_bin_share=share)
    return program().model_copy(update={"scenarios": (coming,)})


def test_a_food_collection_halves_the_residual_route_from_its_month_on(carried, factors):
    begins = carried.months[6]
    changed = carry_forward(measured(), counts(), with_collection(begins, 0.5), factors)
    half = np.array([1.0 if month < begins else 0.5 for month in carried.months])
    assert changed.fed_kg == pytest.approx(carried.fed_kg)
    assert changed.from_residual_bin_kg == pytest.approx(carried.from_residual_bin_kg * half)
    # by hand: of a kilogram fed 0.5 (0.3 x 0.9 - 0.04) = 0.115 kg, where it was 0.25 kg
    assert changed.kept_out_kg[:, 6:] == pytest.approx(0.115 * carried.fed_kg[:, 6:])
    assert changed.kept_out_kg[:, :6] == pytest.approx(0.25 * carried.fed_kg[:, :6])


def test_a_change_after_the_last_bin_wore_out_changes_nothing(carried, factors):
    late = with_collection(dt.date(2030, 1, 1), 1.0)
    changed = carry_forward(measured(), counts(), late, factors)
    np.testing.assert_array_equal(changed.kept_out_kg, carried.kept_out_kg)


def test_young_bins_go_on_as_their_rounds_surveyed_them(factors):
    given_in = dt.date(2026, 3, 1)
    surveyed = RunInFit(np.full(DRAWS, 0.5), 1000, 1000)
    plain, slow = (
        carry_forward(measured(given_in, fit), counts(given_in), program(), factors)
        for fit in (AS_PUBLISHED, surveyed)
    )
    ratio = slow.fed_kg[0] / np.maximum(plain.fed_kg[0], 1e-300)
    age = 1.0 + np.arange(len(plain.months))
    there = plain.fed_kg[0] > 0.0
    assert ratio[there & (age < YOUNG_MONTHS)] == pytest.approx(0.5)
    assert ratio[there & (age > YOUNG_MONTHS)] == pytest.approx(1.0)


def test_another_year_s_bins_do_what_the_closed_form_says(factors):
    again = another_year(measured(), counts(), program(), factors)
    assert again.months[0] == BEFORE
    # integral of exp(-t / 24) over 24 months, of 40 bins; a month's mean stands for the month
    whole = BINS * SCALE_MONTHS * (1.0 - np.exp(-1.0)) / 12.0
    assert again.in_use_bin_years.sum(axis=1) == pytest.approx(whole, rel=0.02)
    weeks = again.in_use_bin_years * 365.25 / 7
    assert again.kept_out_kg == pytest.approx(weeks * FEED_KG_PER_WEEK * KEPT_OUT_SHARE)


def test_another_year_follows_the_stated_changes_too(factors):
    plain = another_year(measured(), counts(), program(), factors)
    begins = plain.months[3]
    changed = another_year(measured(), counts(), with_collection(begins, 0.5), factors)
    assert changed.kept_out_kg[:, 3:] == pytest.approx(plain.kept_out_kg[:, 3:] * 0.115 / 0.25)
    assert changed.kept_out_kg[:, :3] == pytest.approx(plain.kept_out_kg[:, :3])


def test_where_no_bin_was_given_there_is_no_other_year(factors):
    none = SimpleNamespace(handovers=handovers(), before_date=BEFORE, from_date=dt.date(2025, 5, 1))
    assert another_year(measured(), none, program(), factors) is None


def test_second_bins_alone_are_no_other_year(factors):
    """A household that took a second bin in the year feeds both: it did not begin again."""
    second = SimpleNamespace(
        handovers=handovers().with_columns(households_begun=pl.lit(0)),
        before_date=BEFORE,
        from_date=GIVEN,
    )
    assert another_year(measured(), second, program(), factors) is None


def test_the_chain_multiplies_out():
    chain = gross_to_net(measured(), counts(), LANDFILLED_SHARE)
    steps = chain.steps_kg
    assert chain.bins_given == BINS + 2
    # full feed from the hand-over on: half of April 2025 and eleven whole months
    weeks = (15 + 335) / 7
    assert chain.bin_weeks_given == pytest.approx((BINS + 2) * weeks)
    assert steps["given"] == pytest.approx((BINS + 2) * weeks * FEED_KG_PER_WEEK)
    # a bin counts as set up from a month on; in its first half month it is a third of one old
    first, later = (np.exp(-age / SCALE_MONTHS) for age in (1.0 / 3.0, 1.0))
    set_up_weeks = (15 * first + 335 * later) / 7
    assert steps["set_up"] == pytest.approx(BINS * set_up_weeks * FEED_KG_PER_WEEK)
    for before, after in pairwise(steps.values()):
        assert (after <= before * (1 + 1e-12)).all()
    assert steps["in_use"] == pytest.approx(steps["fed"])
    assert steps["from_residual_bin"] == pytest.approx(steps["fed"] * RESIDUAL_SHARE)
    assert steps["landfilled"] == pytest.approx(steps["from_residual_bin"] * LANDFILLED_SHARE)
    assert steps["kept_out"] == pytest.approx(steps["fed"] * KEPT_OUT_SHARE)
    assert chain.bins_set_up == pytest.approx(BINS * np.exp(-1.0 / SCALE_MONTHS))
