"""What `planner check` lists of the sample programs is what they hold on purpose."""

from __future__ import annotations

import polars as pl
import pytest

from planner.checks import run_checks
from planner.messages import messages_for
from planner.starting import last_day_of_records
from planner.store.opening import open_store
from sample_programs.generator import TOWNS, simulate
from tests.programs.conftest import TOWNS as TOWN_NAMES

FEW_ANSWERS = 1
OF_SPOILT_HANDOVERS = {"answer_without_bin": 1, "weighing_before_bin": 0}
"""Checks that miss a hand-over, and where their keys hold the household."""

STOCK = "stock_does_not_balance"
"""Books hold what a spoilt hand-over took away, the count does not."""

MEANT = {
    "baseline_after_handover",
    "weighed_week_not_paired",
    "invoice_differs",
    "two_bins_at_one_household",
    "month_without_handovers",
    "came_without_handover",
    "stratum_with_one_answer",
    *OF_SPOILT_HANDOVERS,
    STOCK,
}


@pytest.fixture(scope="module", params=TOWN_NAMES)
def checked(request, sample):
    """Give a town's findings by check, its simulation, and its records as taken in."""
    one, town = sample(request.param), TOWNS[request.param]
    with open_store(one.folder, read_only=True) as store:
        day = last_day_of_records(one.program)
        findings = run_checks(store, one.program, day, messages_for("en"))
        kept = {table: store.records(table) for table in one.truth["good_rows"]}
    found = {name: set(rows["record_key"]) for (name,), rows in findings.group_by("check_name")}
    return found, simulate(town, town.seed), kept


def test_nothing_else_is_listed(checked):
    assert set(checked[0]) <= MEANT


def test_nobody_who_may_not_be_contacted_is_asked(checked):
    _, _, kept = checked
    silent = kept["households"].filter(~pl.col("may_contact"))
    assert silent.height
    assert kept["samples"].join(silent, on="household_id", how="semi").is_empty()


def test_the_second_bins_listed_are_those_that_were_given(checked):
    found, simulation, kept = checked
    bins = simulation.bins.join(kept["handovers"], on="handover_id", how="semi")
    back = kept["givebacks"].select("handover_id", "giveback_date")
    first = bins.filter(~pl.col("is_second")).join(back, on="handover_id", how="left")
    both = bins.filter("is_second").join(first, on="household_id")
    beside = both.filter((pl.col("giveback_date") > pl.col("handover_date")).fill_null(value=True))
    assert found.get("two_bins_at_one_household", set()) == set(beside["handover_id"])


def test_the_places_used_without_a_bin_are_those_of_spoilt_hand_overs(checked):
    found, simulation, kept = checked
    lost = simulation.bins.join(kept["handovers"], on="handover_id", how="anti")
    of_days = kept["bookings"].filter(state="came").join(lost, on=["household_id", "event_id"])
    assert found.get("came_without_handover", set()) == set(of_days["booking_id"])


def test_the_months_listed_had_neither_hand_over_nor_hand_over_day(checked):
    found, _, kept = checked
    given = kept["handovers"]["handover_date"].dt.truncate("1mo")
    months = pl.date_range(given.min(), given.max(), "1mo", eager=True)
    silent = set(months.dt.strftime("%Y-%m")) - set(given.dt.strftime("%Y-%m"))
    assert found.get("month_without_handovers", set()) == silent
    assert not silent & set(kept["events"]["event_date"].dt.strftime("%Y-%m"))


def test_the_strata_listed_have_one_answer_or_none(checked):
    found, _, kept = checked
    said = kept["answers"].select("wave_id", "household_id", said=1)
    strata = (
        kept["samples"]
        .join(said, on=["wave_id", "household_id"], how="left")
        .group_by("wave_id", "stratum")
        .agg(pl.col("said").sum(), asked=pl.len())
    )
    few = strata.filter(pl.col("said") <= FEW_ANSWERS)
    keys = few.select(pl.format("{} | {}", "wave_id", "stratum")).to_series()
    assert found.get("stratum_with_one_answer", set()) == set(keys)
    assert few["asked"].max() <= 8  # the towns' smallest cells hold no more households


@pytest.mark.parametrize(("check", "place"), OF_SPOILT_HANDOVERS.items())
def test_a_hand_over_is_missed_only_where_it_was_spoilt(checked, check, place):
    found, simulation, kept = checked
    lost = simulation.bins.join(kept["handovers"], on="handover_id", how="anti")
    missed = {key.split(" | ")[place] for key in found.get(check, set())}
    assert missed <= set(lost["household_id"])


def test_stock_is_out_only_by_the_hand_overs_that_were_spoilt(checked):
    found, simulation, kept = checked
    lost = simulation.bins.join(kept["handovers"], on="handover_id", how="anti")
    items = {"worms", "bedding", *lost["model_id"]} if lost.height else set()
    first = lost["handover_date"].min()
    for key in found.get(STOCK, set()):
        item, day = key.split(", ")
        assert item in items
        assert day >= f"{first:%Y-%m-%d}"
