"""The factor tables filtered, set side by side and told in full."""

from __future__ import annotations

import pytest

from planner.errors import FactorError
from planner.factors import read_factors
from planner.factors.listing import in_full, matching, side_by_side
from planner.messages import messages_for

TABLE = read_factors()


def ids(*words: str, **limits: str) -> set[str]:
    return {row.factor_id for row in matching(TABLE, words, **limits)}


def test_without_words_every_row_is_listed():
    assert matching(TABLE) == tuple(TABLE)


def test_every_word_must_be_held_somewhere():
    found = matching(TABLE, ["food", "ipcc"])
    assert found
    for row in found:
        words = messages_for("en")
        cited = TABLE.source(row.source_id).cited(words)
        text = " ".join((*row.key, row.remark(words), row.title(words), row.unit, cited))
        assert "food" in text.lower()
        assert "ipcc" in text.lower()


def test_an_id_means_that_factor_alone():
    assert ids("doubling_days") == {"doubling_days"}


def test_a_table_and_an_edition_narrow_the_list():
    assert {row.table for row in matching(TABLE, of_table="embodied")} == {"embodied"}
    assert {row.edition for row in matching(TABLE, edition="ar6")} == {"ar6"}


def test_editions_stand_side_by_side_under_their_names():
    shown = side_by_side(matching(TABLE, of_table="warming_potentials"))
    cells = {
        (row.factor_id, edition): row.value
        for table in shown
        for rows in table.rows
        for edition, row in zip(table.editions, rows, strict=True)
    }
    # IPCC AR4 table 2.14 and AR5 table 8.A.1: 25 and 298, 28 and 265
    assert (cells["methane_gwp100", "ar4"], cells["nitrous_oxide_gwp100", "ar4"]) == (25, 298)
    assert (cells["methane_gwp100", "ar5"], cells["nitrous_oxide_gwp100", "ar5"]) == (28, 265)


def test_a_factor_in_full_names_all_that_an_auditor_asks():
    row = TABLE.find("food_degradable_carbon_share", edition="ipcc_2006")
    told = in_full(TABLE, row)
    for part in (
        "0.15, 0.08 to 0.2",
        "triangular",
        "guideline",
        "Table 2.4, p. 2.14",
        "IPCC (2006)",
    ):
        assert part in told
    assert max(len(line) for line in told.splitlines()) <= 110


def test_a_government_factor_says_that_no_result_rests_on_it():
    row = TABLE.find("landfill_kg_co2e_per_t", "food", "uk_2025")
    assert "in none of them" in in_full(TABLE, row)


@pytest.mark.parametrize(
    ("words", "limits", "said"),
    [
        (["zork"], {}, "No factor matches zork"),
        (["doubling_dais"], {}, "Did you mean doubling_days"),
        ([], {"of_table": "landfil"}, "--table: found landfil. Did you mean landfill?"),
        ([], {"edition": "ar7"}, "--edition: found ar7"),
    ],
    ids=["no such word", "near an id", "no such table", "no such edition"],
)
def test_what_is_not_there_is_answered_with_what_is(words, limits, said):
    with pytest.raises(FactorError) as refused:
        matching(TABLE, words, **limits)
    assert said in str(refused.value)


def test_one_edition_alone_cannot_be_compared():
    with pytest.raises(FactorError, match="none of these factors has two editions"):
        side_by_side(matching(TABLE, ["doubling_days"]))
