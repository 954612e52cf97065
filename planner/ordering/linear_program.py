"""A linear program put together block by block, and where the columns of a purchase are in it."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np
from scipy import sparse

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    from planner.ordering.price_steps import Steps
    from planner.ordering.problem import PurchaseProblem


@dataclass(frozen=True)
class RowName:
    """What a row says: its family, and the places in the problem that it is about."""

    family: str
    key: tuple[int | str, ...] = ()


@dataclass
class Program:
    """Columns with costs and limits, and rows between bounds.

    Attributes
    ----------
    cost, lower, upper
        Of each column.
    is_integer
        Whether a column is whole.
    """

    cost: list[NDArray[np.float64]] = field(default_factory=list)
    lower: list[NDArray[np.float64]] = field(default_factory=list)
    upper: list[NDArray[np.float64]] = field(default_factory=list)
    is_integer: list[NDArray[np.int8]] = field(default_factory=list)
    names: list[RowName] = field(default_factory=list)
    _columns_count: int = 0
    _places: list[tuple[NDArray[np.int64], NDArray[np.int64], NDArray[np.float64]]] = field(
        default_factory=list
    )
    _bounds: list[tuple[float, float]] = field(default_factory=list)

    def add_columns(
        self,
        count: int,
        cost: ArrayLike = 0.0,
        lower: ArrayLike = 0.0,
        upper: ArrayLike = np.inf,
        *,
        whole: bool = False,
    ) -> NDArray[np.int64]:
        """Add columns and return their places."""
        for kept, given in ((self.cost, cost), (self.lower, lower), (self.upper, upper)):
            kept.append(np.broadcast_to(np.asarray(given, dtype=np.float64), count).copy())
        self.is_integer.append(np.full(count, int(whole), dtype=np.int8))
        first = self._columns_count
        self._columns_count += count
        return np.arange(first, self._columns_count)

    def add_row(
        self,
        name: RowName,
        columns: ArrayLike,
        values: ArrayLike,
        lower: float = -np.inf,
        upper: float = np.inf,
    ) -> int:
        """Add one row and return its place."""
        places = np.atleast_1d(np.asarray(columns, dtype=np.int64))
        weights = np.broadcast_to(np.asarray(values, dtype=np.float64), places.shape)
        row = len(self._bounds)
        self._places.append((np.full(places.shape, row), places, weights))
        self._bounds.append((lower, upper))
        self.names.append(name)
        return row

    def add_to_row(self, row: int, column: int, value: float) -> None:
        """Add a column to a row that is there already."""
        self._places.append((np.array([row]), np.array([column]), np.array([value])))

    def bounds(self) -> NDArray[np.float64]:
        """Lower and upper bound of every row, shape (rows, 2)."""
        return np.array(self._bounds, dtype=np.float64).reshape(-1, 2)

    def matrix(self) -> sparse.csr_array:
        """Rows by columns."""
        rows, columns, values = (
            np.concatenate([np.asarray(place[part]) for place in self._places] or [np.zeros(0)])
            for part in range(3)
        )
        shape = (len(self._bounds), self._columns_count)
        return sparse.csr_array(
            (values, (rows.astype(np.int64), columns.astype(np.int64))), shape=shape
        )


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
    waste
        Columns of what is spent with each supplier for nothing; none unless asked for.
    received
        For each item that keeps, columns of what has come by each day of need.
    """

    problem: PurchaseProblem
    program: Program
    steps: Steps
    packs: NDArray[np.int64]
    chosen: NDArray[np.int64]
    used: NDArray[np.int64]
    pallets: NDArray[np.int64]
    live: tuple[NDArray[np.int64], ...]
    waste: NDArray[np.int64]
    received: list[NDArray[np.int64]] = field(default_factory=list)

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

    def counted_days(self) -> NDArray[np.datetime64]:
        """Day from which the goods of each step are counted on."""
        days = np.array([slot.counted_date for slot in self.problem.slots], dtype="datetime64[D]")
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
