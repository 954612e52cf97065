"""Earlier years beside this one: the same months, correlated draws, planted restatements."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest

from planner.figures import FigureRegister
from planner.report.figures import CATALOGUE
from planner.report.figures.comparison import add_earlier, is_restated
from planner.report.figures.writer import Writer

TOWN, LABEL, EARLIER = "valdorra", "2025", "2024"
FLOWS = {"fed_t": "fed_t_in_month", "kept_out_of_landfill_t": "kept_out_of_landfill_t_in_month"}


def printed(register, factor=1.0, label=EARLIER, **changed):
    """Make a report of the earlier year that said other figures."""
    made = FigureRegister(register.council, label, register.version, register.loads)
    made = dataclasses.replace(made, **changed)
    for name in ("bins_in_use", *FLOWS):
        source = f"{name}_of_year[{EARLIER}]" if label == EARLIER else name
        figure = dataclasses.replace(register[source], id=name, method=register[name].method)
        made.add(dataclasses.replace(figure, value=figure.value * factor))
    # what they rest on
    for figure in register:
        if figure.id not in made:
            made.add(figure)
    return made


def with_earlier(year, register, earlier=(), replaced=None):
    """Give the figures of the year alone, then those of the comparison with other reports."""
    kept = [f for f in register if not any(w in f.id for w in ("_of_year[", "_change[", "_rest"))]
    made = dataclasses.replace(register, _figures={f.id: f for f in kept})
    add_earlier(Writer(made, year, CATALOGUE), earlier, replaced)
    return made


def test_an_earlier_year_is_the_sum_of_its_months(sample):
    _, register = sample(TOWN).year(LABEL)
    for name, monthly in FLOWS.items():
        months = register.parts(monthly)
        of_year = [f.value for month, f in months.items() if month.startswith(EARLIER)]
        if None not in of_year:
            assert register[f"{name}_of_year[{EARLIER}]"].value == pytest.approx(
                sum(of_year), rel=1e-9
            )
        in_year = [f.value for month, f in months.items() if month.startswith(LABEL)]
        assert register[name].value == pytest.approx(sum(in_year), rel=1e-9)
    december = register[f"bins_in_use_at_month_end[{EARLIER}-12]"].value
    assert register[f"bins_in_use_of_year[{EARLIER}]"].value == pytest.approx(december)


def test_a_change_is_this_year_less_that_one_with_what_they_share_taken_off(sample):
    _, register = sample(TOWN).year(LABEL)
    for name in ("bins_in_use", *FLOWS):
        now, then = register[name], register[f"{name}_of_year[{EARLIER}]"]
        change = register[f"{name}_change[{EARLIER}]"]
        assert change.value == pytest.approx(now.value - then.value, rel=1e-9)
        assert change.low < change.value < change.high
        # independent years would give about the root of the sum of squares (sum of variances)
        independent = np.hypot(now.high - now.low, then.high - then.low)
        assert change.high - change.low < 1.05 * independent


def test_an_earlier_report_that_said_the_same_is_not_restated(sample):
    year, register = sample(TOWN).year(LABEL)
    made = with_earlier(year, register, [printed(register)])
    assert f"fed_t_reported[{EARLIER}]" in made
    assert not made.parts("fed_t_restated")
    assert not is_restated(made)


def test_an_earlier_report_that_said_otherwise_is_restated_with_its_reason(sample):
    year, register = sample(TOWN).year(LABEL)
    then = printed(register, factor=0.8, loads=register.loads[:-1])
    made = with_earlier(year, register, [then])
    today = made[f"fed_t_of_year[{EARLIER}]"].value
    restated = made[f"fed_t_restated[{EARLIER}]"]
    assert restated.value == pytest.approx(0.2 * today)
    assert restated.method == "Restated for these reasons: data: files loaded since."
    assert made[f"fed_t_reported[{EARLIER}]"].value == pytest.approx(0.8 * today)


def test_of_two_reports_of_a_year_the_later_counts(sample):
    year, register = sample(TOWN).year(LABEL)
    made = with_earlier(year, register, [printed(register, 0.5), printed(register, 0.9)])
    today = made[f"fed_t_of_year[{EARLIER}]"].value
    assert made[f"fed_t_reported[{EARLIER}]"].value == pytest.approx(0.9 * today)


def test_a_report_of_the_very_year_is_restated_where_it_said_otherwise(sample):
    year, register = sample(TOWN).year(LABEL)
    same = with_earlier(year, register, replaced=printed(register, label=LABEL))
    assert not is_restated(same)
    assert not same.parts("fed_t_reported")
    made = with_earlier(year, register, replaced=printed(register, 1.1, label=LABEL))
    assert is_restated(made)
    assert made[f"fed_t_restated[{LABEL}]"].value == pytest.approx(-0.1 * made["fed_t"].value)


def test_a_year_that_is_still_running_is_not_compared(sample):
    year, register = sample(TOWN).year(LABEL)
    running = dataclasses.replace(year, counts=dataclasses.replace(year.counts, is_running=True))
    made = with_earlier(running, register)
    assert f"fed_t_of_year[{EARLIER}]" in made
    assert not made.parts("fed_t_change")


def test_the_first_year_has_nothing_earlier(sample):
    _, register = sample(TOWN).year(EARLIER)
    assert not register.parts("fed_t_of_year")


def test_a_hidden_figure_of_an_earlier_report_stays_hidden(sample):
    year, register = sample(TOWN).year(LABEL)
    then = printed(register, 0.8)
    for name in ("bins_in_use", *FLOWS):
        then._figures[name] = dataclasses.replace(then[name], value=None, low=None, high=None)
    made = with_earlier(year, register, [then])
    assert not made.parts("fed_t_reported")
    assert not made.parts("fed_t_restated")
