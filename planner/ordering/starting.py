"""A plan to start a large search from: the cheapest over the few lines that a relaxed plan buys."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from planner.ordering.request import Effort
from planner.ordering.searching import run_search

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from planner.ordering.linear_program import PurchaseModel

LARGE = 1_000
"""Columns from which a search is given a start; smaller ones find their plans as fast alone."""

NEAR = Effort(0.002, 60, first_plan_work=0)
WINDOW_STEPS = 250
"""Price steps, of days that follow each other, that are tried at once to better a plan."""

BOUGHT, OFTEN = 1e-6, 0.5
"""Packs that count as bought in a plan of broken packs, and the part of a delivery that does."""


def find_start(model: PurchaseModel) -> NDArray[np.float64] | None:
    """Find a good plan of a large model with little work; None for small ones, or without any.

    The plan of broken packs names the lines that are worth buying, and the deliveries that
    are made anyway, on which more could ride along.

    Parameters
    ----------
    model
        A model that is about to be searched.
    """
    program = model.program
    if sum(map(len, program.cost)) < LARGE:
        return None
    whole = program.is_integer
    program.is_integer = [np.zeros_like(one) for one in whole]
    relaxed = run_search(program, NEAR).values
    program.is_integer = whole
    if relaxed is None:
        return None
    bought = relaxed[model.packs] > BOUGHT
    used = np.where(model.used >= 0, relaxed[model.used], 0.0) > OFTEN
    start = _restricted(model, bought, None)
    wider = _restricted(model, bought | used[model.slot_of_step()], start)
    return None if wider is None else _improved(model, wider)


def _improved(model: PurchaseModel, start: NDArray[np.float64]) -> NDArray[np.float64]:
    """Search again with every line of some weeks, the worms of all other weeks as they are."""
    days = model.delivery_days()
    is_live = np.array([offer.is_live for offer in model.problem.offers], dtype=bool)
    live_step = is_live[model.offer_of_step()]
    order = np.argsort(days, kind="stable")
    for first in range(0, len(order), WINDOW_STEPS // 2):
        near = np.zeros(len(days), dtype=bool)
        near[order[first : first + WINDOW_STEPS]] = True
        bought = start[model.packs] > BOUGHT
        better = _restricted(model, near | bought, start, live_step & bought & ~near)
        start = start if better is None else better
    return start


def _restricted(
    model: PurchaseModel,
    kept: NDArray[np.bool_],
    start: NDArray[np.float64] | None,
    fixed: NDArray[np.bool_] | None = None,
) -> NDArray[np.float64] | None:
    """Search with packs of the kept price steps alone, of the fixed ones as many as before."""
    program, limits = model.program, (model.program.lower, model.program.upper)
    fewest, most = (np.concatenate(limit) for limit in limits)
    most[model.packs[~kept]] = 0.0
    if start is not None and fixed is not None:
        columns = model.packs[fixed]
        fewest[columns] = most[columns] = np.round(start[columns])
    program.lower, program.upper = [fewest], [most]
    found = run_search(program, NEAR, start).values
    program.lower, program.upper = limits
    return start if found is None else found
