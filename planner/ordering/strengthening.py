"""Rows and columns that only help a search: what parts must cost at least, and how many there are.

Worms do not keep, so most hand-overs are served apart from each other, with the goods that
ride along; and goods that keep are needed item by item. Each such part is a small problem
with whole packs that is solved at once. What the rest of the order gives for a part's
deliveries, pallets and packs is told by the prices of a plan of broken packs; at those prices
the least cost of the part is a bound that the search of the whole would need long to find for
all parts together. Where many days serve alike, what matters is how many deliveries, pallets
and orders at a price there are: counting them in columns of their own lets the search decide
on the count at once.

References
----------
Dantzig & Wolfe (1960), Operations Research 8(1), 101-111: bounds from parts at given prices;
Geoffrion (1974), Mathematical Programming Study 2, 82-114: no price gives a bound above the
cost of a true plan. Both from memory.
"""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING

import numpy as np

from planner.ordering.linear_program import RowName
from planner.ordering.request import Effort
from planner.ordering.searching import Relaxation, least_cost_of_part, side_by_side

if TYPE_CHECKING:
    from collections.abc import Callable

    import scipy
    from numpy.typing import NDArray

    from planner.ordering.linear_program import PurchaseModel
    from planner.ordering.problem import PurchaseProblem

PART = Effort(1e-4, 200)
"""Effort for a part; where its nodes run out, what is proven by then still holds."""

ROUNDS, RISE = 6, 4e-4
"""Most rounds of prices, and the share by which the bound must rise for another one."""

MANY_COLUMNS = 3_000
"""Columns from which items are not priced: a search of theirs takes seconds and tells little."""

RIDDEN = 0.02
"""Part of a delivery in the plan of broken packs from which its goods count with its worms."""

WORTH = 1e-5
"""Share of the whole cost by which a part's bound must be missed to be worth a row."""

ROUNDING = 1e-7
"""Share by which a bound is lowered, so that no plan is lost to the last bits."""


def strengthen(model: PurchaseModel) -> float:
    """Add everything that helps the search and changes no plan; give the cost of broken packs.

    A row of a part says: its columns, at prices that make the rest of the order count, cost no
    less than the part alone would. It holds for every plan, whatever the prices are; the prices
    only make it a tight one.
    """
    least = _add_cuts(model, delivery_columns)
    # later prices know what the parts before cost at least: items must not pay for it again
    if sum(map(len, model.program.cost)) < MANY_COLUMNS:
        least = _add_cuts(model, item_columns)
    _count_alike(model)
    return least


def _add_cuts(
    model: PurchaseModel,
    columns_of: Callable[[PurchaseModel, NDArray[np.float64]], dict[int, NDArray[np.int64]]],
) -> float:
    """Price parts again and again, those alone that the last prices moved."""
    program, matrix, relaxation = model.program, model.program.matrix(), Relaxation(model.program)
    moved: set[int] | None = None
    whole_cost = 0.0
    for _ in range(ROUNDS):
        relaxed = relaxation.solve() if moved is None or moved else None
        if relaxed is None:
            break
        before = whole_cost
        values, prices, whole_cost = relaxed
        if whole_cost - before < RISE * whole_cost:
            break
        waiting, moved = moved, set()
        sought = {
            key: partial(_priced_part, model, matrix, columns, prices)
            for key, columns in columns_of(model, values).items()
            if waiting is None or key in waiting
        }
        for key, (columns, own, least) in zip(sought, side_by_side(sought.values()), strict=True):
            if least - float(own @ values[columns]) > WORTH * whole_cost:
                # the relaxation is priced again with the row in it, and knows what it costs now
                used = np.flatnonzero(own)
                relaxation.add_row(columns[used], own[used], least)
                program.add_row(RowName("part"), columns[used], own[used], lower=least)
                moved.add(key)
    return whole_cost


def _priced_part(
    model: PurchaseModel,
    matrix: scipy.sparse.csr_array,
    columns: NDArray[np.int64],
    prices: NDArray[np.float64],
) -> tuple[NDArray[np.int64], NDArray[np.float64], float]:
    """Price some columns by what they do for rows shared with others; give what they cost least."""
    mine = matrix[:, columns]
    touched = np.flatnonzero(np.diff(mine.indptr))
    mine = mine[touched]
    # rows that columns outside can raise or lower: they are shared with the rest of the order
    rises, falls = (_cells(matrix[touched], sign) > _cells(mine, sign) for sign in (1.0, -1.0))
    shared = rises | falls
    # the price of a shared row pays for what a column does for it, or charges what it takes
    paid = mine[shared].T @ prices[touched[shared]]
    cost: NDArray[np.float64] = np.concatenate(model.program.cost)[columns] - paid
    cost[np.abs(cost) < ROUNDING] = 0.0
    bounds = model.program.bounds()[touched]
    # the columns left out are never negative: where all of them would only raise a row
    # its upper bound still holds without them, and so the other way round
    bounds[rises, 0], bounds[falls, 1] = -np.inf, np.inf
    kept = np.isfinite(bounds).any(axis=1)
    least = least_cost_of_part(model.program, PART, (mine[kept], bounds[kept]), columns, cost)
    return columns, cost, least - ROUNDING * abs(least) if np.isfinite(least) else -np.inf


