"""What calls are worth, against cases that can be worked out by hand."""

import numpy as np
import polars as pl
import pytest

from planner.field.stopping import HAZARD_CUT, value_of_calls


def risk(in_use, stops):
    return pl.DataFrame(
        {
            "in_use_chance": in_use,
            "stop_chance_12_months": stops,
            "may_stop_chance": np.asarray(in_use) * np.asarray(stops),
        }
    )


def test_calls_keep_what_the_lowered_hazard_says_on_average():
    # each of 50 households uses its bin and stops with q = 0.5; a call that always reaches
    # lowers the hazard by c, so that it stays with 0.5^(1 - c) in place of 0.5
    found = value_of_calls(risk([1.0] * 50, [0.5] * 50), 50, (10**7, 0), np.random.default_rng(3))
    cut = np.random.default_rng(9).triangular(*HAZARD_CUT, 200_000)
    expected = 100.0 * float(np.mean(0.5 ** (1.0 - cut)) - 0.5)
    assert found.chosen[0] == pytest.approx(expected, rel=0.03)
    assert found.at_random[0] == pytest.approx(expected, rel=0.03)


def test_nothing_is_kept_where_nobody_answers_or_nobody_stops():
    rng = np.random.default_rng(3)
    assert value_of_calls(risk([1.0] * 9, [0.5] * 9), 9, (0, 10**9), rng).chosen[2] == 0.0
    assert value_of_calls(risk([1.0] * 9, [0.0] * 9), 9, (5, 5), rng).chosen == (0.0, 0.0, 0.0)


def test_calling_the_riskiest_keeps_more_than_calling_anyone():
    mixed = risk([1.0] * 100, [0.6] * 20 + [0.02] * 80)
    found = value_of_calls(mixed, 20, (62, 38), np.random.default_rng(3))
    assert found.chosen[0] > 3.0 * found.at_random[0]


def test_a_bin_that_may_be_out_of_use_keeps_as_much_less_by_a_call():
    whole, half, none = (
        value_of_calls(risk([chance] * 50, [0.5] * 50), 50, (10**7, 0), np.random.default_rng(3))
        for chance in (1.0, 0.5, 0.0)
    )
    assert half.chosen[0] == pytest.approx(whole.chosen[0] / 2.0, rel=0.05)
    assert none.chosen == (0.0, 0.0, 0.0)
