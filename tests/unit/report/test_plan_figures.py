"""Planned against measured: the same quantities side by side, and their ratio."""

from __future__ import annotations

import numpy as np
import pytest

from planner.figures import Figure, FigureRegister
from planner.report.figures import CATALOGUE
from planner.report.figures.comparison import add_planned
from planner.report.figures.writer import Writer

YEAR = "2026-27"


def register(*figures):
    made = FigureRegister("Council", YEAR, "1")
    for figure in figures:
        made.add(figure)
    return made


def figure(name, value, low=None, high=None, unit="t"):
    return Figure(name, f"What {name} is", value, low, high, unit, "")


def measured():
    return register(
        figure("bins_given", 400.0, unit="bins"),
        figure("kept_out_of_landfill_t", 12.0, 9.0, 16.0),
        figure("program_cost", None, unit="GBP"),
    )


def planned():
    return register(
        figure("plan_bins", 500.0, unit="bins"),
        figure(f"plan_kept_out_t_in_year[{YEAR}]", 10.0, 8.0, 12.5),
        figure("plan_cost", 50_000.0, 40_000.0, 60_000.0, "GBP"),
    )


def test_each_planned_figure_stands_beside_the_one_measured():
    report = measured()
    add_planned(Writer(report, None, CATALOGUE), planned())
    assert report["planned[bins_given]"].value == 500.0
    assert report["planned[kept_out_of_landfill_t]"].high == 12.5
    assert report["measured_over_planned[bins_given]"].value == pytest.approx(0.8)
    assert report["measured_over_planned[bins_given]"].low is None


def test_the_ratio_holds_both_intervals_on_the_scale_of_ratios():
    report = measured()
    add_planned(Writer(report, None, CATALOGUE), planned())
    ratio = report["measured_over_planned[kept_out_of_landfill_t]"]
    # by hand: the logs of 12/9 and 12.5/10 down, of 16/12 and 10/8 up, in quadrature
    assert ratio.value == pytest.approx(1.2)
    assert ratio.low == pytest.approx(1.2 * np.exp(-np.hypot(np.log(12 / 9), np.log(1.25))))
    assert ratio.high == pytest.approx(1.2 * np.exp(np.hypot(np.log(16 / 12), np.log(1.25))))


def test_what_is_not_shown_has_a_plan_and_no_ratio_and_without_a_plan_nothing_is_added():
    report = measured()
    add_planned(Writer(report, None, CATALOGUE), planned())
    assert report["planned[program_cost]"].value == 50_000.0
    assert "measured_over_planned[program_cost]" not in report
    plain = measured()
    add_planned(Writer(plain, None, CATALOGUE), None)
    assert len(list(plain)) == len(list(measured()))