def _cells(matrix: scipy.sparse.csr_array, sign: float) -> NDArray[np.int64]:
    return np.asarray((matrix * sign > 0.0).sum(axis=1)).ravel()


def delivery_columns(
    model: PurchaseModel, values: NDArray[np.float64]
) -> dict[int, NDArray[np.int64]]:
    """Columns of deliveries that can stand in for each other, by the first of their slots.

    Those of worms for hand-overs that share a day of delivery go together, every other
    delivery by itself. Goods are those of the deliveries in the plan of broken packs: what
    rides along with worms fills pallets that are begun, in whole packs and at its price. The
    values are those of the columns in that plan.
    """
    live_step, slot_of_step = model.live_steps(), model.slot_of_step()
    hot = np.flatnonzero(np.where(model.used >= 0, values[model.used], 0.0) > RIDDEN)
    found, alone = {}, set(hot.tolist())
    for events in parts(model.problem):
        slots = np.unique(np.concatenate([model.problem.live[number].slots for number in events]))
        alone -= set(slots.tolist())
        ridden = np.isin(slot_of_step, np.intersect1d(slots, hot))
        places = np.flatnonzero((live_step & np.isin(slot_of_step, slots)) | ridden)
        if slots.size:
            sent = [model.live[number] for number in events]
            found[int(slots[0])] = _columns(model, places, slots, sent)
    for slot in sorted(alone):
        places = np.flatnonzero(slot_of_step == slot)
        found[slot] = _columns(model, places, np.array([slot]), [])
    return found


def item_columns(model: PurchaseModel, values: NDArray[np.float64]) -> dict[int, NDArray[np.int64]]:
    """Columns of each item that keeps, with the deliveries and pallets of its days."""
    del values  # the same whatever the prices are
    offers, slot_of_step = model.problem.offers, model.slot_of_step()
    found = {}
    for number, (need, received) in enumerate(
        zip(model.problem.stored, model.received, strict=True)
    ):
        mine = np.array([one.item == need.item and not one.is_live for one in offers])
        places = np.flatnonzero(mine[model.offer_of_step()])
        if places.size:
            found[number] = _columns(model, places, np.unique(slot_of_step[places]), [received])
    return found


def _columns(
    model: PurchaseModel,
    places: NDArray[np.int64],
    slots: NDArray[np.int64],
    others: list[NDArray[np.int64]],
) -> NDArray[np.int64]:
    of_slots = [model.used[slots], model.pallets[slots]]
    columns = np.concatenate([model.packs[places], model.chosen[places], *of_slots, *others])
    return np.unique(columns[columns >= 0])


def _count_alike(model: PurchaseModel) -> None:
    """Count deliveries and pallets by supplier, and orders of an offer by price, in columns."""
    problem = model.problem
    owner = np.array([slot.supplier_id for slot in problem.slots], dtype=object)
    for code in problem.suppliers:
        _count(model, model.used[owner == code])
        _count(model, model.pallets[owner == code])
    offer = model.offer_of_step()
    for number, one in enumerate(problem.offers):
        if one.is_live:
            continue
        mine = offer == number
        _count(model, model.chosen[mine])
        for step in one.steps:
            _count(model, model.chosen[mine & (model.steps.price == step.price_per_pack)])


def _count(model: PurchaseModel, columns: NDArray[np.int64]) -> None:
    """Add a whole column that is the sum of others; -1 stands for none."""
    there = columns[columns >= 0]
    if len(there) > 1:
        total = model.program.add_columns(1, whole=True)
        values = [*np.ones(len(there)), -1.0]
        model.program.add_row(RowName("count"), [*there, *total], values, 0.0, 0.0)


def parts(problem: PurchaseProblem) -> list[tuple[int, ...]]:
    """Divide the live needs into parts that share no slot."""
    owner: dict[int, int] = {}
    members: dict[int, list[int]] = {}
    shared = [set(need.slots.tolist()) for need in problem.live]
    for number, need in enumerate(problem.live):
        if need.needed_kg <= 0.0:
            continue
        touched = sorted({owner[one] for one in shared[number] if one in owner})
        joined = [number, *(event for key in touched for event in members.pop(key))]
        members[number] = joined
        for event in joined:
            owner.update(dict.fromkeys(shared[event], number))
    return [tuple(sorted(events)) for events in members.values()]
