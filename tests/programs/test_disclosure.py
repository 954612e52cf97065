"""Reports of all years of a sample program, read together by somebody who wants to know more.

The reader's side is written again here, from the ids of figures alone: what is not shown
may be anything that all the sums allow. Nothing below asks the planner what it has hidden.
"""

from __future__ import annotations

import json
import re

import numpy as np
import polars as pl
import pytest
from scipy.optimize import linprog

from planner.factors import read_factors
from planner.report.register import register_year
from planner.report.year import count_year, estimate_year
from planner.store.opening import open_store
from tests.programs.conftest import TOWNS, years_of

pytestmark = pytest.mark.thorough

UNBOUNDED = 3
FEW_DRAWS = 100
HIGH_THRESHOLD = 60
"""With it many months, rounds and bands of age are small."""

COUNTED = re.compile(r"(\d[\d,]*) (?:of (\d[\d,]*) )?(?:diary )?(?:answers|households)\b")
OF_HOUSEHOLDS = ("diary_pairs", "diary_weeks", "followup_answers", "prior_shares", "wave_frames")


@pytest.fixture(
    scope="module", params=[*((town, None) for town in TOWNS), (TOWNS[0], HIGH_THRESHOLD)], ids=str
)
def reports(request, sample):
    """Figures of every year, as they stand in figures.json, and the true counts."""
    (town, threshold), registers, truth = request.param, [], {}
    threshold = threshold or sample(town).program.privacy.small_cell_threshold
    for label in years_of(town):
        year = estimated(sample(town), label, threshold)
        register = register_year(year, registers)
        registers.append(register)
        truth |= true_counts(year, label)
    read = [json.loads(register.to_json()) for register in registers]
    return threshold, read, truth


def estimated(one, label, threshold):
    """Estimate a year with few draws: counts do not depend on them."""
    few = one.program.method.model_copy(update={"draws_count": FEW_DRAWS})
    privacy = one.program.privacy.model_copy(update={"small_cell_threshold": threshold})
    program = one.program.model_copy(update={"method": few, "privacy": privacy})
    with open_store(one.folder, read_only=True) as store:
        counts = count_year(store, program, label)
    return estimate_year(program, label, counts, read_factors())


def true_counts(year, label):
    """Count as the store does: bins by month, by area in the year, in all and to date."""
    areas = year.counts.areas
    by_month = year.counts.handovers.group_by("handover_month").agg(pl.col("bins_given").sum())
    return {
        ("year", label): float(areas["bins_given_in_year"].sum()),
        ("to date", label): float(areas["bins_given_to_date"].sum()),
        **{("month", f"{day:%Y-%m}"): float(bins) for day, bins in by_month.iter_rows()},
        **{
            ("area", label, area_id): float(bins)
            for area_id, bins in areas.select("area_id", "bins_given_in_year").iter_rows()
        },
    }


def cell(figure_id, label):
    """Name the count of a figure, if it is one of bins given."""
    name, _, part = figure_id.removesuffix("]").partition("[")
    if name == "bins_given":
        return ("area", label, part) if part else ("year", label)
    if name == "bins_given_to_date":
        return ("to date", label)
    return ("month", part) if name == "bins_given_in_month" else None


def sums_known(reports, start_of):
    """Name the sums that hold between the cells, each as its parts and their whole."""
    cells = {cell(f["id"], r["reporting_year"]) for r in reports for f in r["figures"]} - {None}
    months = sorted(c for c in cells if c[0] == "month")
    labels = sorted(c[1] for c in cells if c[0] == "year")
    sums = []
    for place, label in enumerate(labels):
        start = start_of[label]
        end = start_of[labels[place + 1]] if place + 1 < len(labels) else "9999"
        sums.append(([c for c in cells if c[:2] == ("area", label)], ("year", label)))
        sums.append(([m for m in months if start <= m[1] < end], ("year", label)))
        before = [("to date", labels[place - 1])] if place else []
        sums.append(([*before, ("year", label)], ("to date", label)))
        sums.append(([m for m in months if m[1] < end], ("to date", label)))
    return sorted(cells), sums


def width(cells, sums, shown, target):
    """Room that the reader must leave for a hidden cell."""
    place = {name: n for n, name in enumerate(cells)}
    matrix = np.zeros((len(sums), len(cells)))
    for row, (parts, whole) in enumerate(sums):
        for part in parts:
            matrix[row, place[part]] += 1.0
        matrix[row, place[whole]] -= 1.0
    limits = [(shown[name], shown[name]) if name in shown else (0.0, None) for name in cells]
    ends = []
    for sign in (1.0, -1.0):
        aim = np.zeros(len(cells))
        aim[place[target]] = sign
        answer = linprog(aim, A_eq=matrix, b_eq=np.zeros(len(sums)), bounds=limits)
        assert answer.status in (0, UNBOUNDED), answer.message
        ends.append(np.inf if answer.status == UNBOUNDED else sign * answer.fun)
    return ends[1] - ends[0]


def test_no_hidden_count_is_bounded_more_closely_than_the_threshold(reports, sample):
    threshold, read, truth = reports
    shown = {}
    for report in read:
        for figure in report["figures"]:
            name = cell(figure["id"], report["reporting_year"])
            if name is not None and figure["value"] is not None:
                assert shown.setdefault(name, figure["value"]) == figure["value"]
    start_of = {r["reporting_year"]: _start(r, sample) for r in read}
    cells, sums = sums_known(read, start_of)
    assert all(abs(shown[name] - truth.get(name, 0.0)) < 1e-9 for name in shown)
    hidden = [name for name in cells if name not in shown]
    assert hidden, "the sample programs have small areas"
    small = [name for name in cells if 0 < truth.get(name, 0.0) < threshold]
    assert set(small) <= set(hidden)
    close = [name for name in hidden if width(cells, sums, shown, name) < threshold - 1e-6]
    assert close == []


def test_no_sentence_tells_a_small_count(reports):
    threshold, read, _ = reports
    counted = 0
    for report in read:
        for figure in report["figures"]:
            rows = [i["detail"] for i in figure["inputs"] if i["name"] in OF_HOUSEHOLDS]
            told = COUNTED.findall(figure["method"])
            numbers = [*(n for pair in told for n in pair if n), *(r.split()[0] for r in rows if r)]
            values = [int(n.replace(",", "")) for n in numbers if n != "fewer"]
            counted += len(values)
            assert all(value == 0 or value >= threshold for value in values), figure
            if "households asked" in figure["method"]:
                answered, asked = values[:2]
                assert asked == answered or asked - answered >= threshold
    assert counted


def test_a_round_that_is_not_shown_is_not_told_by_the_sum_of_all(reports):
    _, read, _ = reports
    for report in read:
        figures = {figure["id"]: figure for figure in report["figures"]}
        rounds = [f["value"] for name, f in figures.items() if name.startswith("response_share")]
        tells = all(value is not None for value in rounds)
        method = figures["retention_12_months"]["method"]
        assert bool(re.search(r"[\d,]+ answers", method)) == tells
        rows = [
            i["detail"]
            for figure in figures.values()
            for i in figure["inputs"]
            if i["name"] in OF_HOUSEHOLDS
        ]
        assert tells or not any(rows)


def _start(report, sample):
    for town in TOWNS:
        program = sample(town).program
        if program.council.name == report["council"]:
            return f"{program.months(report['reporting_year'])[0]:%Y-%m}"
    raise AssertionError(report["council"])
