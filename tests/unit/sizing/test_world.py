"""What one draw makes of a bin: shares, feed, retention and costs worked by hand."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import polars as pl
import pytest

from planner.diversion.leakage import ANYWAY, THROWN_AWAY
from planner.sizing.context import _copayment_before, _earlier, _ledger, context_of
from planner.sizing.draws import draw_beliefs
from planner.sizing.inputs import inputs_of
from planner.sizing.settings import settings_of
from planner.sizing.world import (
    _other_cost,
    earlier_bins,
    feed_of_groups,
    kept_out_share,
    landfill_share,
    mean_feed,
    retention_curves,
)
from planner.tables import DWELLINGS
from tests.unit.sizing.test_size_of_areas_alone import LABEL, TABLE, evidence, program

GROUPS = SimpleNamespace(
    dwelling=np.array([0, 2]),
    has_food_collection=np.array([False, True]),
    people=np.array([2.5, 5.0]),
    households=np.array([30.0, 10.0]),
)
CONTEXT = SimpleNamespace(
    groups=GROUPS,
    routes=None,
    reference_people=np.array([2.5, 2.5, 2.5]),
    feed_ratio=np.array([1.0, 0.8]),
    program=SimpleNamespace(landfill=SimpleNamespace(landfilled_share_of_residual_waste=0.9)),
)


def test_where_food_is_collected_apart_less_went_to_landfill():
    draws = {
        "new_composter_share": np.array([0.8, 0.5]),
        "residual_bin_share": np.array([0.7, 1.0]),
        "food_collection_residual_ratio": np.array([0.4, 0.2]),
    }
    whole = 0.9 * np.array([0.8 * 0.7, 0.5])
    wanted = np.stack([whole, whole * np.array([0.4, 0.2])], axis=1)
    assert landfill_share(CONTEXT, draws) == pytest.approx(wanted)


def test_both_leaks_come_off_what_was_landfilled():
    draws = {ANYWAY: np.array([0.25]), THROWN_AWAY: np.array([0.1])}
    # a quarter would have been composted anyway; of the tenth thrown away 0.9 is landfilled
    found = kept_out_share(CONTEXT, draws, np.array([[0.6, 0.2]]))
    assert found == pytest.approx(np.array([[0.6 * 0.75 - 0.09, 0.2 * 0.75 - 0.09]]))


def test_a_household_of_twice_the_reference_feeds_two_to_the_exponent_as_much():
    draws = {
        "feed_household_size_exponent": np.array([0.5, 1.0]),
        "feed_kg_per_week": np.array([1.2, 2.0]),
    }
    found = feed_of_groups(CONTEXT, draws)
    assert found == pytest.approx(np.array([[1.2, 1.2 * 0.8 * 2**0.5], [2.0, 2.0 * 0.8 * 2.0]]))
    weights = SimpleNamespace(groups=SimpleNamespace(**{**vars(GROUPS), "dwelling": np.zeros(2)}))
    assert mean_feed(weights, np.array([[1.0, 3.0]]), 0) == pytest.approx([1.5])
    # a dwelling without a household takes the mean of all, each group once
    assert mean_feed(weights, np.array([[1.0, 3.0]]), 1) == pytest.approx([2.0])


def test_retention_goes_through_its_share_at_12_months_by_weibulls_law():
    draws = {
        "retention_shape": np.array([0.8]),
        "workshop_in_use_odds_ratio": np.array([2.0]),
        **{f"in_use_12_months_share_{name}": np.array([0.6]) for name in DWELLINGS},
    }
    ages = np.array([12.0, 24.0])
    for curve in retention_curves(draws, with_workshop=False):
        found = curve.in_use_share(ages).ravel()
        assert found == pytest.approx([0.6, 0.6 ** (2**0.8)])
    # odds of 0.6 are 1.5; doubled they are 3, which is a share of 0.75
    for curve in retention_curves(draws, with_workshop=True):
        assert curve.in_use_share(ages).ravel()[0] == pytest.approx(0.75)


@pytest.mark.parametrize(("known", "wanted"), [(None, [18.0, 28.0]), (7.0, [7.0, 7.0])])
def test_handing_over_costs_a_share_of_the_price_or_what_the_ledger_says(known, wanted):
    models = [SimpleNamespace(unit_price=one) for one in (90.0, 140.0)]
    draws = {
        "other_cost_to_price_ratio": np.array([0.2]),
        "workshop_cost_to_price_ratio": np.array([0.1]),
    }
    context = SimpleNamespace(other_cost_per_bin=lambda _: known)
    plain = {"models": models, "copayment": 5.0, "workshop_cost_per_bin": None}
    cost = _other_cost(context, SimpleNamespace(**plain, with_workshop=False), draws)
    assert cost == pytest.approx(np.array([wanted]) - 5.0)
    more = _other_cost(context, SimpleNamespace(**plain, with_workshop=True), draws)
    assert more - cost == pytest.approx(np.array([[9.0, 14.0]]))
    stated = {**plain, "workshop_cost_per_bin": 11.0, "with_workshop": True}
    assert _other_cost(context, SimpleNamespace(**stated), draws) - cost == pytest.approx(11.0)


def test_the_year_before_tells_what_a_bin_costs_beside_its_price_and_what_is_fixed():
    spent = {
        "worms": 300.0,
        "freight": 100.0,
        "bins": 9000.0,
        "staff": 5000.0,
        "copayments_received": -800.0,
    }
    rows = pl.DataFrame({"category": list(spent), "amount_in_year": list(spent.values())})
    year = SimpleNamespace(costs=rows, areas=pl.DataFrame({"bins_given_in_year": [50, 30]}))
    assert _ledger(year) == (5.0, 5000.0)
    year.areas = pl.DataFrame({"bins_given_in_year": [0]})
    assert _ledger(year) == (None, 5000.0)
    assert _ledger(SimpleNamespace(costs=rows.clear())) == (None, None)


def test_copayments_count_over_the_year_before_and_earlier_bins_by_their_month():
    months = [dt.date(2025, 6, 1), dt.date(2025, 7, 1), dt.date(2026, 1, 1)]
    rows = pl.DataFrame(
        {
            "area_id": ["A", "A", "B"],
            "dwelling": ["house", "house", "apartment"],
            "handover_month": months,
            "bins_given": [50, 30, 10],
            "households_begun": [50.0, 28.0, 9.0],
            "copayment": [900.0, 300.0, 500.0],
        }
    )
    evidence = SimpleNamespace(handovers=rows, from_date=dt.date(2025, 7, 1))
    assert _copayment_before(evidence) == pytest.approx(800.0 / 40.0)
    groups = SimpleNamespace(labels=("A/house", "B/apartment"), count=2)
    found = _earlier(evidence, groups, 1.0)
    # where households hold but a quarter of what the curves expect in use
    assert _earlier(evidence, groups, 0.25).households.sum() == found.households.sum() / 4.0
    assert found.months == tuple(months)
    assert found.households.tolist() == [[50.0, 28.0, 0.0], [0.0, 0.0, 9.0]]


def kept_out_by_earlier(households, month, **of_dwelling):
    """Kilograms by draw and month of the plan, of bins given in a month before it."""
    begun = {"house": households, **of_dwelling}
    given = pl.DataFrame(
        {
            "area_id": ["A"] * len(begun),
            "dwelling": list(begun),
            "handover_month": [month] * len(begun),
            "bins_given": [int(count) for count in begun.values()],
            "households_begun": list(begun.values()),
            "copayment": [0.0] * len(begun),
        }
    )
    before = replace(evidence(), handovers=given)
    chosen = program()
    context = context_of(chosen, TABLE, before, None, None)
    known = inputs_of(chosen, TABLE, context.groups, before, None, None)
    settings = settings_of(chosen, LABEL)
    draws = draw_beliefs(known.beliefs, {}, 16, 1)
    return earlier_bins(context, settings, draws), settings


def test_bins_given_before_count_in_the_months_of_the_plan_and_twice_as_many_twice():
    one, settings = kept_out_by_earlier(40.0, dt.date(2025, 3, 1))
    assert one.shape == (17, len(settings.months))
    assert (one > 0.0).all()
    two, _ = kept_out_by_earlier(80.0, dt.date(2025, 3, 1))
    assert two == pytest.approx(2.0 * one)
    # those given a year earlier have had a year more to stop; the seasons are the same
    older, _ = kept_out_by_earlier(40.0, dt.date(2024, 3, 1))
    assert (older[0] < one[0]).all()


def test_bins_of_two_dwellings_add_up():
    month = dt.date(2025, 3, 1)
    houses, flats, both = (
        kept_out_by_earlier(of_houses, month, apartment=of_flats)[0]
        for of_houses, of_flats in ((40.0, 0.0), (0.0, 20.0), (40.0, 20.0))
    )
    assert (flats > 0.0).all()
    assert both == pytest.approx(houses + flats)
