"""The measure itself, against texts and words whose count is known."""

from __future__ import annotations

import pytest

from tests.unit.report.readability import grade, syllables, words_of

# syllables as hyphenated in any English dictionary
KNOWN = {
    "cat": 1,
    "landfill": 2,
    "methane": 2,
    "council": 2,
    "scraps": 1,
    "given": 2,
    "weighed": 1,
    "table": 2,
    "estimate": 3,
    "compost": 2,
    "homes": 1,
    "uncertainty": 4,
    "recommendation": 5,
}


@pytest.mark.parametrize(("word", "count"), KNOWN.items())
def test_syllables_are_counted_as_in_a_dictionary(word, count):
    assert syllables(word) == count


def test_the_grade_is_that_of_the_formula():
    """Six words of one syllable in one sentence: 0.39 × 6 + 11.8 - 15.59 = -1.45."""
    assert grade(["The cat sat on the mat."]) == pytest.approx(-1.45)


def test_officials_prose_is_harder_than_grade_9():
    hard = (
        "Notwithstanding methodological heterogeneity, the aforementioned estimation procedure "
        "accommodates multidimensional uncertainty via simultaneous stochastic perturbation."
    )
    assert grade([hard]) > 15
    assert len(words_of(hard)) == 14
