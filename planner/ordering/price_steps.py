"""Price steps of lines: packs from and to, and what they cost.

A step costs a fixed part and a price a pack, so that all-units and incremental breaks have
one form: for incremental ones the fixed part is what the packs before the break cost beyond
the price after it.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from planner.ordering.working_days import monday_of

if TYPE_CHECKING:
    import datetime as dt

    from numpy.typing import NDArray

    from planner.ordering.problem import Offer, PurchaseProblem, StoredNeed

ROUNDING = 1e-9


@dataclass(frozen=True)
class Steps:
    """Price steps of lines, one a place: its line, packs from and to, fixed cost and price."""

    line: NDArray[np.int64]
    from_packs: NDArray[np.float64]
    to_packs: NDArray[np.float64]
    fixed_cost: NDArray[np.float64]
    price: NDArray[np.float64]
    is_plain: NDArray[np.bool_]


def most_packs(problem: PurchaseProblem) -> NDArray[np.float64]:
    """Most packs of each line that can be of use: what is needed after it comes."""
    most = np.zeros(len(problem.lines))
    stored = {need.item: need for need in problem.stored}
    live_kg = _reachable_kg(problem)
    for place, line in enumerate(problem.lines):
        offer = problem.offers[line.offer]
        if offer.is_live:
            useful = live_kg[line.slot]
        elif offer.item in stored:
            useful = useful_quantity(stored[offer.item], problem.slots[line.slot].counted_date)
        else:
            continue
        most[place] = math.ceil(useful / offer.pack_quantity - ROUNDING)
    return most


def useful_quantity(need: StoredNeed, counted_date: dt.date) -> float:
    """Quantity of an item that is needed after a day, what came before being used first."""
    before = 0.0
    for ready, quantity in zip(need.ready_dates, need.quantities, strict=True):
        if ready >= counted_date:
            return float(need.quantities[-1] - before)
        before = float(quantity)
    return 0.0


def _reachable_kg(problem: PurchaseProblem) -> NDArray[np.float64]:
    """Sum what could be sent from each slot for the events that it can serve."""
    total = np.zeros(len(problem.slots))
    for need in problem.live:
        np.add.at(total, need.slots, need.sent_kg)
    return total


def price_steps(
    problem: PurchaseProblem, most: NDArray[np.float64], *, keeps_weekly_limits: bool
) -> Steps:
    """Set out the price steps of every line that can be of use.

    A break is left out where buying up to it costs more than what can be of use does; where
    it may still pay, it is bought up to and no further.

    Parameters
    ----------
    problem
        The purchase problem.
    most
        Most useful packs of each line, shape (lines,).
    keeps_weekly_limits
        Let no line go beyond the weekly limit of its offer.
    """
    rows: list[_Row] = []
    for place, line in enumerate(problem.lines):
        if most[place] <= 0.0:
            continue
        offer = problem.offers[line.offer]
        limit = offer.weekly_limit_packs_count
        week = monday_of(problem.slots[line.slot].dispatch_date)
        left = problem.commitments.packs_left(limit, line.offer, week) if limit else math.inf
        rows += _steps_of_line(
            place,
            offer,
            max(float(most[place]), _alone_count(problem, offer)),
            float(left) if keeps_weekly_limits else math.inf,
        )
    return Steps(
        np.array([row.line for row in rows], dtype=np.int64),
        np.array([row.from_packs for row in rows]),
        np.array([row.to_packs for row in rows]),
        np.array([row.fixed_cost for row in rows]),
        np.array([row.price for row in rows]),
        np.array([row.is_plain for row in rows], dtype=bool),
    )


@dataclass(frozen=True)
class _Row:
    line: int
    from_packs: float
    to_packs: float
    fixed_cost: float
    price: float
    is_plain: bool = False


def _alone_count(problem: PurchaseProblem, offer: Offer) -> float:
    """Packs with which an offer alone reaches its supplier's least order."""
    least = problem.suppliers[offer.supplier_id].minimum_order_amount
    price = offer.steps[-1].price_per_pack
    return float(math.ceil(least / price)) if price > 0.0 else 0.0


def _steps_of_line(place: int, offer: Offer, useful: float, limit: float) -> list[_Row]:
    rows: list[_Row] = []
    ends = [*(step.from_packs_count - 1.0 for step in offer.steps[1:]), math.inf]
    enough = max(useful, float(offer.minimum_packs_count))
    dearest = offer.goods_cost(int(enough))
    fixed, before = 0.0, offer.steps[0]
    for step, last in zip(offer.steps, ends, strict=True):
        if offer.is_incremental:
            saved_per_pack = before.price_per_pack - step.price_per_pack
            fixed += (step.from_packs_count - 1) * saved_per_pack
        before = step
        begins = float(max(step.from_packs_count, offer.minimum_packs_count))
        ends_at = min(last, limit, max(enough, begins))
        pays = begins <= enough or offer.goods_cost(int(begins)) < dearest
        if begins <= ends_at and pays:
            rows.append(_Row(place, begins, ends_at, fixed, step.price_per_pack))
    if len(rows) == 1 and rows[0].from_packs <= 1.0 and rows[0].fixed_cost == 0.0:
        return [replace(rows[0], is_plain=True)]
    return rows
