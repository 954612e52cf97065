"""A search finds what there is to find, says when it did not, and refuses a false program."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from planner.ordering import solving
from planner.ordering.linear_program import Program, RowName
from planner.ordering.problem import Quarter
from planner.ordering.request import Effort
from planner.ordering.searching import Answer, run_search
from tests.unit.ordering.small import MONDAY, day, offer, problem, slot, stored, supplier

FEW_NODES = Effort(0.0, 1, first_plan_work=0)


def split_market(rows, columns, seed):
    """Halves of markets that add up exactly: known to be the hardest rows for such searches.

    Cornuéjols & Dawande (1998), A class of hard small 0-1 programs, IPCO VI, LNCS 1412 (from
    memory); here a choice is known, so that one exists.
    """
    rng = np.random.default_rng(seed)
    sizes = rng.integers(1, 100, (rows, columns))
    choice = rng.integers(0, 2, columns)
    program = Program()
    chosen = program.add_columns(columns, 1.0, 0.0, 1.0, whole=True)
    for row, total in zip(sizes, sizes @ choice, strict=True):
        program.add_row(RowName("market"), chosen, row, float(total), float(total))
    return program, sizes, sizes @ choice


@pytest.mark.parametrize("market", [(2, 15, 1), (3, 20, 0)])
def test_a_search_goes_on_past_its_nodes_until_there_is_a_first_plan(market):
    program, sizes, totals = split_market(*market)
    assert run_search(program, FEW_NODES).outcome == "unfinished"
    found = run_search(program, replace(FEW_NODES, first_plan_work=10_000_000))
    assert found.values is not None
    assert (sizes @ np.round(found.values) == totals).all()
    assert found.bound <= found.objective + 1e-6


@pytest.mark.parametrize(
    ("cost", "value", "lower"),
    # the first the solver refuses by itself; of what is no number it says nothing
    [(1.0, 1e20, 1.0), (np.nan, 1.0, 1.0), (1.0, np.nan, 1.0), (1.0, 1.0, np.nan)],
)
def test_a_program_written_wrongly_is_an_error_and_no_answer(cost, value, lower):
    program = Program()
    columns = program.add_columns(2, [1.0, cost])
    program.add_row(RowName("need"), columns, [1.0, value], lower=lower)
    with pytest.raises(RuntimeError, match="refuses"):
        run_search(program, Effort())


def test_the_search_starts_from_the_plan_that_is_known_and_falls_back_on_it(monkeypatch):
    dear, cheap = offer("D", "A", [(1, 12.0)]), offer("C", "A", [(1, 10.0)])
    given = problem(
        [supplier("A")],
        [dear, cheap],
        [slot("A", 1, quarter=0)],
        [stored("bin", (5, 10))],
        quarters=(Quarter(MONDAY, day(90), 125.0),),
    )

    assert solving.solve(given, Effort(), {(0, 0)}).cost == 100.0

    def ends_early(program, effort, start=None):
        if start is None:
            return run_search(program, effort)
        return Answer("unfinished", None, np.inf, 90.0, reached_limit=True)

    monkeypatch.setattr(solving, "run_search", ends_early)
    found = solving.solve(given, Effort(), {(0, 0)})
    assert found is not None
    # ten of the dear ones, and what the long search proved of the whole problem
    assert (found.cost, found.bound) == (120.0, 90.0)
    assert found.gap == pytest.approx(0.25)
    # of a large one a proof beforehand tells more: ten of the cheap ones
    monkeypatch.setattr(solving, "LARGE", 1)
    found = solving.solve(given, Effort(), {(0, 0)})
    assert (found.cost, found.bound) == (120.0, pytest.approx(100.0))
