"""The factor tables hold to their own rules."""

from __future__ import annotations

import math

import pytest

from planner import paths
from planner.factors import read_factors
from planner.messages import messages_for
from planner.program import read_program
from planner.program.ordering import Ordering, ShippingWindow
from planner.worms.run_in import STARTUP_WEEKS

TABLE = read_factors()
SHAPES = ("fixed", "uniform", "triangular", "normal", "lognormal")
EVIDENCE = ("measured", "guideline", "expert", "common_practice", "assumed")
SEEN = ("yes", "second_hand", "memory", "computed")
DRAWN = [factor for factor in TABLE if factor.shape != "fixed"]


def test_every_row_says_what_it_is_and_where_it_comes_from():
    for factor in TABLE:
        assert all((factor.factor_id, factor.unit, factor.source_place)), factor.key
        assert factor.shape in SHAPES, factor.key
        assert factor.evidence in EVIDENCE, factor.key
        assert factor.seen in SEEN, factor.key
        assert TABLE.source(factor.source_id).cited(messages_for("en")), factor.key
        assert math.isfinite(factor.value), factor.key


def test_value_lies_within_its_limits():
    for factor in TABLE:
        assert (factor.low is None) == (factor.high is None), factor.key
        low, high = factor.limits
        assert low <= factor.value <= high, factor.key


def test_drawn_rows_print_a_range():
    assert [one.key for one in DRAWN if one.low is None or not one.low < one.high] == []


def test_value_of_a_bell_is_its_middle():
    for factor in DRAWN:
        low, high = factor.limits
        if factor.shape == "normal":
            assert factor.value == pytest.approx((low + high) / 2, rel=0.05), factor.key
        if factor.shape == "lognormal":
            assert factor.value == pytest.approx(math.sqrt(low * high), rel=0.05), factor.key


def test_shares_lie_between_nothing_and_all():
    shares = [factor for factor in TABLE if factor.factor_id.endswith("_share")]
    assert shares
    assert all(factor.limits[0] >= 0 and factor.limits[1] <= 1 for factor in shares)


def test_factor_id_place_and_edition_name_one_row():
    keys = [factor.key for factor in TABLE]
    assert len(keys) == len(set(keys))


def test_one_factor_has_one_unit_for_each_kind_of_mass():
    units: dict[str, set[str]] = {}
    for factor in TABLE:
        units.setdefault(factor.factor_id, set()).add(factor.unit.replace(" dry", " wet"))
    assert {factor_id: found for factor_id, found in units.items() if len(found) > 1} == {}


def test_every_source_is_used():
    assert set(TABLE.sources) == {factor.source_id for factor in TABLE}


def test_sources_without_a_date_are_those_remembered():
    undated = {source.source_id for source in TABLE.sources.values() if source.date_read is None}
    read = {factor.source_id for factor in TABLE if factor.seen != "memory"}
    assert undated
    assert not undated & read


def test_the_program_template_repeats_the_published_schedule_and_threshold():
    program = read_program(paths.TEMPLATES / "program.toml")
    for step in program.landfill.gas_capture:
        row = TABLE.find("captured_share", f"from_age_{step.from_age_years}_years", "epa_2023")
        assert row.value == step.captured_share
    threshold = TABLE.find("small_cell_threshold_count").value
    assert program.privacy.small_cell_threshold == threshold


def test_the_start_up_weeks_of_a_new_bin_are_those_of_the_table():
    assert TABLE.find("startup_weeks").value == STARTUP_WEEKS


def test_what_an_order_takes_unless_told_is_what_the_table_says():
    window, settings = ShippingWindow(), Ordering()
    assert TABLE.find("transit_warmest_c").value == window.warmest_c
    assert TABLE.find("transit_coldest_c").value == window.coldest_c
    assert TABLE.find("transit_loss_share").value == settings.transit_loss_share
