"""How long sizing takes: planned tonnes by draw, month and group, and a large allocation.

Run ``python -m tests.benchmarks.sizing_speed``. The bounds are those that the planner sets
itself on two cores: 10,000 draws × 60 months × 200 groups in 10 s; an allocation of 200 areas
× 3 dwellings × 4 models × 4 rounds to 0.1% in 20 s. Beside the first, the plain loop over
draws that a reader would write, for a tenth of the draws.
"""

from __future__ import annotations

import datetime as dt
import os
import time
from dataclasses import replace

import numpy as np

from planner.diversion.cohorts import months_between
from planner.diversion.feed_share import FACTOR_IDS
from planner.diversion.planned import one_bin, planned_capacity
from planner.factors import read_factors
from planner.factors.draws import draw_factors
from planner.paths import TEMPLATES
from planner.program import read_program
from planner.sizing.allocation import (
    MOST_TONNES,
    Choices,
    Problem,
    allocate,
    allocate_split,
    limit_on,
    rows_by,
    share_floor,
    total_row,
)
from planner.sizing.clash import find_clash
from tests.unit.diversion.planned_feed import planned_fed_kg
from tests.unit.survey.alone import weibull_curve

DRAWS, GROUPS, DWELLINGS, CHUNK = 10_000, 200, 3, 1_000
AREAS, MODELS, ROUNDS = 200, 4, 4
GAP = 1e-3


def main():
    print(f"{os.cpu_count()} cores, load {os.getloadavg()[0]:.1f}")
    planned_tonnes()
    large_allocation()


def planned_tonnes():
    program, table = read_program(TEMPLATES / "program.toml"), read_factors()
    rng = np.random.default_rng(1)
    months = months_between(dt.date(2026, 7, 1), dt.date(2031, 7, 1))
    handovers = [months[n] for n in (1, 4, 7, 10)]
    began = time.perf_counter(), time.process_time()
    worms = draw_factors([*map(table.of_new_bin, FACTOR_IDS)], DRAWS, 1)
    bins = rng.integers(0, 60, (GROUPS, len(handovers))).astype(float)
    feed = rng.lognormal(0.0, 0.3, (1 + DRAWS, GROUPS))
    share = rng.uniform(0.2, 0.5, (1 + DRAWS, GROUPS))
    by_month = np.zeros((1 + DRAWS, len(months)))
    by_group = np.zeros((1 + DRAWS, GROUPS))
    for code in range(DWELLINGS):
        own = np.arange(code, GROUPS, DWELLINGS)
        curve = weibull_curve(rng.lognormal(4.0, 0.2, 1 + DRAWS), rng.uniform(0.4, 0.9, 1 + DRAWS))
        capacity = planned_capacity(
            program.bin_models[0],
            program.climate.monthly_mean_temperature_c,
            feed[:, own].mean(axis=1),
            worms,
        )
        one = one_bin(months, handovers, curve, capacity, 120.0)
        for start in range(0, 1 + DRAWS, CHUNK):
            rows = slice(start, start + CHUNK)
            kept = planned_fed_kg(
                bins[own], one.full_feed_weeks[rows], feed[rows][:, own] * share[rows][:, own]
            )
            by_month[rows] += kept.sum(axis=1)
            by_group[rows][:, own] = kept.sum(axis=2)
    assert by_month.sum() > 0.0
    report("10,000 draws x 60 months x 200 groups", began, 10.0)
    began = time.perf_counter(), time.process_time()
    loop_over_draws(bins, one.full_feed_weeks, feed, DRAWS // 10)
    report("the same by a loop over draws and groups, a tenth of the draws", began, None)


def loop_over_draws(bins, weeks, feed, draws):
    """Sum the way it is written down: a loop over draws and groups."""
    total = np.zeros((draws, weeks.shape[1]))
    for draw in range(draws):
        for group in range(bins.shape[0]):
            total[draw] += feed[draw, group] * (weeks[draw] @ bins[group])
    return total


def large_problem():
    """Draw 200 areas x 3 dwellings x 4 models x 4 rounds, with every kind of limit."""
    rng = np.random.default_rng(7)
    groups = AREAS * DWELLINGS
    shape = (groups, MODELS, ROUNDS)
    group, model, round_ = (index.ravel() for index in np.indices(shape))
    area, dwelling = group // DWELLINGS, group % DWELLINGS
    feed = rng.uniform(0.05, 0.25, groups)[group]
    tonnes = feed * rng.uniform(0.95, 1.0, MODELS)[model] * (1.0 - 0.03 * round_)
    price = np.array([41.0, 52.5, 58.0, 67.25])[model] + 27.3
    choices = Choices(group, model, round_, tonnes, tonnes / 5, tonnes * 0.7, price, shape)
    wanted = rng.integers(2, 60, groups).astype(float)
    ones = np.ones(group.size)
    limits = [
        replace(
            limit_on(
                f"demand[{n}]",
                "",
                rows_by(np.where(round_ <= n, group, -1), ones, groups),
                high=np.floor(wanted * (n + 1) / ROUNDS),
            ),
            can_be_relaxed=False,
        )
        for n in range(ROUNDS)
    ]
    limits += [
        limit_on(f"places[{n}]", "", total_row((round_ == n) * 1.0), high=2200.0)
        for n in range(ROUNDS)
    ]
    limits += [
        limit_on(f"stock[{n}]", "", total_row((model == n) * 1.0), high=1500.0 + 700.0 * n)
        for n in range(MODELS)
    ]
    limits += [
        limit_on("budget", "", total_row(price), high=420_000.0),
        limit_on("areas", "", rows_by(area, ones, AREAS), high=70.0),
        limit_on("flats", "", total_row((dwelling == 2) * 1.0), low=900.0),
        share_floor("priority", "", area < 40, 0.25, 5000.0),
    ]
    most = wanted[group]
    return Problem(choices, most, tuple(limits))


def large_allocation():
    problem = large_problem()
    began = time.perf_counter(), time.process_time()
    found = allocate(problem, MOST_TONNES, GAP)
    report(f"allocation of {problem.choices.count:,} variables to {GAP:.1%}", began, 20.0)
    bound = allocate_split(problem, MOST_TONNES).tonnes
    print(
        f"  {found.bins_count:,} bins, {found.tonnes:,.1f} t; split bins bring {bound:,.1f} t, "
        f"{bound / found.tonnes - 1.0:.3%} more"
    )
    assert bound / found.tonnes - 1.0 <= GAP
    (flats,) = (one for one in problem.limits if one.name == "flats")
    impossible = problem.with_limits(limit_on("flats", "", flats.rows, low=1e6))
    began = time.perf_counter(), time.process_time()
    clash = find_clash(impossible)
    report(f"clash of {len(clash.limits)} limits named", began, None)


def report(what, began, bound):
    """Print how long it took, by the clock and by the processor."""
    clock, own = time.perf_counter() - began[0], time.process_time() - began[1]
    limit = "" if bound is None else f" (bound {bound:g} s)"
    print(f"{what}: {clock:.1f} s by the clock, {own:.1f} s of processor{limit}")


if __name__ == "__main__":
    main()
