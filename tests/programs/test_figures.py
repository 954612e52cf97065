"""What the sample programs say is what is declared, and everything declared is said."""

from __future__ import annotations

import re

import pytest

from planner.report.figures import CATALOGUE
from tests.programs.conftest import TOWN_YEARS

NOT_IN_SAMPLES = {
    "diary_to_surveyed_feed",  # needs enough weighed weeks to stand beside the survey
    "account_conservative_t_co2e[{basis}.collection_saved]",  # needs rounds that shrink
    "audit_placebo_food_kg_per_household_week_change",  # needs two visits before the giveaway
    "landfill_methane_by_landfill_t_co2e[{basis}.{landfill}]",  # needs a second landfill
    "on_track_share[{of}]",  # needs a year that still runs, as all forecasts do
    *(
        f"forecast_{name}"
        for name in ("bins_given", "bins_in_use", "fed_t", "kept_out_of_landfill_t")
    ),
    "run_in_surveyed_to_modelled",  # needs enough answers of young bins
    *(f"next_plan_{name}" for name in ("bins", "cost", "kept_out_t")),  # need next year's plan
    "net_present_value_as_surveyed[{rate}]",  # needs changes stated under [[scenarios]]
    "carbon_worth[{rate}]",  # needs a stated worth of emissions
    "net_present_value_with_carbon[{rate}]",
    "planned[{measured}]",  # needs a plan, as `planner size` makes one
    "measured_over_planned[{measured}]",
    *(f"{name}_reported[{{label}}]" for name in ("bins_in_use", "fed_t", "kept_out_of_landfill_t")),
    *(f"{name}_restated[{{label}}]" for name in ("bins_in_use", "fed_t", "kept_out_of_landfill_t")),
}
"""Figures that a sample does not have; tests of their own put them."""


@pytest.mark.thorough
def test_everything_declared_is_put_by_a_sample_and_nothing_rests_on_what_is_not_there(sample):
    registers = [sample(town).year(label)[1] for town, label in TOWN_YEARS]
    ids = {figure.id for register in registers for figure in register}
    silent = set()
    for declared in CATALOGUE:
        pattern = re.sub(r"\\\{\w+\\\}", r"[^\\[\\]]+", re.escape(declared))
        if not any(re.fullmatch(pattern, name) for name in ids):
            silent.add(declared)
    assert silent - NOT_IN_SAMPLES == set()
    for register in registers:
        for figure in register:
            named = [item.name for item in figure.inputs if item.kind == "figure"]
            assert [name for name in named if name not in register] == [], figure.id
