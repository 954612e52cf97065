"""A linear program put together block by block, and where the columns of a purchase are in it.

A price step of a line costs a fixed part and a price a pack, so that all-units and
incremental breaks have one form: for incremental ones the fixed part is what the packs before
the break cost beyond the price after it.
"""

from __future__ import annotations

import math
from copy import copy
from dataclasses import dataclass, field, fields
from typing import TYPE_CHECKING

import numpy as np
import scipy

from planner.ordering.working_days import monday_of

if TYPE_CHECKING:
    import datetime as dt

    from numpy.typing import ArrayLike, NDArray

    from planner.ordering.problem import Offer, PurchaseProblem, StoredNeed


@dataclass(frozen=True)
class RowName:
    """What a row says: its family, and the places in the problem that it is about."""

    family: str
    key: tuple[int | str, ...] = ()


@dataclass
class Program:
    """Columns with costs and limits, and rows between bounds."""

    # of each column
    cost: list[NDArray[np.float64]] = field(default_factory=list)
    lower: list[NDArray[np.float64]] = field(default_factory=list)
    upper: list[NDArray[np.float64]] = field(default_factory=list)
    is_integer: list[NDArray[np.int8]] = field(default_factory=list)  # whether a column is whole
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

    def copied(self) -> Program:
        """Copy it, so that columns and rows added to either are not in the other."""
        return Program(*(copy(getattr(self, one.name)) for one in fields(self)))

    def bounds(self) -> NDArray[np.float64]:
        """Lower and upper bound of every row, shape (rows, 2)."""
        return np.array(self._bounds, dtype=np.float64).reshape(-1, 2)

    def matrix(self) -> scipy.sparse.csr_array:
        """Rows by columns."""
        rows, columns, values = (
            np.concatenate([np.asarray(place[part]) for place in self._places] or [np.zeros(0)])
            for part in range(3)
        )
        shape = (len(self._bounds), self._columns_count)
        return scipy.sparse.csr_array(
            (values, (rows.astype(np.int64), columns.astype(np.int64))), shape=shape
        )


@dataclass(frozen=True)
class PurchaseModel:
    """The program, and where its columns are."""

    problem: PurchaseProblem
    program: Program
    steps: Steps
    # columns of each step; `chosen` is -1 for a plain one
    packs: NDArray[np.int64]
    chosen: NDArray[np.int64]
    # columns of each slot; -1 where a slot has none
    used: NDArray[np.int64]
    pallets: NDArray[np.int64]
    # for each live need, the columns of what is sent for it from each of its slots
    live: tuple[NDArray[np.int64], ...]
    # columns of what is spent with each supplier for nothing; none unless asked for
    waste: NDArray[np.int64]
    # for each item that keeps, columns of what has come by each day of need
    received: list[NDArray[np.int64]] = field(default_factory=list)

    def offer_of_step(self) -> NDArray[np.int64]:
        """Place of the offer of each step."""
        offers = np.array([line.offer for line in self.problem.lines], dtype=np.int64)
        return offers[self.steps.line]

    def live_steps(self) -> NDArray[np.bool_]:
        """Whether each step is one of worms."""
        return np.array([one.is_live for one in self.problem.offers])[self.offer_of_step()]

    def pack_of_step(self) -> NDArray[np.float64]:
        """Bins or kg in a pack of each step."""
        return np.array([one.pack_quantity for one in self.problem.offers])[self.offer_of_step()]

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


ROUNDING = 1e-9


@dataclass(frozen=True)
class Steps:
    """Price steps of lines, one a place: its line, packs from and to, fixed cost and price.

    A plain one is the only step of its line, with no fixed cost, from one pack on.
    """

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
    live_kg = np.zeros(len(problem.slots))
    for need in problem.live:
        np.add.at(live_kg, need.slots, need.sent_kg)
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


def price_steps(problem: PurchaseProblem, *, keeps_weekly_limits: bool, keeps_dear: bool) -> Steps:
    """Set out the price steps of every line that can be of use.

    A break is left out where buying up to it costs more than what can be of use does; where
    it may still pay, it is bought up to and no further.

    Parameters
    ----------
    keeps_weekly_limits
        Let no line go beyond the weekly limit of its offer.
    keeps_dear
        Keep breaks that cost more too: spending more with one supplier leaves others more room
        below their largest share.
    """
    rows: list[_Row] = []
    most = most_packs(problem)
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
            keeps_dear=keeps_dear,
        )
    places, from_packs, to_packs, fixed_cost, price = np.array(rows).reshape(-1, 5).T
    owner = places.astype(np.int64)
    is_alone = np.bincount(owner)[owner] == 1
    is_plain = is_alone & (from_packs <= 1.0) & (fixed_cost == 0.0)
    return Steps(owner, from_packs, to_packs, fixed_cost, price, is_plain)


_Row = tuple[int, float, float, float, float]
"""A step as `Steps` has it, but for whether it is plain."""


def _alone_count(problem: PurchaseProblem, offer: Offer) -> float:
    """Packs with which an offer alone reaches its supplier's least order."""
    least = problem.suppliers[offer.supplier_id].minimum_order_amount
    price = min(step.price_per_pack for step in offer.steps)
    return float(math.ceil(least / price)) if price > 0.0 else 0.0


def _steps_of_line(
    place: int, offer: Offer, useful: float, limit: float, *, keeps_dear: bool
) -> list[_Row]:
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
        pays = keeps_dear or begins <= enough or offer.goods_cost(int(begins)) < dearest
        if begins <= ends_at and pays:
            rows.append((place, begins, ends_at, fixed, step.price_per_pack))
    return rows
