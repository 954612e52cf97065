"""Message files agree with each other and with what uses them; numbers agree with the words."""

from __future__ import annotations

import string

import pytest
from babel.messages.pofile import read_po

from planner.errors import ProgramError
from planner.field.household_sheet import PICTURES, TEXTS
from planner.field.messages import WORDS, languages, messages_for


def catalogue(language):
    with (WORDS / f"{language}.po").open("rb") as file:
        return {one.id: one.string for one in read_po(file) if one.id}


def braces(text):
    return {name for _, name, _, _ in string.Formatter().parse(text) if name}


def test_english_comes_first_and_french_and_spanish_are_there():
    assert languages() == ["en", "es", "fr"]


@pytest.mark.parametrize("language", languages())
def test_every_language_has_every_key_with_the_same_braces(language):
    english, words = catalogue("en"), catalogue(language)
    assert set(words) == set(english)
    assert {key: braces(text) for key, text in words.items()} == {
        key: braces(text) for key, text in english.items()
    }
    assert all(words.values())


def test_what_the_sheet_asks_for_is_in_the_files():
    asked = {f"{section}.{name}" for section, names in TEXTS.items() for name in names}
    asked |= {f"picture.{name}" for name in PICTURES}
    assert asked <= set(catalogue("en"))


@pytest.mark.parametrize("language", ["fr", "es"])
def test_translations_are_not_the_english_words(language):
    english, words = catalogue("en"), catalogue(language)
    assert not [key for key in english if words[key] == english[key]]


def test_numbers_are_those_of_the_language_and_units_those_of_the_country():
    assert messages_for("fr_FR").mass(1.5).startswith("1,5")
    assert messages_for("en_AU").mass(1.5).startswith("1.5")
    # a pound is 0.45359237 kg exactly
    assert messages_for("en_US").mass(0.45359237) == "1\xa0lb"
    assert messages_for("en_US").temperature(0.0) == "32°F"
    assert messages_for("en_US", "es").temperature(100.0).startswith("212")
    assert messages_for("en_AU", "fr").mass(1.5).startswith("1,5")
    assert messages_for("es_ES", "en").mass(1.5).startswith("1.5")
    assert str(messages_for("fr_CA").locale) == "fr_CA"


def test_a_language_without_words_falls_back_to_english_and_one_asked_for_is_refused():
    assert messages_for("de_DE").language == "en"
    assert messages_for("ca_ES", "es").language == "es"
    with pytest.raises(ProgramError, match="en, es, fr"):
        messages_for("de_DE", "de")
