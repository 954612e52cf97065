"""Verdicts of years that have closed, and chances of those that run."""

import pytest

from planner.figures import Figure, FigureRegister
from planner.report.targets import chance_of, pace_words, verdict
from planner.report.wording import Wording


def register(value, low, high, through="", chance=None):
    made = FigureRegister("Town", "2025-26", "1", through_date=through)
    made.add(Figure("fed_t", "Fed", value, low, high, "t", ""))
    if chance is not None:
        made.add(Figure("on_track_share[fed_t]", "Chance", chance, None, None, "share", ""))
    return made


@pytest.mark.parametrize(
    ("through", "low", "high", "result"),
    [
        ("", 2.0, 4.0, "below"),
        ("", 4.0, 6.0, "on"),
        ("2025-12-31", 2.0, 4.0, None),
        ("2025-12-31", 4.0, 6.0, None),
        ("2025-12-31", 5.0, 6.0, "above"),
    ],
)
def test_a_year_that_runs_can_have_met_a_target_and_not_missed_it(through, low, high, result):
    made = register((low + high) / 2, low, high, through)
    assert verdict(made, "fed_t", 5.0) == result


@pytest.mark.parametrize(
    ("chance", "word"), [(0.95, "on track"), (0.66, "on track"), (0.5, "open"), (0.1, "behind")]
)
def test_the_chance_has_a_word(chance, word):
    made = register(3.0, 2.0, 4.0, "2025-12-31", chance)
    assert pace_words(chance_of(made, "fed_t"), Wording("en_GB")).startswith(f"{word}: ")
    assert chance_of(register(3.0, 2.0, 4.0), "fed_t") is None
