"""A figure is found in the report, the plan, an order or the nursery, in that order."""

import pytest

from planner.errors import ReportError
from planner.figures import Figure, FigureRegister
from planner.paths import FIGURES_FILE
from planner.report.finding import find_figure


def put(folder, year, *ids):
    """Write figures, each the number of its file's letters so that files can be told apart."""
    register = FigureRegister("Town", year, "1")
    for name in ids:
        register.add(Figure(name, name, float(len(folder.name)), None, None, "t", "Counted."))
    folder.mkdir(parents=True)
    (folder / FIGURES_FILE).write_text(register.to_json(), encoding="utf-8")


@pytest.fixture
def program(tmp_path):
    put(tmp_path / "report", "2025-26", "fed_t", "same_t")
    put(tmp_path / "sizing", "2026-27", "plan_bins", "same_t")
    put(tmp_path / "sizing" / "2025-26", "2025-26", "plan_bins")
    put(tmp_path / "orders" / "2026-03-02", "2025-26", "order_starter_kg", "order_booked")
    put(tmp_path / "orders" / "2026-09-01", "2026-27", "order_starter_kg")
    put(tmp_path / "nursery", "2026-27", "worms_needed_kg", "nursery_cost[2026-09-01]")
    return tmp_path


@pytest.mark.parametrize(
    ("figure_id", "year", "place"),
    [
        ("fed_t", None, "report/figures.json"),
        ("same_t", None, "report/figures.json"),
        ("same_t", "2026-27", "sizing/figures.json"),
        ("plan_bins", None, "sizing/figures.json"),
        ("plan_bins", "2025/26", "sizing/2025-26/figures.json"),
        ("order_starter_kg", None, "orders/2026-09-01/figures.json"),
        ("order_starter_kg", "2025-26", "orders/2026-03-02/figures.json"),
        ("order_booked", None, "orders/2026-03-02/figures.json"),
        ("worms_needed_kg", None, "nursery/figures.json"),
        ("nursery_cost[2026-09-01]", None, "nursery/figures.json"),
    ],
)
def test_the_first_file_that_holds_a_figure_is_taken(program, figure_id, year, place):
    register, found = find_figure(program, figure_id, year)
    assert found == place
    assert figure_id in register


@pytest.mark.parametrize(
    ("figure_id", "words"),
    [
        ("order_starter", "Did you mean order_starter_kg?"),
        ("nursery_cost", r"Did you mean nursery_cost\[2026-09-01\]"),
        ("plan_zzzzzz", "planner size"),
        ("zzzzzz", "report/figures.json, sizing/figures.json"),
    ],
)
def test_a_figure_that_stands_nowhere_is_told_with_what_to_do(program, figure_id, words):
    with pytest.raises(ReportError, match=words):
        find_figure(program, figure_id)


@pytest.mark.parametrize(
    ("figure_id", "command"),
    [
        ("fed_t", "planner report"),
        ("plan_bins", "planner size"),
        ("order_booked", "planner order"),
        ("nursery_cost", "planner nursery"),
    ],
)
def test_before_anything_is_made_the_command_that_makes_it_is_named(tmp_path, figure_id, command):
    with pytest.raises(ReportError, match=f"Run `{command}` first"):
        find_figure(tmp_path, figure_id)


def test_a_year_that_was_not_reported_is_named_in_the_command(program):
    with pytest.raises(ReportError, match=r"Run `planner report --year 2031-32` first"):
        find_figure(program, "fed_t", "2031-32")
