"""Comparisons of names and addresses against published examples and a simulated register."""

from __future__ import annotations

import polars as pl
import pytest
from rapidfuzz.distance import JaroWinkler

from planner.duplicates.proposing import (
    LARGEST_BLOCK,
    candidate_pairs,
    normalise_contacts,
    sound_code,
)
from planner.duplicates.scoring import LEVELS, LIKE_STREET, SAME_STREET, score_pairs
from planner.tables import TABLES
from tests.unit.duplicates.simulated import register

COLUMNS = ("household_id", "full_name", "street_address", "postcode", "email", "phone")
PLACES = [name for name in TABLES["contacts"].column_names() if name not in COLUMNS]


@pytest.mark.parametrize(
    ("first", "second", "similarity"),
    [
        ("MARTHA", "MARHTA", 0.9611),
        ("DIXON", "DICKSONX", 0.8133),
        ("DWAYNE", "DUANE", 0.8400),
    ],
)
def test_jaro_winkler_as_published(first, second, similarity):
    """Winkler, String Comparator Metrics (1990), worked examples; from memory."""
    assert JaroWinkler.similarity(first, second) == pytest.approx(similarity, abs=5e-5)


@pytest.mark.parametrize(
    ("name", "code"),
    [
        ("washington", "W252"),
        ("lee", "L000"),
        ("gutierrez", "G362"),
        ("pfister", "P236"),
        ("jackson", "J250"),
        ("tymczak", "T522"),
        ("ashcraft", "A261"),
        ("robert", "R163"),
        ("rupert", "R163"),
        ("rubin", "R150"),
        ("honeyman", "H555"),
    ],
)
def test_soundex_as_published(name, code):
    """US National Archives, "The Soundex Indexing System", and its examples; from memory."""
    assert pl.select(sound_code(pl.lit(pl.Series([name])))).item() == code


def contacts(*rows):
    return pl.DataFrame(
        [(f"H{n}", *row) for n, row in enumerate(rows)],
        schema=dict.fromkeys(COLUMNS, pl.String),
        orient="row",
    ).with_columns(pl.lit(None, pl.Float64).alias(name) for name in PLACES)


def spelled(name="Ann Lee", address="1 Mill Lane", postcode="1", email=None, phone=None):
    return normalise_contacts(contacts((name, address, postcode, email, phone)))


@pytest.mark.parametrize(
    ("first", "second"),
    [
        ("14 St Mary's Road", "14 Saint Marys Rd."),
        ("Flat 2, 14 Mill Lane", "2/14 MILL LN"),
        ("Calle Mayor, nº 3", "C/ Mayor 3"),
        ("14 a Mill Lane", "14A Mill Lane"),
        ("Hauptstraße 7", "Hauptstr. 7"),
        ("7 Åsgårdveien", "7 Asgardveien"),
    ],
)
def test_one_address_in_two_spellings(first, second):
    columns = ("street", "numbers", "street_sound")
    assert spelled(address=first).select(columns).equals(spelled(address=second).select(columns))


@pytest.mark.parametrize(
    ("first", "second"),
    [
        ("14 Mill Lane", "15 Mill Lane"),
        ("14 Mill Lane", "14a Mill Lane"),
        ("Flat 1, 14 Mill Lane", "Flat 2, 14 Mill Lane"),
        ("14 Mill Lane", "14 Hill Lane"),
    ],
)
def test_two_addresses_stay_two(first, second):
    columns = ("street", "numbers")
    assert spelled(address=first).rows() != spelled(address=second).rows()
    assert (
        spelled(address=first).select(columns).rows()
        != spelled(address=second).select(columns).rows()
    )


@pytest.mark.parametrize("phone", ["+61 7 5550 1234", "(07) 5550-1234", "0061755501234"])
def test_a_telephone_number_with_and_without_codes(phone):
    assert spelled(phone=phone)["phone"].item() == "55501234"


def test_words_that_sort_mail_do_not_part_it():
    assert spelled(email=" Ann+worms@Example.net ")["email"].item() == "ann@example.net"


def test_the_shares_of_outcomes_add_up_for_one_household():
    for name, outcomes in LEVELS.items():
        shared = {"same_address_several_dwellings": 0.0}
        total = sum(shared.get(outcome, row[0]) for outcome, row in outcomes.items())
        assert total == pytest.approx(1.0), name


def test_a_key_that_too_many_share_makes_no_pairs():
    rows = [(f"N{n}x Y{n}x", f"{n} Z{n}x", str(n), None, "5550 1234") for n in range(61)]
    assert LARGEST_BLOCK == 60
    assert candidate_pairs(normalise_contacts(contacts(*rows))).height == 0
    assert candidate_pairs(normalise_contacts(contacts(*rows[:60]))).height == 60 * 59 // 2


def scored(rows, shared=False):
    frame = normalise_contacts(contacts(*rows))
    is_shared = pl.Series([shared] * frame.height)
    return score_pairs(frame, is_shared, candidate_pairs(frame))


PAD = [(f"Q{n}a R{n}e", f"{n} V{n}i Road", f"9{n}", None, f"99{n:07d}") for n in range(200)]
"""Other registrations, so that a score is that of a register and no two rows alone."""


