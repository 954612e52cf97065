"""The program file chooses the factors."""

from __future__ import annotations

import tomllib
from typing import get_args

import numpy as np
import pytest
from pydantic import ValidationError

from planner import paths
from planner.emissions.choice import choose_emission_factors
from planner.emissions.drawn import draw_emission_factors
from planner.emissions.landfill import Decay, methane_between_kg
from planner.emissions.timeline import methane_avoided_kg_co2e_per_t
from planner.factors import read_factors
from planner.program import (
    Emissions,
    FurtherLandfill,
    GasCapture,
    LandfillSite,
    Method,
    Program,
    read_program,
)
from planner.program.emissions import Vehicle
from tests.landfill_forms import yearly_methane_kg

TABLE = read_factors()
PROGRAM = read_program(paths.TEMPLATES / "program.toml")
NO_WELLS = PROGRAM.landfill.gas_capture[:1]


def _program(block: str, **choice) -> Program:
    changed = getattr(PROGRAM, block).model_copy(update=choice)
    return PROGRAM.model_copy(update={block: changed})


def _choices(block, field: str) -> list[tuple[str, str, str]]:
    name = {LandfillSite: "landfill", Method: "method"}[block]
    return [(name, field, code) for code in get_args(block.model_fields[field].annotation)]


@pytest.mark.parametrize(
    ("block", "field", "code"),
    [
        *_choices(LandfillSite, "climate"),
        *_choices(LandfillSite, "management"),
        *_choices(LandfillSite, "cover"),
        *_choices(Method, "edition"),
        *_choices(Method, "gwp_set"),
    ],
)
def test_every_choice_of_the_program_file_has_its_row(block, field, code):
    rows = choose_emission_factors(_program(block, **{field: code}), TABLE)
    changed = [row for row in rows.every if code in (row.applies_to, row.edition)]
    assert changed, f"{code} chooses no row of its own"


def test_the_refinement_changes_what_it_refines_alone():
    rows = choose_emission_factors(_program("method", edition="ipcc_2019"), TABLE)
    values = {row.factor_id: (row.value, row.edition) for row in rows.every}
    assert values["food_decomposing_carbon_share"] == (0.7, "ipcc_2019")
    assert values["food_degradable_carbon_share"] == (0.15, "ipcc_2006")


def test_central_values_come_first():
    factors = draw_emission_factors(PROGRAM, TABLE, 50, seed=1)
    for name, row in factors.rows.shared.items():
        assert factors[name].shape == (51,)
        assert factors[name][0] == row.value
    captured = factors.decay.captured_share
    assert captured[0] == pytest.approx([0.0, 0.5, 0.75, 0.825, 0.9])
    assert captured.max() <= 1.0


def test_varying_one_factor_holds_the_rest():
    factors = draw_emission_factors(PROGRAM, TABLE, 50, seed=1)
    alone = factors.varying("methane_share_of_gas")
    assert np.array_equal(alone["methane_share_of_gas"], factors["methane_share_of_gas"])
    held = [name for name in factors.rows.drawn_ids if name != "methane_share_of_gas"]
    assert all(np.ptp(alone[name]) == 0.0 for name in held)
    ratio = alone.methane_potential_kg_per_kg / alone.methane_potential_kg_per_kg[0]
    assert ratio == pytest.approx(factors["methane_share_of_gas"] / 0.5)


def test_varying_an_unknown_factor_is_refused():
    with pytest.raises(ValueError, match="found 'height'"):
        draw_emission_factors(PROGRAM, TABLE, 5, seed=1).varying("height")


def test_a_year_of_equal_months_meets_the_yearly_form_of_the_guidelines():
    # Start month 13; what is left is the curvature of exp over a year, under 0.15%. Without
    # the half month to the middle of a month the difference would be five times that.
    factors = draw_emission_factors(_program("landfill", gas_capture=NO_WELLS), TABLE, 0, seed=1)
    yearly = yearly_methane_kg([1.0, 0.0], Decay(0.185, oxidised_share=0.1), start_month=13)
    by_month = methane_between_kg(np.full(12, 1 / 12), factors.decay, (0, 24))
    assert by_month[0, 0] == pytest.approx(yearly.sum(), abs=0.0015)


