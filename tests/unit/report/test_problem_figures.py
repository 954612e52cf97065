"""Problems in the report: counted, and none shown from which a small count could be found."""

from types import SimpleNamespace

import numpy as np
import polars as pl
import pytest

from planner.figures import FigureRegister
from planner.report.figures import CATALOGUE
from planner.report.figures.aftercare import BY, add_problems
from planner.report.figures.declaring import Writer

THRESHOLD = 10


def figures(rows):
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
        ),
        counts=SimpleNamespace(problems=pl.DataFrame(rows, schema=columns, orient="row")),
    )
    register = FigureRegister("Town", "2025-26", "1")
    add_problems(Writer(register, year, CATALOGUE))
    return {figure.id: figure.value for figure in register}


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
