"""Calls, cases and stock of the sample programs, against the town from which they were made."""

from __future__ import annotations

import datetime as dt

import polars as pl
import pytest

from planner.field.calling import list_calls
from planner.field.calling_request import CallRequest
from planner.field.case_list import list_cases
from planner.starting import last_day_of_records
from planner.store.opening import open_store
from sample_programs.generator.aftercare_records import WEAK_WORMS_MONTHS_BEFORE_END

BIG_TOWNS = ("port_marrow", "thornquay")


def months_before(day, count):
    """First day of the month so many months before the day after."""
    after = day + dt.timedelta(days=1)
    months = after.year * 12 + after.month - 1 - count
    return dt.date(months // 12, months % 12 + 1, 1)


@pytest.mark.parametrize("town", BIG_TOWNS)
def test_the_one_delivery_of_weak_worms_is_found_and_no_other(sample, town):
    one = sample(town)
    last = last_day_of_records(one.program)
    found = list_cases(one.folder, last, dry_run=True)
    with open_store(one.folder, read_only=True) as store:
        came = store.records("deliveries").select("delivery_id", "delivered_date")
    alerts = found.lots.filter("is_alert")
    named = alerts.join(came, left_on="lot_id", right_on="delivery_id", how="left")
    assert named["lot_kind"].to_list() == ["worm delivery"]
    assert named["delivered_date"].to_list() == [months_before(last, WEAK_WORMS_MONTHS_BEFORE_END)]


@pytest.mark.parametrize("town", BIG_TOWNS)
def test_a_calling_list_holds_only_registered_holders_of_bins_who_agreed(sample, town):
    one = sample(town)
    last = last_day_of_records(one.program)
    found = list_calls(one.folder, CallRequest(last, 10_000, 10_000), dry_run=True)
    with open_store(one.folder, read_only=True) as store:
        homes, bins, back, calls = (
            store.records(name) for name in ("households", "handovers", "givebacks", "calls")
        )
    held = bins.join(back, on="handover_id", how="anti")
    called = found.called
    assert called["household_id"].is_unique().all()
    assert called.join(held, on="household_id", how="anti").is_empty()
    assert called.join(homes.filter("may_contact"), on="household_id", how="anti").is_empty()
    refused = calls.filter(pl.col("call_outcome") == "refused")
    assert called.join(refused, on="household_id", how="semi").is_empty()
    # whoever is due is on the list or barred for a stated reason
    barred = found.due.filter(pl.col("barrier").is_not_null())
    assert called.height + barred.height == found.due.height


@pytest.mark.parametrize("town", BIG_TOWNS)
def test_worms_that_topped_bins_up_left_the_store(sample, town):
    one = sample(town)
    with open_store(one.folder, read_only=True) as store:
        moved = store.query("stage_stock_handed").filter(stock_item="worms")
        given = store.records("handovers")["worms_kg"].sum()
        shared = store.records("site_bins")["worms_kg"].sum()
        topped = store.records("cases")["worms_kg"].sum()
    assert topped > 0.0
    assert moved["handed_quantity"].sum() == pytest.approx(given + shared + topped)