FURTHER = FurtherLandfill(
    name="North tip",
    share_of_landfilled_waste=0.25,
    climate="tropical_wet",
    management="unmanaged_shallow",
    cover="none",
    gas_capture=(GasCapture(from_age_years=0, captured_share=0.0),),
)


def test_further_landfills_take_their_share_with_factors_of_their_own():
    both = PROGRAM.model_copy(update={"further_landfills": (FURTHER,)})
    factors = draw_emission_factors(both, TABLE, 0, seed=1)
    main, north = factors.landfills
    assert (main.share_of_landfilled_waste, north.share_of_landfilled_waste) == (0.75, 0.25)
    # IPCC 2006 volume 5, tables 3.1 and 3.3: MCF 0.4, k 0.4; 0.15 x 0.5 x 0.4 x 0.5 x 16/12
    assert north.methane_potential_kg_per_kg[0] == pytest.approx(0.02)
    assert np.asarray(north.decay.rate_per_year)[0] == 0.4
    alone = [
        draw_emission_factors(_program("landfill", **site), TABLE, 0, seed=1)
        for site in ({}, FURTHER.model_dump(include={"climate", "management", "cover"})
        | {"gas_capture": FURTHER.gas_capture})
    ]  # fmt: skip
    per_t = [methane_avoided_kg_co2e_per_t(one)[0] for one in alone]
    expected = 0.75 * per_t[0] + 0.25 * per_t[1]
    assert methane_avoided_kg_co2e_per_t(factors)[0] == pytest.approx(expected)


def test_landfills_share_the_percentiles_of_their_draws():
    both = PROGRAM.model_copy(update={"further_landfills": (FURTHER,)})
    one, other = draw_emission_factors(both, TABLE, 200, seed=1).of_landfills
    ranks = [np.argsort(drawn["food_decay_rate_per_year"][1:]) for drawn in (one, other)]
    assert np.array_equal(*ranks)


@pytest.mark.parametrize(
    ("shares", "words"), [((0.7, 0.4), "adding up to 1.1"), ((0.1, 0.1), "each once")]
)
def test_further_landfills_that_do_not_fit_are_refused(shares, words):
    text = (paths.TEMPLATES / "program.toml").read_text("utf-8")
    landfills = [
        FURTHER.model_dump() | {"share_of_landfilled_waste": share, "name": name}
        for share, name in zip(shares, ("A", "B" if sum(shares) > 1 else "A"), strict=True)
    ]
    content = tomllib.loads(text) | {"further_landfills": landfills}
    with pytest.raises(ValidationError, match=words):
        Program.model_validate(content)


def test_a_stated_value_takes_the_place_of_the_factor_and_is_certain():
    stated = Emissions(supplier_km=120.0, household_trip_km=0.0)
    program = PROGRAM.model_copy(update={"emissions": stated})
    factors = draw_emission_factors(program, TABLE, 30, seed=1)
    assert set(factors["supplier_km"]) == {120.0}
    assert set(factors["household_trip_km"]) == {0.0}
    assert factors.rows.stated == {"supplier_km", "household_trip_km"}
    assert np.ptp(factors["delivery_km"]) > 0.0


@pytest.mark.parametrize("field", ["residual_treatment", "kerbside_treatment", "bedding"])
def test_every_choice_of_the_account_has_its_rows(field):
    for code in get_args(Emissions.model_fields[field].annotation):
        chosen = PROGRAM.model_copy(update={"emissions": Emissions(**{field: code})})
        assert choose_emission_factors(chosen, TABLE).every


def test_every_vehicle_has_its_rows():
    for code in get_args(Vehicle):
        choices = Emissions(supplier_vehicle=code, delivery_vehicle="van_electric")
        rows = choose_emission_factors(PROGRAM.model_copy(update={"emissions": choices}), TABLE)
        assert rows.shared["supplier_freight_kg_co2e_per_t_km"].applies_to == code
        assert rows.shared["delivery_freight_kg_co2e_per_t_km"].applies_to == "van_electric"
