"""A figure is found, and explained down to its files, in lines that a terminal can hold."""

from __future__ import annotations

import pytest

from planner.errors import ReportError
from planner.figures import Figure, FigureRegister, Input, read_register
from planner.paths import FIGURES_FILE
from planner.report.explaining import explain, find_figure
from planner.report.wording import Wording
from tests.unit.report import synthetic


@pytest.fixture(scope="module")
def register():
    return synthetic.register()


def test_the_figure_comes_first_with_interval_and_method(register):
    lines = explain(register, "kept_out_of_landfill_t").splitlines()
    assert lines[0] == "Food scraps kept out of landfill in the year [kept_out_of_landfill_t]"
    assert lines[2] == "7.7 t, 95% interval 6.1 to 9.7"
    assert register["kept_out_of_landfill_t"].method in "\n".join(lines[4:])


def test_all_that_it_rests_on_is_reached(register):
    text = " ".join(explain(register, "emissions_avoided_in_year_t_co2e").split())
    for name in ("landfill_share", "feed_kg_per_bin_week", "bins_in_use", "followup_answers"):
        assert name in text
    assert "counted by query bins_by_area: 8 rows" in text
    assert "landfill.landfilled_share_of_residual_waste = 0.9" in text
    assert "L1 households.xlsx" in text


def test_each_figure_is_opened_once(register):
    text = explain(register, "emissions_avoided_in_year_t_co2e")
    method = register["fed_t"].method
    assert "[fed_t]" in text
    assert " ".join(text.split()).count(method) == 1
    assert "(opened above)" in " ".join(text.split())


def test_a_factor_is_cited_once(register):
    text = " ".join(explain(register, "emissions_avoided_in_year_t_co2e").split())
    factor = next(i for i in register["feed_kg_per_bin_week"].inputs if i.kind == "factor")
    assert text.count(f"factor {factor.name}: {factor.detail}") == 1
    assert f"factor {factor.name} (as above)" in text


def test_figures_that_rest_on_each_other_do_not_go_round_for_ever():
    register = FigureRegister("Town", "2025-26", "1")
    for name, other in (("a", "b"), ("b", "a")):
        register.add(Figure(name, name, 1.0, None, None, "t", "", (Input("figure", other),)))
    assert explain(register, "a").count("[a]") == 2


def test_lines_fit_a_terminal(register):
    for figure in register:
        assert max(len(line) for line in explain(register, figure.id).splitlines()) <= 80


def test_a_hidden_area_is_explained_without_a_number(register):
    text = explain(register, "fed_t[a007]")
    body = text.partition("How it came about")[0].splitlines()[2:]
    assert body == ["not shown", ""]


def test_money_is_written_as_the_council_does(register):
    text = explain(register, "cost_per_t_kept_out", Wording("en_GB", "GBP"))
    assert "£7,500 per t, 95% interval £5,900 to £9,500" in text


def test_an_unknown_figure_is_met_with_the_nearest(register):
    with pytest.raises(ReportError, match=r"Did you mean .*kept_out_of_landfill_t"):
        explain(register, "kept_out_of_landfil_t")


def test_nothing_that_a_terminal_obeys_gets_through():
    register = FigureRegister("Town", "2025-26", "1", ("L1 \x1b[2Jodd\x07.csv",))
    register.add(Figure("a", "A", 1.0, None, None, "t", "\x1b]0;title\x07 m"))
    assert not any(c in explain(register, "a") for c in "\x1b\x07")


def test_draws_are_told_where_a_figure_has_an_interval():
    register = synthetic.register()
    assert "Draws" not in explain(register, "fed_t")
    register.draws_count, register.seed = 1000, 7
    told = explain(register, "fed_t", Wording("de_DE", "EUR"))
    assert "1.000 draws from seed 7" in told
    assert told.index("Draws") < told.index("Files behind the records")
    assert "Draws" not in explain(register, "bins_given")
    again = read_register(register.to_json())
    assert (again.draws_count, again.seed) == (1000, 7)


# where a figure stands: the report, the plan, an order or the nursery, in that order


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
