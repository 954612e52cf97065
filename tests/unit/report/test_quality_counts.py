"""Counts on the page of data quality: small ones and what would give them away stay out."""

import pytest

from planner.report.workbook.quality import hidden_words


def sheet(read, new, corrected, refused, table="answers"):
    return {
        "file": "a.xlsx",
        "table_name": table,
        "rows_read": read,
        "new_count": new,
        "corrected_count": corrected,
        "refused_count": refused,
    }


@pytest.mark.parametrize(
    ("row", "hidden"),
    [
        (sheet(240, 240, 0, 0), set()),
        (sheet(240, 200, 0, 40), set()),
        # 236 + 4 = 240: the 4 would follow from the 236
        (sheet(240, 236, 0, 4), {"new_count", "refused_count"}),
        (sheet(240, 200, 36, 4), {"corrected_count", "refused_count"}),
        (sheet(8, 8, 0, 0), {"rows_read", "new_count"}),
        (sheet(240, 236, 0, 4, "costs"), set()),
    ],
)
def test_rows_of_a_sheet(row, hidden):
    assert set(hidden_words(row, 10)) == hidden


@pytest.mark.parametrize(
    ("asked", "answered", "words"),
    [
        (300, 171, {}),
        (300, 7, {"answers_count": "fewer than 10"}),
        (100, 95, {"answers_count": "not shown"}),
        (100, 100, {}),
        (None, 171, {}),
        (None, 7, {"answers_count": "fewer than 10"}),
        (8, 8, {"asked_count": "fewer than 10", "answers_count": "fewer than 10"}),
    ],
)
def test_answers_of_a_round(asked, answered, words):
    row = {"wave_id": "F", "asked_count": asked, "answers_count": answered}
    assert hidden_words(row, 10) == words


def test_a_small_audit_shows_neither_its_households_nor_its_rates():
    row = {
        "arm": "given",
        "audits_count": 2,
        "households_count": 9,
        "food_kg_per_household_week": 2.0,
        "residual_kg_per_household_week": 7.0,
    }
    assert hidden_words(row, 10) == {
        "households_count": "fewer than 10",
        "food_kg_per_household_week": "not shown",
        "residual_kg_per_household_week": "not shown",
    }
    assert hidden_words(row | {"households_count": 10}, 10) == {}


def test_checks_of_households_say_fewer_and_checks_of_others_the_count():
    row = {"severity": "wrong", "title": "t", "table_name": "answers", "rows_count": 3}
    assert hidden_words(row, 10) == {"rows_count": "fewer than 10"}
    assert hidden_words(row | {"table_name": "waves"}, 10) == {}
    assert hidden_words(row | {"rows_count": 30}, 10) == {}