def test_a_score_rises_with_every_agreement():
    """In words: same address and name beats same address alone; a telephone number adds."""
    first = ("Ann Lee", "14 Mill Lane", "2000", "ann@example.net", "5550 1234")

    def score(*second):
        found = scored([first, second, *PAD]).filter(first=0, second=1)
        return found["score"].item() if found.height else 0.0

    alone = score("Bo Kim", "14 Mill Ln", "2000", None, None)
    named = score("Ann Lee", "14 Mill Ln", "2000", None, None)
    rung = score("Ann Lee", "14 Mill Ln", "2000", None, "07 5550 1234")
    assert 0.3 < alone < named < rung < 1.0
    assert score("Bo Kim", "9 Hill Road", "3000", None, "5550 1234") == 0.0
    assert score("Ann Lee", "14 Mill Ln", "2000", None, "5551 9999") < named


def test_flats_without_a_unit_are_not_taken_for_one_dwelling():
    rows = [("Ann Lee", "14 Mill Lane", "2000", None, None),
            ("Bo Kim", "14 Mill Lane", "2000", None, None), *PAD]  # fmt: skip
    assert scored(rows)["reasons"].to_list() == ["same address, one dwelling, other name"]
    assert scored(rows, shared=True).height == 0


def test_the_reasons_say_what_agrees():
    rows = [("Ann Lee", "14 Mill Lane", "2000", "a@example.net", "5550 1234"),
            ("LEE, Ann", "14 Mill Ln.", "2000", "b@example.net", "07 5550 1234"),
            *PAD]  # fmt: skip
    (reasons,) = scored(rows)["reasons"].to_list()
    assert reasons == "same address, one dwelling, same name, same phone, other mail"


def test_planted_pairs_are_found_and_few_others():
    """Recall and precision over a register of 10,000 with 200 registered twice.

    Of 200 planted pairs a tenth have another name and some have moved besides: those share
    nothing. Neighbours, namesakes and new tenants at an old address are the false ones.
    """
    rows, is_flat, planted = register(10_000, seed=7)
    frame = normalise_contacts(rows)
    found = score_pairs(frame, is_flat, candidate_pairs(frame))
    hits = planted.join(found, on=["first", "second"], how="semi").height
    assert planted.height == 200
    assert hits / planted.height >= 0.95
    assert hits / found.height >= 0.75
    sure = found.filter(pl.col("score") >= 0.9)
    sure_hits = planted.join(sure, on=["first", "second"], how="semi").height
    assert sure_hits / sure.height >= 0.97
    assert found["score"].is_sorted(descending=True)
    assert found["score"].is_between(0.3, 1.0).all()


@pytest.mark.parametrize(("phone", "compared"), [("555 012", ""), ("555 0123", "5550123")])
def test_fewer_than_seven_digits_are_no_telephone_number(phone, compared):
    assert spelled(phone=phone)["phone"].item() == compared


def test_two_who_both_told_no_mail_have_no_mail_in_common():
    rows = [("Ann Lee", "14 Mill Lane", "2000", None, None),
            ("Bo Kim", "9 Hill Road", "3000", None, None)]  # fmt: skip
    assert candidate_pairs(normalise_contacts(contacts(*rows))).is_empty()


def reasons(first, second, shared=False):
    found = scored([first, second, *PAD], shared).filter(first=0, second=1)
    return found["reasons"].item() if found.height else ""


def test_a_unit_beside_the_number_makes_an_address_of_one_dwelling():
    flat = ("Ann Lee", "Flat 3, 14 Mill Lane", "2000", None, None)
    again = ("Ann Lee", "3/14 Mill Ln", "2000", None, None)
    assert reasons(flat, again, shared=True) == "same address, one dwelling, same name"


def test_one_slip_is_forgiven_in_the_street_or_in_the_postcode_and_not_in_both():
    """Another postcode asks for the same street, and streets alike for the same postcode."""
    ann = ("Ann Lee", "14 Millbank Lane", "2000", None, "5550 1234")
    street = ("Ann Lee", "14 Millbanks Lane", "2000", None, "5550 1234")
    postcode = ("Ann Lee", "14 Millbank Lane", "2001", None, "5550 1234")
    both = ("Ann Lee", "14 Milbunkes Lane", "2001", None, "5550 1234")
    near = JaroWinkler.similarity("millbank", "milbunkes")
    assert LIKE_STREET <= near < SAME_STREET
    assert "same address" in reasons(ann, street)
    assert "similar address" in reasons(ann, postcode)
    assert "other address" in reasons(ann, both)


def test_a_missing_unit_is_told_where_one_address_has_more_numbers_and_not_where_they_are_equal():
    ann = ("Ann Lee", "Flat 3, 14 Mill Lane", "2000", None, None)
    unit_missing = ("Ann Lee", "14 Mill Lane", "2000", None, None)
    elsewhere = ("Ann Lee", "Flat 3, 14 Mill Lane", "2001", None, None)
    assert "unit" in reasons(ann, unit_missing)
    assert "unit" not in reasons(ann, elsewhere)
