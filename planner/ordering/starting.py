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

NEAR = Effort(0.002, 60)
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
    return start if wider is None else wider


def _restricted(
    model: PurchaseModel, kept: NDArray[np.bool_], start: NDArray[np.float64] | None
) -> NDArray[np.float64] | None:
    """Search with packs of the kept price steps alone."""
    program, limits = model.program, model.program.upper
    fewer = np.concatenate(limits)
    fewer[model.packs[~kept]] = 0.0
    program.upper = [fewer]
    found = run_search(program, NEAR, start).values
    program.upper = limits
    return found
