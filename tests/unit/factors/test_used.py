"""Every published factor is used: by the code, by a rule that is held to it, or as a check."""

from __future__ import annotations

import ast
from pathlib import Path

import pytest

import planner
from planner.factors import read_factors

HELD_TO_THE_CODE = {
    "captured_share",
    "small_cell_threshold_count",
    "startup_weeks",
    "transit_loss_share",
}
"""Published numbers that settings and constants repeat; tests of the tables compare them."""

CHECKED_AGAINST = {
    "bulk_decay_rate_per_year",
    "garden_decay_rate_per_year",
    "garden_degradable_carbon_share",
    "nappies_degradable_carbon_share",
    "paper_decay_rate_per_year",
    "paper_degradable_carbon_share",
    "textiles_degradable_carbon_share",
    "wood_decay_rate_per_year",
    "wood_degradable_carbon_share",
    "food_dry_matter_share",
    "food_methane_potential_kg_per_t",
    "home_bin_co2e_mg_per_m2_hour",
    "home_bin_methane_mg_per_m2_hour",
    "home_bin_nitrous_oxide_mg_per_m2_hour",
    "landfill_kg_co2e_per_t",
    "published_density_kg_per_litre",
}
"""Published numbers next to which results or other rows are set; none is computed with."""

PACKAGE = Path(planner.__file__).parent
IDS = sorted({factor.factor_id for factor in read_factors()})


def texts():
    """Give every text of the package's code."""
    for path in PACKAGE.rglob("*.py"):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Constant) and isinstance(node.value, str):
                yield node.value


ELSEWHERE = HELD_TO_THE_CODE | CHECKED_AGAINST


@pytest.fixture(scope="module")
def named():
    return set(texts())


@pytest.mark.parametrize("factor_id", IDS)
def test_a_factor_is_named_by_the_code_or_has_a_reason_to_stand_in_the_tables(named, factor_id):
    assert (factor_id in named) != (factor_id in ELSEWHERE)


def test_no_reason_is_kept_for_a_row_that_is_gone():
    assert set(IDS) >= ELSEWHERE
