"""The purchase problem as a mixed-integer linear program.

Columns: packs of each price step of each line and whether that step is the one paid;
whether a slot has a delivery, and its pallets; kilograms of worms sent in a slot for an
event. A step costs a fixed part and a price a pack, so that all-units and incremental
breaks have one form: for incremental ones the fixed part is what the packs before the break
cost beyond the price after it.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from planner.ordering.rows import Program, RowName
from planner.ordering.working_days import monday_of

if TYPE_CHECKING:
    import datetime as dt
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from planner.ordering.problem import Line, Offer, PurchaseProblem, StoredNeed

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

    def cost_entries(
        self, slots: NDArray[np.bool_]
    ) -> tuple[NDArray[np.int64], NDArray[np.float64]]:
        """Columns and costs of everything that is bought and carried in some slots."""
        of_slot = np.array([line.slot for line in self.problem.lines], dtype=np.int64)
        mine = slots[of_slot[self.steps.line]] if len(of_slot) else np.zeros(0, bool)
        has_choice = mine & (self.chosen >= 0)
        used = slots & (self.used >= 0)
        pallets = slots & (self.pallets >= 0)
        freight = [self.problem.suppliers[slot.supplier_id] for slot in self.problem.slots]
        per_delivery = np.array([one.freight_per_delivery for one in freight])
        per_pallet = np.array([one.freight_per_pallet for one in freight])
        columns = [self.packs[mine], self.chosen[has_choice], self.used[used]]
        costs = [self.steps.price[mine], self.steps.fixed_cost[has_choice], per_delivery[used]]
        columns.append(self.pallets[pallets])
        costs.append(per_pallet[pallets])
        return np.concatenate(columns), np.concatenate(costs)


def build_model(problem: PurchaseProblem) -> PurchaseModel:
    """Write a purchase problem as a program.

    Parameters
    ----------
    problem
        What is to be bought; lines that are locked are written too, with no packs allowed.
    """
    program = Program()
    steps = price_steps(problem, most_packs(problem))
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
    _link_steps(model)
    _bound_slots(model)
    _limit_weeks(model)
    _meet_stored(model)
    _meet_live(model)
    _limit_holding(model)
    _limit_spending(model)
    return model


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
            useful = useful_quantity(stored[offer.item], problem.slots[line.slot].delivery_date)
        else:
            continue
        most[place] = math.ceil(useful / offer.pack_quantity - ROUNDING)
    return most


def useful_quantity(need: StoredNeed, delivery_date: dt.date) -> float:
    """Quantity of an item that is needed after a day, what came before being used first."""
    before = 0.0
    for ready, quantity in zip(need.ready_dates, need.quantities, strict=True):
        if ready >= delivery_date:
            return float(need.quantities[-1] - before)
        before = float(quantity)
    return 0.0


def _reachable_kg(problem: PurchaseProblem) -> NDArray[np.float64]:
    """Sum what could be sent from each slot for the events that it can serve."""
    total = np.zeros(len(problem.slots))
    for need in problem.live:
        np.add.at(total, need.slots, need.sent_kg)
    return total


def price_steps(problem: PurchaseProblem, most: NDArray[np.float64]) -> Steps:
    """Set out the price steps of every line that can be of use.

    A break is left out where buying up to it costs more than what can be of use does; where
    it may still pay, it is bought up to and no further.

    Parameters
    ----------
    problem
        The purchase problem.
    most
        Most useful packs of each line, shape (lines,).
    """
    rows: list[tuple[int, float, float, float, float, bool]] = []
    for place, line in enumerate(problem.lines):
        if most[place] > 0.0:
            offer = problem.offers[line.offer]
            least = problem.suppliers[offer.supplier_id].minimum_order_amount
            alone = math.ceil(least / max(offer.steps[-1].price_per_pack, ROUNDING))
            rows += _steps_of_line(place, offer, max(float(most[place]), float(alone)))
    parts = list(zip(*rows, strict=True)) if rows else [()] * 6
    line, begins, ends, fixed, price, plain = parts
    return Steps(
        np.array(line, dtype=np.int64),
        *(np.array(part, dtype=np.float64) for part in (begins, ends, fixed, price)),
        np.array(plain, dtype=bool),
    )


def _steps_of_line(
    place: int, offer: Offer, useful: float
) -> list[tuple[int, float, float, float, float, bool]]:
    rows: list[tuple[int, float, float, float, float, bool]] = []
    ends = [*(step.from_packs_count - 1.0 for step in offer.steps[1:]), math.inf]
    limit = float(offer.weekly_limit_packs_count or math.inf)
    enough = max(useful, float(offer.minimum_packs_count))
    dearest = offer.goods_cost(int(enough))
    fixed = 0.0
    for number, (step, last) in enumerate(zip(offer.steps, ends, strict=True)):
        if number and offer.is_incremental:
            before = offer.steps[number - 1]
            fixed += (step.from_packs_count - 1) * (before.price_per_pack - step.price_per_pack)
        begins = float(max(step.from_packs_count, offer.minimum_packs_count))
        ends_at = min(last, limit, max(enough, begins))
        pays = begins <= enough or offer.goods_cost(int(begins)) < dearest
        if begins <= ends_at and pays:
            rows.append((place, begins, ends_at, fixed, step.price_per_pack, False))
    is_plain = len(rows) == 1 and rows[0][1] <= 1.0 and rows[0][3] == 0.0
    return [(*rows[0][:5], True)] if is_plain else rows


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


def _link_steps(model: PurchaseModel) -> None:
    """One step a line, within its packs, and only where the slot has a delivery."""
    steps, program, lines = model.steps, model.program, model.problem.lines
    by_line: dict[int, list[int]] = {}
    for place, line in enumerate(steps.line):
        by_line.setdefault(int(line), []).append(place)
        slot = model.used[lines[line].slot]
        if steps.is_plain[place]:
            columns = [model.packs[place], slot]
            program.add_row(RowName("step"), columns, [1.0, -steps.to_packs[place]], upper=0.0)
            continue
        pair = [model.packs[place], model.chosen[place]]
        program.add_row(RowName("step"), pair, [1.0, -steps.to_packs[place]], upper=0.0)
        program.add_row(RowName("step"), pair, [1.0, -steps.from_packs[place]], lower=0.0)
    for line, places in by_line.items():
        slot = model.used[lines[line].slot]
        if not steps.is_plain[places[0]]:
            columns = [*model.chosen[places], slot]
            program.add_row(RowName("step"), columns, [1.0] * len(places) + [-1.0], upper=0.0)


def _bound_slots(model: PurchaseModel) -> None:
    """Least value of an order, and pallets enough for its packs."""
    problem, steps = model.problem, model.steps
    slot_of_step = _slot_of_step(model)
    pallet_share = np.array(
        [1.0 / (problem.offers[problem.lines[line].offer].packs_per_pallet or np.inf)
         for line in steps.line]
    )  # fmt: skip
    for number, slot in enumerate(problem.slots):
        mine = np.flatnonzero(slot_of_step == number)
        if not mine.size:
            continue
        least = problem.suppliers[slot.supplier_id].minimum_order_amount
        choices = mine[model.chosen[mine] >= 0]
        if least > 0.0:
            columns = [*model.packs[mine], *model.chosen[choices], model.used[number]]
            values = [*steps.price[mine], *steps.fixed_cost[choices], -least]
            name = RowName("minimum_order", (number,))
            model.program.add_row(name, columns, values, lower=0.0)
        if model.pallets[number] >= 0:
            columns = [*model.packs[mine], model.pallets[number]]
            values = [*pallet_share[mine], -1.0]
            model.program.add_row(RowName("pallets"), columns, values, upper=0.0)
            if np.all(pallet_share[mine] > 0.0):
                pair = [model.pallets[number], model.used[number]]
                model.program.add_row(RowName("pallets"), pair, [1.0, -1.0], lower=0.0)


def _slot_of_step(model: PurchaseModel) -> NDArray[np.int64]:
    slots = np.array([line.slot for line in model.problem.lines], dtype=np.int64)
    return slots[model.steps.line] if len(slots) else slots


def _limit_weeks(model: PurchaseModel) -> None:
    """Most packs of an offer that its supplier sends in a week."""
    problem = model.problem
    weeks: dict[tuple[int, str], list[int]] = {}
    for place, number in enumerate(model.steps.line):
        line = problem.lines[number]
        if problem.offers[line.offer].weekly_limit_packs_count is not None:
            week = monday_of(problem.slots[line.slot].dispatch_date).isoformat()
            weeks.setdefault((line.offer, week), []).append(place)
    for (offer, week), places in weeks.items():
        limit = problem.offers[offer].weekly_limit_packs_count or 0
        name = RowName("weekly_limit", (offer, week))
        model.program.add_row(name, model.packs[places], 1.0, upper=float(limit))


def _meet_stored(model: PurchaseModel) -> None:
    """Have received by each day what is needed by then."""
    problem = model.problem
    for number, need in enumerate(problem.stored):
        places = [
            place
            for place, line in enumerate(model.steps.line)
            if problem.offers[problem.lines[line].offer].item == need.item
            and not problem.offers[problem.lines[line].offer].is_live
        ]
        days = [problem.slots[problem.lines[model.steps.line[p]].slot].delivery_date
                for p in places]  # fmt: skip
        packs = [problem.offers[problem.lines[model.steps.line[p]].offer].pack_quantity
                 for p in places]  # fmt: skip
        before = 0.0
        for step, (ready, quantity) in enumerate(
            zip(need.ready_dates, need.quantities, strict=True)
        ):
            if quantity <= before:
                continue
            before = quantity
            mine = [n for n, day in enumerate(days) if day <= ready]
            columns = model.packs[[places[n] for n in mine]]
            name = RowName("need", (number, step))
            model.program.add_row(name, columns, [packs[n] for n in mine], lower=float(quantity))


def _meet_live(model: PurchaseModel) -> None:
    """Serve each event with worms, out of what the packs of each slot hold."""
    problem = model.problem
    from_slot: dict[int, list[int]] = {}
    for number, (need, columns) in enumerate(zip(problem.live, model.live, strict=True)):
        if need.needed_kg <= 0.0:
            continue
        served = 1.0 / need.sent_kg
        model.program.add_row(RowName("live_need", (number,)), columns, served, lower=1.0)
        for slot, column in zip(need.slots, columns, strict=True):
            from_slot.setdefault(int(slot), []).append(int(column))
    kilos: dict[int, list[tuple[int, float]]] = {}
    for place, number in enumerate(model.steps.line):
        line: Line = problem.lines[number]
        offer = problem.offers[line.offer]
        if offer.is_live:
            kilos.setdefault(line.slot, []).append((int(model.packs[place]), offer.pack_quantity))
    for slot, columns in from_slot.items():
        bought = kilos.get(slot, [])
        all_columns = [*columns, *(column for column, _ in bought)]
        values = [1.0] * len(columns) + [-kg for _, kg in bought]
        model.program.add_row(RowName("sent"), all_columns, values, upper=0.0)


def _limit_holding(model: PurchaseModel) -> None:
    """Hold no more worms at a time, nor longer, than the council can."""
    problem = model.problem
    held: dict[str, list[int]] = {}
    for number, (need, columns) in enumerate(zip(problem.live, model.live, strict=True)):
        long = np.flatnonzero(need.held_days > problem.holding_days_most)
        for place in long:
            name = RowName("holding_days", (number, int(need.slots[place])))
            model.program.add_row(name, columns[place], 1.0, upper=0.0)
        for slot, column, days in zip(need.slots, columns, need.held_days, strict=True):
            if days > 0:
                day = problem.slots[slot].delivery_date.isoformat()
                held.setdefault(day, []).append(int(column))
    for day in held:
        here = [
            int(column)
            for need, columns in zip(problem.live, model.live, strict=True)
            for slot, column in zip(need.slots, columns, strict=True)
            if problem.slots[slot].delivery_date.isoformat() <= day < need.event_date.isoformat()
        ]
        name = RowName("holding_kg", (day,))
        model.program.add_row(name, here, 1.0, upper=problem.holding_kg_most)


def _limit_spending(model: PurchaseModel) -> None:
    """Keep to the budget of each quarter, and to the largest share of a supplier."""
    problem = model.problem
    quarter = np.array([slot.quarter for slot in problem.slots])
    for number, one in enumerate(problem.quarters):
        columns, costs = model.cost_entries(quarter == number)
        if columns.size:
            model.program.add_row(RowName("budget", (number,)), columns, costs, upper=one.budget)
    share = problem.largest_supplier_share
    if share >= 1.0:
        return
    owner = np.array([slot.supplier_id for slot in problem.slots])
    for supplier in sorted(set(owner)):
        mine, of_mine = model.cost_entries(owner == supplier)
        others, of_others = model.cost_entries(owner != supplier)
        columns = np.concatenate([mine, others])
        costs = np.concatenate([(1.0 - share) * of_mine, -share * of_others])
        model.program.add_row(RowName("share", (supplier,)), columns, costs, upper=0.0)


def locked_columns(model: PurchaseModel) -> Sequence[tuple[int, int, int]]:
    """List the columns that a lock holds at nothing: line, column, and packs without it."""
    found = []
    for place, line in enumerate(model.steps.line):
        if model.problem.lines[line].lock:
            found.append((int(line), int(model.packs[place]), int(model.steps.to_packs[place])))
    return found
