"""Columns of the purchase program, and where they are."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from planner.ordering.price_steps import Steps
    from planner.ordering.problem import PurchaseProblem
    from planner.ordering.rows import Program


@dataclass(frozen=True)
class PurchaseModel:
    """The program, and where its columns are.

    Attributes
    ----------
    packs, chosen
        Columns of each step; `chosen` is -1 for a plain line of one price from one pack.
    used, pallets
        Columns of each slot; -1 where a slot has none.
    live
        For each live need, the columns of what is sent for it from each of its slots.
    """

    problem: PurchaseProblem
    program: Program
    steps: Steps
    packs: NDArray[np.int64]
    chosen: NDArray[np.int64]
    used: NDArray[np.int64]
    pallets: NDArray[np.int64]
    live: tuple[NDArray[np.int64], ...]

    def offer_of_step(self) -> NDArray[np.int64]:
        """Place of the offer of each step."""
        offers = np.array([line.offer for line in self.problem.lines], dtype=np.int64)
        return offers[self.steps.line]

    def slot_of_step(self) -> NDArray[np.int64]:
        """Place of the slot of each step."""
        slots = np.array([line.slot for line in self.problem.lines], dtype=np.int64)
        return slots[self.steps.line]

    def delivery_days(self) -> NDArray[np.datetime64]:
        """Day of delivery of each step."""
        days = np.array([slot.delivery_date for slot in self.problem.slots], dtype="datetime64[D]")
        return days[self.slot_of_step()]

    def cost_entries(
        self, slots: NDArray[np.bool_]
    ) -> tuple[NDArray[np.int64], NDArray[np.float64]]:
        """Columns and costs of everything that is bought and carried in some slots."""
        mine = slots[self.slot_of_step()]
        has_choice = mine & (self.chosen >= 0)
        used = slots & (self.used >= 0)
        pallets = slots & (self.pallets >= 0)
        freight = [self.problem.suppliers[slot.supplier_id] for slot in self.problem.slots]
        per_delivery = np.array([one.freight_per_delivery for one in freight])
        per_pallet = np.array([one.freight_per_pallet for one in freight])
        columns = [
            self.packs[mine],
            self.chosen[has_choice],
            self.used[used],
            self.pallets[pallets],
        ]
        costs = [
            self.steps.price[mine],
            self.steps.fixed_cost[has_choice],
            per_delivery[used],
            per_pallet[pallets],
        ]
        return np.concatenate(columns), np.concatenate(costs)
