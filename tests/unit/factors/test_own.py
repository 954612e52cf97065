"""A council's own factors: what they stand for, how they are marked, what is refused."""

from __future__ import annotations

import numpy as np
import pytest

from planner.errors import FactorError
from planner.factors import read_factors, with_own
from planner.factors.draws import draw_factors
from planner.program import OwnFactor
from planner.report.inputs import factor_inputs

TABLE = read_factors()
COUNCIL = "Brackwell Council (invented)"
DOC = {
    "factor_id": "food_degradable_carbon_share",
    "value": 0.17,
    "low": 0.15,
    "high": 0.19,
    "unit": "kg C per kg wet waste",
    "source": "Laboratory report 12 of 2026 (invented)",
}


def own(**keys: object) -> OwnFactor:
    return OwnFactor.model_validate(DOC | keys)


def refusal(*rows: OwnFactor) -> str:
    with pytest.raises(FactorError) as refused:
        with_own(TABLE, rows, COUNCIL)
    return str(refused.value)


def test_it_is_found_under_the_names_of_the_row_it_stands_for():
    table = with_own(TABLE, [own()], COUNCIL)
    found = table.find("food_degradable_carbon_share", edition="ipcc_2006")
    assert (found.value, found.low, found.high, found.shape) == (0.17, 0.15, 0.19, "triangular")
    assert found.is_own
    assert len(table) == len(TABLE)
    assert [row.key for row in table] == [row.key for row in TABLE]


def test_every_other_row_stays_as_it_is():
    table = with_own(TABLE, [own()], COUNCIL)
    changed = [row for row, was in zip(table, TABLE, strict=True) if row != was]
    assert [row.factor_id for row in changed] == ["food_degradable_carbon_share"]


def test_it_is_marked_as_the_councils_own_where_a_figure_names_it():
    table = with_own(TABLE, [own()], COUNCIL)
    (named,) = factor_inputs(table, [table.find("food_degradable_carbon_share")])
    assert "Own figure of Brackwell Council (invented): Laboratory report 12" in named.detail
    assert "in place of the published 0.15 (0.08 to 0.2)" in named.detail
    (published,) = factor_inputs(TABLE, [TABLE.find("food_degradable_carbon_share")])
    assert "Own" not in published.detail


def test_its_draws_come_from_its_own_range_at_the_published_ones_percentiles():
    table = with_own(TABLE, [own()], COUNCIL)
    name = "food_degradable_carbon_share"
    drawn = draw_factors([table.find(name)], 1000, seed=3)[name]
    was = draw_factors([TABLE.find(name)], 1000, seed=3)[name]
    assert drawn[0] == 0.17
    assert 0.15 <= drawn.min() <= drawn.max() <= 0.19
    assert (np.argsort(drawn[1:]) == np.argsort(was[1:])).all()


def test_without_a_range_it_is_taken_as_certain():
    table = with_own(TABLE, [own(low=None, high=None)], COUNCIL)
    found = table.find("food_degradable_carbon_share")
    assert (found.shape, found.limits) == ("fixed", (0.17, 0.17))


def test_without_an_edition_it_stands_for_all_and_with_one_for_that_alone():
    keys = {"factor_id": "food_decomposing_carbon_share", "unit": "share of degradable carbon"}
    every = with_own(TABLE, [own(**keys)], COUNCIL)
    editions = [row.edition for row in every if row.is_own]
    assert editions == [r.edition for r in TABLE if r.factor_id == keys["factor_id"]]
    one = with_own(TABLE, [own(**keys, edition="ipcc_2019")], COUNCIL)
    assert [row.edition for row in one if row.is_own] == ["ipcc_2019"]


def test_none_leaves_the_table_as_it_is():
    assert with_own(TABLE, [], COUNCIL) is TABLE


@pytest.mark.parametrize(
    ("keys", "said"),
    [
        ({"factor_id": "food_degradable_carbon"}, "Did you mean food_degradable_carbon_share"),
        ({"unit": "g per kg"}, 'found unit "g per kg", expected "kg C per kg wet waste"'),
        ({"edition": "ipcc_2019"}, "no row for ipcc_2019. There are ipcc_2006."),
        ({"value": 1.2, "low": 1.1, "high": 1.3}, "expected a share from 0 to 1"),
        (
            {"low": 0.0, "shape": "lognormal"},
            "found low 0, expected above 0 for a lognormal shape",
        ),
        (
            {"factor_id": "methane_correction_factor", "unit": "share"},
            'say with applies_to which of its rows is meant: "active_aeration_poorly"',
        ),
        (
            {"factor_id": "landfill_kg_co2e_per_t"},
            "is next to the results as a cross-check",
        ),
    ],
    ids=lambda case: next(iter(case)) if isinstance(case, dict) else "",
)
def test_what_cannot_stand_for_a_published_row_is_refused(keys: dict, said: str):
    assert said in refusal(own(**keys))


def test_all_that_is_wrong_is_said_at_once():
    said = refusal(own(unit="g"), own(factor_id="gravity"))
    assert "food_degradable_carbon_share: found unit" in said
    assert "gravity: no such factor" in said


def test_two_of_ones_own_for_one_row_are_refused():
    assert "found two of your own for it" in refusal(own(), own(value=0.16))


def test_a_unit_may_be_written_in_small_letters_and_without_hyphens():
    row = own(
        factor_id="methane_gwp100",
        edition="ar6",
        value=30.0,
        low=None,
        high=None,
        unit="kg CO2e per kg",
    )
    assert with_own(TABLE, [row], COUNCIL).find("methane_gwp100", edition="ar6").value == 30.0
