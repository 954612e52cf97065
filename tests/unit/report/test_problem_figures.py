"""Problems in the report: counted, and none shown from which a small count could be found."""

from types import SimpleNamespace

import numpy as np
import polars as pl
import pytest

from planner.figures import FigureRegister
from planner.report.figures import CATALOGUE
from planner.report.figures.giveaway import BY, add_problems
from planner.report.figures.writer import Writer

THRESHOLD = 10


def figures(rows, issued=()):
    """Give the values of the figures of given counts."""
    return {figure.id: figure.value for figure in registered(rows, issued)}


def registered(rows, issued=()):
    """Put the figures of given counts: grouping, part, problems, households."""
    columns = {
        "grouping": pl.String,
        "part": pl.String,
        "problems_count": pl.Int64,
        "households_count": pl.Int64,
    }
    year = SimpleNamespace(
        program=SimpleNamespace(
            council=SimpleNamespace(currency="GBP"),
            privacy=SimpleNamespace(small_cell_threshold=THRESHOLD),
            money=SimpleNamespace(support_cost_per_bin_year=0.0),
        ),
        feed_factors=(),
        counts=SimpleNamespace(problems=pl.DataFrame(rows, schema=columns, orient="row")),
    )
    register = FigureRegister("Town", "2025-26", "1")
    add_problems(Writer(register, year, CATALOGUE), issued)
    return register


def test_problems_are_counted_in_all_and_by_part():
    found = figures(
        [("problem", "flies", 40, 40), ("problem", "smell", 25, 25), ("area", "N", 65, 60)]
    )
    assert found == {
        "problems_told": 65,
        "problems_told[problem: flies]": 40,
        "problems_told[problem: smell]": 25,
        "problems_told[area: N]": 65,
    }


def test_a_small_count_takes_another_with_it_so_that_the_whole_does_not_give_it_away():
    found = figures(
        [("problem", "ants", 4, 4), ("problem", "flies", 40, 40), ("problem", "smell", 25, 25)]
    )
    assert found["problems_told[problem: ants]"] is None
    assert found["problems_told[problem: smell]"] is None
    assert found["problems_told[problem: flies]"] == 40


def test_a_count_of_many_problems_from_few_households_is_not_shown():
    found = figures([("problem", "flies", 80, 80), ("area", "N", 12, 6), ("area", "S", 68, 60)])
    assert found["problems_told[area: N]"] is None


def test_no_figures_without_problems():
    assert figures([]) == {}


@pytest.mark.parametrize("seed", range(20))
def test_what_is_hidden_is_bounded_no_closer_than_the_threshold(seed):
    rng = np.random.default_rng(seed)
    counts = rng.poisson(rng.gamma(0.7, 25.0, 9)) + 1
    rows = [(name, f"p{n}", int(c), int(c)) for name in BY for n, c in enumerate(counts)]
    found = figures(rows)
    whole = found["problems_told"]
    for name in BY:
        shown = [found[f"problems_told[{name}: p{n}]"] for n in range(9)]
        hidden = [n for n, value in enumerate(shown) if value is None]
        assert all(value is None or value >= THRESHOLD for value in shown)
        if whole is None or not hidden:
            continue
        # whoever subtracts what is shown from the whole learns the sum of the hidden ones alone
        left = whole - sum(value for value in shown if value is not None)
        assert len(hidden) > 1
        assert left >= THRESHOLD


def test_whoever_subtracts_an_earlier_issue_finds_no_change_of_a_few_households():
    kinds = [("problem", "flies", 60, 60), ("problem", "smell", 40, 40)]
    before = registered([*kinds, ("area", "N", 50, 50), ("area", "S", 50, 50)])
    # one household in the north told of smell since; the same to an earlier day shows all
    more = [("problem", "flies", 60, 60), ("problem", "smell", 41, 41)]
    now = [*more, ("area", "N", 51, 51), ("area", "S", 50, 50)]
    found = figures(now, [before])
    assert found["problems_told"] is None
    assert found["problems_told[problem: smell]"] is None
    assert found["problems_told[area: N]"] is None
    assert None not in figures(now).values()
    # enough have told since, and told in both areas
    much = [("problem", "flies", 90, 90), ("problem", "smell", 80, 80)]
    later = [*much, ("area", "N", 90, 90), ("area", "S", 80, 80)]
    assert None not in figures(later, [before]).values()


@pytest.mark.parametrize("seed", range(20))
def test_no_shown_count_differs_from_that_of_an_issue_by_a_few(seed):
    rng = np.random.default_rng(seed)
    was = rng.integers(10, 60, 6)
    grown = was + rng.poisson(rng.gamma(0.5, 12.0, 6))
    rows = [
        [(name, f"p{n}", int(c), int(c)) for name in BY for n, c in enumerate(counts)]
        for counts in (was, grown)
    ]
    before = registered(rows[0])
    found = figures(rows[1], [before])
    for figure in before:
        value = found[figure.id]
        if value is not None and figure.value is not None:
            assert not 0 < abs(value - figure.value) < THRESHOLD


@pytest.mark.parametrize(("more", "is_shown"), [(18, False), (20, True), (0, True)])
def test_where_each_household_tells_of_two_problems_a_change_of_twenty_is_one_of_ten(
    more, is_shown
):
    before = registered(
        [("area", "N", 80, 40), ("area", "S", 120, 60), ("problem", "flies", 200, 100)]
    )
    now = [
        ("area", "N", 80 + more, 40 + more // 2),
        ("area", "S", 160, 80),
        ("problem", "flies", 240 + more, 120 + more // 2),
    ]
    assert (figures(now, [before])["problems_told[area: N]"] is not None) == is_shown
