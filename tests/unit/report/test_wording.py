"""Rounding, targets and the ways in which three countries write numbers."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

import numpy as np
import pytest

from planner.figures import Figure, FigureRegister
from planner.report.document.saying import Saying
from planner.report.targets import against_budget, against_target
from planner.report.wording import Wording, listing
from tests.prose import HIDDEN

BRITISH = Wording("en_GB", "GBP")
SPANISH = Wording("es_ES", "EUR")
GERMAN = Wording("de_DE", "EUR")


def figure(
    value: float | None,
    low: float | None = None,
    high: float | None = None,
    unit: str = "t",
    method: str = "",
) -> Figure:
    return Figure("f", "Figure", value, low, high, unit, method)


def test_a_far_end_does_not_round_the_value_away():
    # a ratio to a quantity that may be small: its interval reaches far up
    written = BRITISH.figure(figure(5430.0, 2990.0, 83_800.0))
    assert written.startswith("5,000 t (3,000 to 84,000")
    # evenly, the same width rounds to tens of thousands, and so it does where an end is the value
    assert BRITISH.figure(figure(43_000.0, 2990.0, 83_800.0)).startswith("40,000 t (0 to 80,000")


@pytest.mark.parametrize(
    ("value", "half_width", "words"),
    [
        # Particle Data Group, Review of Particle Physics, introduction, section 5.3 prints
        # 0.827 ± 0.119 as 0.83 ± 0.12 and 0.827 ± 0.367 as 0.8 ± 0.4 (from memory), and
        # rounds errors of 950 to 999 up to 1000 with two digits.
        (0.827, 0.119, "0.83 t (0.71 to 0.95)"),
        (0.827, 0.367, "0.8 t (0.5 to 1.2)"),
        (0.827, 0.0967, "0.83 t (0.73 to 0.92)"),
        # the same rule, by hand
        (1234.0, 265.0, "1,230 t (970 to 1,500)"),
        (1.23, 0.263, "1.2 t (1.0 to 1.5)"),
        # from ten on tonnes are whole, however narrow the interval: rounding.FINEST
        (12.3, 2.63, "12 t (10 to 15)"),
        (41.0, 4.0, "41 t (37 to 45)"),
    ],
)
def test_the_half_width_decides_the_digits(value, half_width, words):
    written = BRITISH.figure(figure(value, value - half_width, value + half_width))
    assert written == words


def test_no_number_has_more_decimals_than_its_size_needs():
    # powers of ten of one number, in tonnes and in kilograms a week: rounding.FINEST
    for unit, decimals in (("t", (2, 2, 1, 0, 0)), ("kg a week", (4, 2, 2, 1, 0))):
        for power, most in zip(range(-2, 3), decimals, strict=True):
            scale = 10.0**power
            written = BRITISH.plain(figure(1.234 * scale, 1.23 * scale, 1.238 * scale, unit))
            assert len(written.partition(".")[2]) <= most, written


def test_counts_stay_whole_and_have_no_interval():
    assert BRITISH.figure(figure(12_345.0, unit="bins")) == "12,345 bins"


def test_money_of_the_ledger_is_written_in_whole_units():
    assert BRITISH.figure(figure(58_204.55, unit="GBP")) == "£58,205"


def test_money_with_an_interval_is_rounded_by_it():
    cost = figure(7_518.0, 5_864.0, 9_503.0, unit="GBP per t")
    assert BRITISH.figure(cost) == "£7,500 per t (£5,900 to £9,500)"


def test_a_share_is_written_in_percent():
    assert BRITISH.figure(figure(0.6271, 0.577, 0.687, "share")) == "63% (58% to 69%)"
    assert BRITISH.figure(figure(0.912, 0.899, 0.925, "share")) == "91% (90% to 92%)"
    assert BRITISH.amount(figure(0.5743, unit="share")) == "57%"


def test_an_interval_without_width_leaves_three_digits():
    assert BRITISH.figure(figure(0.0, 0.0, 0.0)) == "0 t (0 to 0)"
    assert BRITISH.amount(figure(1.23456, 1.23456, 1.23456)) == "1.2 t"


def test_nothing_is_written_as_minus_zero():
    assert BRITISH.amount(figure(-0.01, -1.3, 1.4)) == "0.0 t"


@pytest.mark.parametrize(
    ("wording", "number", "money", "share", "day", "month"),
    [
        (BRITISH, "12,345.7", "£12,346", "62.7%", "30 Jun 2026", "Jun 2026"),
        (SPANISH, "12.345,7", "12.346\u00a0€", "62,7\u00a0%", "30/6/2026", "6/2026"),
        (GERMAN, "12.345,7", "12.346\u00a0€", "62,7\u00a0%", "30.6.2026", "6/2026"),
    ],
)
def test_each_country_has_its_own_signs(wording, number, money, share, day, month):
    # separators, places of the symbols and orders of dates after the Unicode CLDR
    assert wording.number(12_345.678, 1) == number
    assert wording.money(12_345.678) == money
    assert wording.share(0.627, 1) == share
    assert wording.day(dt.date(2026, 6, 30)) == day
    assert wording.month("2026-06") == month


@pytest.mark.parametrize(
    ("low", "high", "target", "result"),
    [
        (8.0, 9.0, 8.0, "above"),
        (7.9, 9.0, 8.0, "on"),
        (7.0, 8.0, 8.0, "on"),
        (7.0, 7.9, 8.0, "below"),
    ],
)
def test_the_interval_decides_whether_a_target_is_met(low, high, target, result):
    assert against_target(figure((low + high) / 2, low, high), target) == result


@pytest.mark.parametrize(
    ("chance", "result"),
    # likely and unlikely after the IPCC's guidance note of 2010, table 1 (from memory)
    [(0.66, "above"), (0.65, "on"), (0.34, "on"), (0.33, "below"), (0.0, "below")],
)
def test_the_chance_decides_where_it_is_known(chance, result):
    assert against_target(figure(7.9, 6.1, 9.8), 8.0, chance) == result


def test_a_chance_is_written_in_whole_per_cent_and_never_as_none_or_all():
    assert BRITISH.chance(0.0) == BRITISH.chance(0.0024) == "less than 1%"
    assert BRITISH.chance(0.999) == "more than 99%"
    assert BRITISH.chance(0.137) == "14%"


def test_counts_and_budgets_are_compared_as_they_are():
    assert against_target(figure(450.0, unit="bins"), 450) == "on"
    assert against_target(figure(449.0, unit="bins"), 450) == "below"
    assert against_budget(60_000.0, 60_000.0) == "within budget"
    assert against_budget(60_000.01, 60_000.0) == "over budget"


def test_a_figure_without_value_is_neither_written_nor_judged():
    assert BRITISH.figure(figure(None, method=HIDDEN)) == "not shown"
    assert BRITISH.figure(figure(None, method="Not given: nothing to divide by.")) == "not given"
    assert against_target(figure(None, method=HIDDEN), 8.0) is None


def test_long_lists_end_with_a_count():
    assert listing([]) == ""
    assert listing(["a"]) == "a"
    assert listing(["a", "b"]) == "a and b"
    assert listing([str(n) for n in range(10)], most=8) == "0, 1, 2, 3, 4, 5, 6, 7 and 2 more"


def test_a_mean_stands_beside_the_interval_where_it_lies_well_off_the_value():
    # a tenth of an interval of 20 is 2: a mean 2.1 away is told, one 1.9 away is not
    far = replace(figure(10.0, 5.0, 25.0), mean=12.1)
    near = replace(figure(10.0, 5.0, 25.0), mean=11.9)
    assert BRITISH.figure(far) == "10 t (5 to 25, mean 12)"
    assert BRITISH.figure(near) == "10 t (5 to 25)"


def test_a_lognormal_has_its_known_mean_beside_its_median():
    # median 1, mean exp(sigma^2 / 2): a fact of the distribution
    draws = np.exp(np.random.default_rng(1).normal(0.0, 1.5, 200_001))
    draws[0] = 1.0
    made = FigureRegister("Town", "2025-26", "1").put("x", "", draws, "t", "", ())
    assert made.mean == pytest.approx(np.exp(1.5**2 / 2.0), rel=0.03)
    assert made.telling_mean == made.mean


def test_a_sentence_that_ends_in_kroner_has_one_full_stop():
    register = FigureRegister("Town", "2025-26", "1")
    register.add(figure(14_000.0, unit="DKK"))
    said = Saying(register, Wording("da_DK", "DKK")).say("The year cost {f:amount}. It is over.")
    assert said.words == "The year cost 14.000\xa0kr. It is over."
    assert said.figure_ids == ("f",)
