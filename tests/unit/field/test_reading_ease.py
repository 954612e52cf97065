"""The words that households read ask no more than grade seven, by published formulas.

Syllables of French and Spanish words: as dictionaries divide them, from memory.
"""

import re

import pytest

from planner.field.household_sheet import TEXTS
from planner.messages import keys, languages, messages_for
from tests.unit.field.readability import (
    counted,
    fernandez_huerta_ease,
    kandel_moles_ease,
    syllables,
    szigriszt_ease,
)
from tests.unit.report.readability import grade

COUNTRIES = {"en": "en_AU", "fr": "fr_FR", "es": "es_ES"}
FILLED = dict.fromkeys(
    ("mild_low", "mild_high", "hot", "cold", "start_mass", "grown_mass", "mass", "low", "high"),
    "20",
) | dict.fromkeys(
    ("phone", "email", "web_address", "opening_hours", "council", "area", "name"), "x"
)


@pytest.mark.parametrize(
    ("language", "word", "count"),
    [
        ("fr", "restes", 1), ("fr", "plateau", 2), ("fr", "humide", 2), ("fr", "litière", 2),
        ("fr", "papier", 2), ("fr", "lombricomposteur", 5), ("fr", "légumes", 2),
        ("es", "lombrices", 3), ("es", "tierra", 2), ("es", "frío", 2), ("es", "humedad", 3),
        ("es", "queso", 2), ("es", "periódico", 4), ("es", "guantes", 2), ("es", "caer", 2),
    ],
)  # fmt: skip
def test_syllables_of_words(language, word, count):
    assert syllables(word, language) == count


def test_a_long_clause_of_long_words_is_hard_in_each_language():
    french = "L'administration intercommunale préconise systématiquement la valorisation organique."
    spanish = (
        "La administración intermunicipal recomienda sistemáticamente la valorización orgánica."
    )
    assert kandel_moles_ease(counted([french], "fr")) < 40
    assert fernandez_huerta_ease(counted([spanish], "es")) < 20
    assert szigriszt_ease(counted([spanish], "es")) < 20


def sentences(language, part):
    """Whole sentences of a part; headings and lists of things would make it look easier."""
    messages = messages_for(COUNTRIES[language])
    sections = {"letter"} if part == "letter" else set(TEXTS)
    wanted = [
        key
        for key in keys("")
        if key.partition(".")[0] in sections
        and not re.search(r"^picture\.|\.title$|\.sign$|\.list$|subject|greeting", key)
    ]
    return [messages.say(key, **FILLED, year="2026") for key in wanted]


@pytest.mark.parametrize("language", languages())
@pytest.mark.parametrize("part", ["sheet", "letter"])
def test_households_words_ask_no_more_than_grade_seven(language, part):
    if language == "en":
        assert grade(sentences(language, part)) <= 7.0
        return
    counts = counted(sentences(language, part), language)
    assert counts.words > 50
    if language == "fr":
        assert kandel_moles_ease(counts) >= 70.0
    else:
        assert fernandez_huerta_ease(counts) >= 70.0
        assert szigriszt_ease(counts) >= 66.0
    assert counts.words_per_sentence < 15
