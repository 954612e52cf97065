"""Details are found however they are written, and no one else's by a part of a word."""

from __future__ import annotations

import polars as pl
import pytest

from planner.store.matching import Details

MINE = Details(
    ["Wilhelmina Müller-Straße", "17 Sundial Row", "quill@feather.example", "Li"],
    ["+44 7700 900 017"],
    ["H1"],
)


def found_in(text, details=MINE):
    return details.found_in(pl.Series([text])).item()


@pytest.mark.parametrize(
    "text",
    [
        "ask WILHELMINA MULLER STRASSE at noon",
        "Müller-Straße, Wilhelmina",
        "wilhelminamüllerstraße",
        "Wilhelmina\u00a0 Mu\u0308ller\u2010Strasse",
        "sundial row 17",
        "17, Sundial  Row (back gate)",
        "17SundialRow",
        "flat 2/17 SundialRow",
        "mail: QUILL@FEATHER.EXAMPLE",
        "ring 07700-900017 or so",
        "tel (0044) 7700 / 900 017",
    ],
)
def test_a_detail_is_found_in_another_spelling(text):
    assert found_in(text)


@pytest.mark.parametrize(
    "text",
    [
        *("", None, "Wilhelmina", "17 Sundial Avenue", "Liverpool Street", "Li", "900 017"),
        *("Town hall", "117 Sundial Row", "Sundial Row 171", "2/117 SundialRow"),
    ],
)
def test_what_others_may_write_is_left_alone(text):
    assert not found_in(text)


def test_a_part_of_a_name_counts_as_a_whole_word_in_the_household_s_own_rows():
    texts = pl.Series(["for Li", "Mrs Müller", "Lionel", "delight", "row of bins", "2 of 17"])
    assert MINE.found_in_own_rows(texts).to_list() == [True, True, False, False, True, False]


def test_a_short_name_is_found_where_it_is_a_whole_cell():
    assert MINE.is_whole(pl.Series(["LI ", "Lionel", "li, ", None])).to_list() == [
        True,
        False,
        True,
        False,
    ]


def test_nothing_to_find_finds_nothing():
    assert not found_in("anything", Details([], [], []))
