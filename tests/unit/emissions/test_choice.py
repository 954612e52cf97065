"""The program file chooses the factors."""

from __future__ import annotations

from typing import get_args

import numpy as np
import pytest

from planner import paths
from planner.emissions import (
    Decay,
    choose_emission_factors,
    draw_emission_factors,
    methane_between_kg,
    yearly_methane_kg,
)
from planner.factors import read_factors
from planner.program import Landfill, Method, Program, read_program

TABLE = read_factors()
PROGRAM = read_program(paths.TEMPLATES / "program.toml")
NO_WELLS = PROGRAM.landfill.gas_capture[:1]


def _program(block: str, **choice) -> Program:
    changed = getattr(PROGRAM, block).model_copy(update=choice)
    return PROGRAM.model_copy(update={block: changed})


def _choices(block, field: str) -> list[tuple[str, str, str]]:
    name = {Landfill: "landfill", Method: "method"}[block]
    return [(name, field, code) for code in get_args(block.model_fields[field].annotation)]


@pytest.mark.parametrize(
    ("block", "field", "code"),
    [
        *_choices(Landfill, "climate"),
        *_choices(Landfill, "management"),
        *_choices(Landfill, "cover"),
        *_choices(Method, "edition"),
        *_choices(Method, "gwp_set"),
    ],
)
def test_every_choice_of_the_program_file_has_its_row(block, field, code):
    rows = choose_emission_factors(_program(block, **{field: code}), TABLE)
    changed = [row for row in rows if code in (row.applies_to, row.edition)]
    assert changed, f"{code} chooses no row of its own"


def test_the_refinement_changes_what_it_refines_alone():
    rows = choose_emission_factors(_program("method", edition="ipcc_2019"), TABLE)
    values = {row.factor_id: (row.value, row.edition) for row in rows}
    assert values["food_decomposing_carbon_share"] == (0.7, "ipcc_2019")
    assert values["food_degradable_carbon_share"] == (0.15, "ipcc_2006")


def test_central_values_come_first():
    factors = draw_emission_factors(PROGRAM, TABLE, 50, seed=1)
    for row in factors.rows:
        values = getattr(factors, row.factor_id)
        assert values.shape == (51,)
        assert values[0] == row.value
    assert factors.captured_share[0] == pytest.approx([0.0, 0.5, 0.75, 0.825, 0.9])
    assert factors.captured_share.max() <= 1.0


def test_varying_one_factor_holds_the_rest():
    factors = draw_emission_factors(PROGRAM, TABLE, 50, seed=1)
    alone = factors.varying("methane_share_of_gas")
    assert np.array_equal(alone.methane_share_of_gas, factors.methane_share_of_gas)
    held = [name for name in factors.drawn_ids if name != "methane_share_of_gas"]
    assert all(np.ptp(getattr(alone, name)) == 0.0 for name in held)
    ratio = alone.methane_potential_kg_per_kg / alone.methane_potential_kg_per_kg[0]
    assert ratio == pytest.approx(factors.methane_share_of_gas / 0.5)


def test_varying_an_unknown_factor_is_refused():
    with pytest.raises(ValueError, match="found 'height'"):
        draw_emission_factors(PROGRAM, TABLE, 5, seed=1).varying("height")


def test_a_year_of_equal_months_meets_the_yearly_form_of_the_guidelines():
    # Start month 13; what is left is the curvature of exp over a year, under 0.15%. Without
    # the half month to the middle of a month the difference would be five times that.
    factors = draw_emission_factors(_program("landfill", gas_capture=NO_WELLS), TABLE, 0, seed=1)
    yearly = yearly_methane_kg([1.0, 0.0], Decay(0.185, oxidised_share=0.1), start_month=13)
    by_month = methane_between_kg(np.full(12, 1 / 12), factors.decay, 0, 24)
    assert by_month[0] == pytest.approx(yearly.sum(), abs=0.0015)
