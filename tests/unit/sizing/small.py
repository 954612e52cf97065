"""Small allocations whose best plan can be found by trying every one."""

from __future__ import annotations

import itertools
from dataclasses import replace

import numpy as np

from planner.sizing.allocation import (
    LEAST_COST,
    MOST_NET_EMISSIONS,
    Choices,
    Problem,
    limit_on,
    rows_by,
    share_floor,
    total_row,
)


def small_problem(seed, *, groups=2, models=2, rounds=1, most=3):
    """Draw a problem with every kind of limit; some have no plan."""
    rng = np.random.default_rng(seed)
    shape = (groups, models, rounds)
    group, model, round_ = (index.ravel() for index in np.indices(shape))
    count = group.size
    tonnes = rng.uniform(0.05, 0.4, count).round(3)
    choices = Choices(
        group,
        model,
        round_,
        tonnes,
        tonnes / 4,
        (tonnes * rng.uniform(0.2, 1.0, count) - 0.03).round(3),
        rng.integers(20, 80, count).astype(float),
        shape,
    )
    ones = np.ones(count)
    demand = rows_by(group, ones, groups)
    limits = (
        replace(
            limit_on(
                "demand", "demand", demand, high=rng.integers(1, most + 1, groups).astype(float)
            ),
            can_be_relaxed=False,
        ),
        limit_on(
            "budget",
            "the budget is small",
            total_row(choices.cost),
            high=90.0,
            step=1.0,
            unit="unit",
        ),
        limit_on(
            "stock", "stock", total_row((model == 0) * 1.0), high=float(rng.integers(0, most + 1))
        ),
        limit_on("floor", "floor", total_row((group == 1) * 1.0), low=float(rng.integers(0, 2))),
        share_floor("share", "a third to the first", group == 0, 0.3, 5.0),
    )
    return Problem(choices, np.full(count, float(most)), limits)


def every_plan(problem):
    """All plans of whole bins that keep the limits, shape (plans, variables)."""
    ranges = [range(int(most) + 1) for most in problem.most]
    plans = np.array(list(itertools.product(*ranges)), dtype=float)
    keeps = np.ones(len(plans), dtype=bool)
    for limit in problem.limits:
        value = plans @ limit.rows.T.toarray()
        keeps &= ((value >= limit.low - 1e-9) & (value <= limit.high + 1e-9)).all(axis=1)
    return plans[keeps]


def worth_of(problem, plans, objective):
    """Say what each plan brings to an objective; more is better."""
    choices = problem.choices
    if objective == LEAST_COST:
        return -(plans @ choices.cost)
    return plans @ (choices.net_t_co2e if objective == MOST_NET_EMISSIONS else choices.tonnes)
