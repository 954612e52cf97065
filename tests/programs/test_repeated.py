"""The same records give the same report; other seeds and fewer answers change intervals alone."""

from __future__ import annotations

import dataclasses
import shutil

import polars as pl
import pytest

from planner import reporting
from planner.factors import read_factors
from planner.paths import REPORT_FOLDER
from planner.report.register import register_year
from planner.report.year import estimate_year
from tests.programs.conftest import load_sample, spreadsheets

pytestmark = pytest.mark.thorough

TOWN, LABEL = "valdorra", "2025"
OF_THE_DRAWS = (
    "variance_share[",
    "approach_1_uncertainty_percent[",
    "approach_2_uncertainty_percent[",
    "bin_payback_never_share[",
    "chance_in_top_third[",
    "chance_in_bottom_third[",
    "target_reached_share[",
)
"""Figures that say of the draws what moves them; another seed gives other draws."""

SURVEYED = (
    "retention_12_months",
    "feed_kg_per_bin_week",
    "landfill_share",
    "fed_t",
    "kept_out_of_landfill_t",
    "bins_in_use",
)


def written(folder):
    return {path.name: path.read_bytes() for path in (folder / REPORT_FOLDER).iterdir()}


def with_program(program, **sections):
    """Give the program with some keys of its sections changed."""
    changed = {
        name: getattr(program, name).model_copy(update=keys) for name, keys in sections.items()
    }
    return program.model_copy(update=changed)


def registered(one, program, counts=None, label=LABEL):
    counts = counts or one.year(label)[0].counts
    return register_year(estimate_year(program, label, counts, read_factors()))


def test_the_same_store_and_program_file_give_the_same_bytes(sample, tmp_path):
    one = sample(TOWN)
    for path in one.folder.iterdir():
        if path.is_file():
            shutil.copy(path, tmp_path / path.name)
    reporting.report(tmp_path, LABEL)
    first = written(tmp_path)
    assert {"figures.json", "figures.csv", "year-end.xlsx"} <= set(first)
    reporting.report(tmp_path, LABEL)
    assert written(tmp_path) == first


def test_the_files_may_be_loaded_in_any_order(sample, tmp_path):
    figures = sample(TOWN).year(LABEL)[1]
    other = load_sample(tmp_path, TOWN, spreadsheets(TOWN)[::-1]).year(LABEL)[1]
    assert [f.value for f in other] == [f.value for f in figures]
    assert [f.low for f in other] == [f.low for f in figures]


def test_another_seed_moves_no_central_value_and_every_estimate_s_interval(sample):
    one = sample(TOWN)
    before = one.year(LABEL)[1]
    after = registered(one, with_program(one.program, method={"seed": one.program.method.seed + 1}))
    after_ids, before_ids = (
        [figure.id for figure in register if not figure.id.startswith(OF_THE_DRAWS)]
        for register in (after, before)
    )
    assert after_ids == before_ids
    for figure in (after[name] for name in after_ids):
        was = before[figure.id].value
        if figure.id == "cost_per_t_co2e" and None in (was, figure.value):
            continue  # left out where one draw of the tonnes is nothing or less
        assert _is_near(was, figure), figure.id
    for figure_id in SURVEYED:
        assert (after[figure_id].low, after[figure_id].high) != (
            before[figure_id].low,
            before[figure_id].high,
        )
        half = (before[figure_id].high - before[figure_id].low) / 2
        assert after[figure_id].low == pytest.approx(before[figure_id].low, abs=0.3 * half)
        assert after[figure_id].high == pytest.approx(before[figure_id].high, abs=0.3 * half)


def _is_near(was, figure):
    """Whether a central value is the same but for rounding."""
    if figure.value is None or was is None:
        return was == figure.value
    return was == pytest.approx(figure.value, rel=1e-9, abs=1e-12)


def _width(figure):
    """Width of the interval over the value."""
    return (figure.high - figure.low) / figure.value


@pytest.mark.parametrize(("town", "label"), [("port_marrow", "2025-26"), ("thornquay", "2025-26")])
def test_intervals_widen_when_half_of_the_answers_are_dropped(sample, town, label):
    one = sample(town)
    year, before = one.year(label)
    counts = year.counts
    asked = counts.frames["household_id"].unique().sort()
    kept = asked.gather_every(2).to_list()
    half = dataclasses.replace(
        counts,
        frames=counts.frames.with_columns(
            pl.col("has_answered") & pl.col("household_id").is_in(kept)
        ),
        followup=counts.followup.filter(pl.col("household_id").is_in(kept)),
        priors=counts.priors.filter(pl.col("household_id").is_in(kept)),
        diaries=counts.diaries.filter(pl.col("household_id").is_in(kept)),
    )
    after = registered(one, one.program, half, label)
    for figure_id in SURVEYED:
        was, now = before[figure_id], after[figure_id]
        # most errors multiply, so a lower value has a narrower interval in its own unit
        assert _width(now) > _width(was), figure_id
    assert after["bins_given"].value == before["bins_given"].value


def test_areas_add_up_to_the_whole_where_none_is_hidden(sample):
    one = sample("port_marrow")
    open_program = with_program(one.program, privacy={"small_cell_threshold": 3})
    register = registered(one, open_program, label="2024-25")
    for figure_id in ("bins_given", "bins_in_use", "fed_t", "kept_out_of_landfill_t"):
        parts = [figure.value for figure in register.parts(figure_id).values()]
        assert None not in parts
        assert sum(parts) == pytest.approx(register[figure_id].value, rel=1e-9)
