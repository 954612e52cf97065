"""The purchase problem as a mixed-integer linear program.

Columns: packs of each price step of each line and whether that step is the one paid;
whether a slot has a delivery, and its pallets; kilograms of worms sent in a slot for an
event. A step costs a fixed part and a price a pack, so that all-units and incremental
breaks have one form: for incremental ones the fixed part is what the packs before the break
cost beyond the price after it.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from planner.ordering.columns import PurchaseModel
from planner.ordering.limits import (
    bound_slots,
    limit_holding,
    limit_spending,
    limit_store,
    limit_weeks,
    link_steps,
    meet_live,
    meet_stored,
    order_once_a_quarter,
)
from planner.ordering.price_steps import most_packs, price_steps
from planner.ordering.rows import Program

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from planner.ordering.problem import PurchaseProblem


def build_model(problem: PurchaseProblem, *, keeps_weekly_limits: bool = True) -> PurchaseModel:
    """Write a purchase problem as a program.

    Parameters
    ----------
    problem
        What is to be bought; lines that are locked are written too, with no packs allowed.
    keeps_weekly_limits
        False leaves room beyond the weekly limits, whose rows still stand, to study what
        letting them go would do.
    """
    program = Program()
    steps = price_steps(problem, most_packs(problem), keeps_weekly_limits=keeps_weekly_limits)
    locked = np.array([bool(problem.lines[line].lock) for line in steps.line], dtype=bool)
    packs = program.add_columns(
        len(steps.line), steps.price, 0.0, np.where(locked, 0.0, steps.to_packs), whole=True
    )
    chosen = np.full(len(steps.line), -1)
    choice = np.flatnonzero(~steps.is_plain)
    chosen[choice] = program.add_columns(
        len(choice), steps.fixed_cost[choice], 0.0, np.where(locked[choice], 0.0, 1.0), whole=True
    )
    used, pallets = _slot_columns(problem, program)
    live = tuple(program.add_columns(len(need.slots)) for need in problem.live)
    model = PurchaseModel(problem, program, steps, packs, chosen, used, pallets, live)
    link_steps(model)
    bound_slots(model)
    limit_weeks(model)
    limit_store(model)
    order_once_a_quarter(model)
    meet_stored(model)
    meet_live(model)
    limit_holding(model)
    limit_spending(model)
    return model


def _slot_columns(
    problem: PurchaseProblem, program: Program
) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    freight = [problem.suppliers[slot.supplier_id] for slot in problem.slots]
    barred = [slot.supplier_id in problem.barred_suppliers for slot in problem.slots]
    used = program.add_columns(
        len(problem.slots),
        [one.freight_per_delivery for one in freight],
        0.0,
        np.where(barred, 0.0, 1.0),
        whole=True,
    )
    by_pallet = [n for n, one in enumerate(freight) if one.freight_per_pallet > 0.0]
    pallets = np.full(len(problem.slots), -1)
    pallets[by_pallet] = program.add_columns(
        len(by_pallet), [freight[n].freight_per_pallet for n in by_pallet], whole=True
    )
    return used, pallets
