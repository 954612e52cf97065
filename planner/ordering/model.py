"""The purchase problem as a mixed-integer linear program.

Columns: packs of each price step of each line and whether that step is the one paid;
whether a slot has a delivery, and its pallets; kilograms of worms sent in a slot for an
event.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from planner.ordering.linear_program import Program, PurchaseModel, RowName, price_steps
from planner.ordering.working_days import monday_of

if TYPE_CHECKING:
    import datetime as dt
    from collections.abc import Mapping

    from numpy.typing import NDArray

    from planner.ordering.problem import PurchaseProblem


def build_model(
    problem: PurchaseProblem, *, keeps_weekly_limits: bool = True, may_waste: bool = False
) -> PurchaseModel:
    """Write a purchase problem as a program; locked lines too, with no packs allowed.

    Parameters
    ----------
    keeps_weekly_limits
        False leaves room beyond the weekly limits, whose rows still stand, to study what
        letting them go would do.
    may_waste
        Add for each supplier what a delivery split in two would cost for nothing, where the
        share of a supplier is limited: with it, plans of days that were left out as
        dominated count too, and what is proven holds for them.
    """
    program = Program()
    limits_share = problem.largest_supplier_share < 1.0
    steps = price_steps(
        problem,
        keeps_weekly_limits=keeps_weekly_limits,
        keeps_dear=limits_share and not may_waste,
    )
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
    suppliers = {problem.slots[line.slot].supplier_id for line in problem.lines}
    waste = program.add_columns(len(suppliers) if limits_share and may_waste else 0, 1.0)
    model = PurchaseModel(problem, program, steps, packs, chosen, used, pallets, live, waste)
    link_price_steps(model)
    bound_slots(model)
    limit_weeks(model)
    limit_store(model)
    add_stored_demand(model)
    add_worm_demand(model)
    limit_holding(model)
    limit_spending(model)
    return model


def _slot_columns(
    problem: PurchaseProblem, program: Program
) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Add the columns of every slot for which something can be bought; -1 for the others."""
    slots = sorted({line.slot for line in problem.lines})
    freight = {n: problem.suppliers[problem.slots[n].supplier_id] for n in slots}
    barred = [problem.slots[n].supplier_id in problem.barred_suppliers for n in slots]
    used, pallets = (np.full(len(problem.slots), -1) for _ in range(2))
    used[slots] = program.add_columns(
        len(slots),
        [freight[n].freight_per_delivery for n in slots],
        0.0,
        np.where(barred, 0.0, 1.0),
        whole=True,
    )
    by_pallet = [n for n in slots if freight[n].freight_per_pallet > 0.0]
    pallets[by_pallet] = program.add_columns(
        len(by_pallet), [freight[n].freight_per_pallet for n in by_pallet], whole=True
    )
    return used, pallets


PART_OF_PALLET = 1e-4
"""Least part of a pallet that counts as one begun."""


def link_price_steps(model: PurchaseModel) -> None:
    """One step a line, within its packs, and only where the slot has a delivery."""
    steps, program, lines = model.steps, model.program, model.problem.lines
    by_line: dict[int, list[int]] = {}
    for place, line in enumerate(steps.line):
        by_line.setdefault(int(line), []).append(place)
        limit = model.used[lines[line].slot] if steps.is_plain[place] else model.chosen[place]
        pair = [model.packs[place], limit]
        program.add_row(RowName("step"), pair, [1.0, -steps.to_packs[place]], upper=0.0)
        if not steps.is_plain[place]:
            program.add_row(RowName("step"), pair, [1.0, -steps.from_packs[place]], lower=0.0)
    for line, places in by_line.items():
        if not steps.is_plain[places[0]]:
            columns = [*model.chosen[places], model.used[lines[line].slot]]
            program.add_row(RowName("step"), columns, [1.0] * len(places) + [-1.0], upper=0.0)


def bound_slots(model: PurchaseModel) -> None:
    """Least value of an order, and pallets enough for its packs."""
    problem = model.problem
    slot_of_step = model.slot_of_step()
    for number in range(len(problem.slots)):
        if model.used[number] < 0:
            continue
        mine = np.flatnonzero(slot_of_step == number)
        # a delivery carries something: none is paid for to change a supplier's share
        columns = [model.used[number], *model.packs[mine]]
        model.program.add_row(RowName("used"), columns, [1.0, *-np.ones(len(mine))], upper=0.0)
        if model.pallets[number] >= 0:
            _take_pallets(model, number, mine)
        least = problem.least_order(number)
        if least > 0.0:
            choices = mine[model.chosen[mine] >= 0]
            columns = [*model.packs[mine], *model.chosen[choices], model.used[number]]
            values = [*model.steps.price[mine], *model.steps.fixed_cost[choices], -least]
            name = RowName("minimum_order", (number,))
            model.program.add_row(name, columns, values, lower=0.0)


def _take_pallets(model: PurchaseModel, slot: int, places: NDArray[np.int64]) -> None:
    problem = model.problem
    per_pallet = [
        problem.offers[problem.lines[model.steps.line[place]].offer].packs_per_pallet
        for place in places
    ]
    share = np.array([1.0 / count if count else 0.0 for count in per_pallet])
    columns = [*model.packs[places], model.pallets[slot]]
    empty = PART_OF_PALLET - 1.0
    model.program.add_row(RowName("pallets"), columns, [*share, -1.0], empty, 0.0)
    if share.size and np.all(share > 0.0):
        # implied by whole pallets; it lets the search bound the freight of small deliveries
        pair = [model.pallets[slot], model.used[slot]]
        model.program.add_row(RowName("pallets"), pair, [1.0, -1.0], lower=0.0)


def limit_weeks(model: PurchaseModel) -> None:
    """Most packs of an offer that its supplier sends in a week."""
    problem = model.problem
    weeks: dict[tuple[int, dt.date], list[int]] = {}
    for place, number in enumerate(model.steps.line):
        line = problem.lines[number]
        if problem.offers[line.offer].weekly_limit_packs_count is not None:
            week = monday_of(problem.slots[line.slot].dispatch_date)
            weeks.setdefault((line.offer, week), []).append(place)
    for (offer, week), places in weeks.items():
        limit = problem.offers[offer].weekly_limit_packs_count or 0
        left = problem.commitments.packs_left(limit, offer, week)
        name = RowName("weekly_limit", (offer, week.isoformat()))
        model.program.add_row(name, model.packs[places], 1.0, upper=float(left))


def limit_store(model: PurchaseModel) -> None:
    """Have no more bins in store than there is room for, on any day of delivery."""
    problem = model.problem
    if problem.store is None:
        return
    is_bin = np.array([offer.item_kind == "bins" for offer in problem.offers])
    mine = np.flatnonzero(is_bin[model.offer_of_step()])
    pack = model.pack_of_step()[mine]
    delivered = model.delivery_days()[mine]
    coming = np.array(problem.store.coming_dates, dtype="datetime64[D]")
    for day in np.union1d(delivered, coming):
        until = delivered <= day
        if not until.any():
            continue
        room = max(0.0, problem.store.room_on(day.astype(object)))
        name = RowName("store", (str(day),))
        model.program.add_row(name, model.packs[mine[until]], pack[until], upper=room)


def add_stored_demand(model: PurchaseModel) -> None:
    """Have received by each day what is needed by then.

    What has come by a day has a column: that of the day before and what came in between.
    """
    offers, program = model.problem.offers, model.program
    offer = model.offer_of_step()
    pack, counted = model.pack_of_step(), model.counted_days()
    for number, need in enumerate(model.problem.stored):
        serves = np.array([one.item == need.item and not one.is_live for one in offers])[offer]
        before, received = 0.0, np.zeros(0, dtype=np.int64)
        for step, (ready, quantity) in enumerate(
            zip(need.ready_dates, need.quantities, strict=True)
        ):
            if quantity <= before:
                continue
            before = float(quantity)
            mine = np.flatnonzero(serves & (counted <= np.datetime64(ready)))
            serves[mine] = False
            last, received = received[-1:], np.append(received, program.add_columns(1))
            columns = [*model.packs[mine], *last, received[-1]]
            came = [*pack[mine], *np.ones(len(last)), -1.0]
            program.add_row(RowName("received"), columns, came, 0.0, 0.0)
            program.add_row(RowName("need", (number, step)), received[-1], 1.0, lower=before)
        model.received.append(received)


def add_worm_demand(model: PurchaseModel) -> None:
    """Serve each event with worms, out of what the packs of each slot hold."""
    program = model.program
    sent_from: dict[int, list[int]] = {}
    for number, (need, columns) in enumerate(zip(model.problem.live, model.live, strict=True)):
        if need.needed_kg <= 0.0:
            continue
        program.add_row(RowName("live_need", (number,)), columns, 1.0 / need.sent_kg, lower=1.0)
        for slot, column, kilos in zip(need.slots, columns, need.sent_kg, strict=True):
            sent_from.setdefault(int(slot), []).append(int(column))
            # implied by the packs of the slot; it lets the search bound small deliveries
            pair = [column, model.used[slot]]
            program.add_row(RowName("sent"), pair, [1.0, -kilos], upper=0.0)
    is_live, pack, slot_of_step = model.live_steps(), model.pack_of_step(), model.slot_of_step()
    for slot, sent in sent_from.items():
        mine = np.flatnonzero(is_live & (slot_of_step == slot))
        all_columns = [*sent, *model.packs[mine]]
        program.add_row(
            RowName("sent"), all_columns, [*np.ones(len(sent)), *-pack[mine]], upper=0.0
        )


def limit_holding(model: PurchaseModel) -> None:
    """Hold no more worms at a time, nor longer, than the council can."""
    problem = model.problem
    columns, comes, leaves = [], [], []
    for number, (need, mine) in enumerate(zip(problem.live, model.live, strict=True)):
        for slot, column, days in zip(need.slots, mine, need.held_days, strict=True):
            if days > problem.holding_days_most:
                name = RowName("holding_days", (number, int(slot)))
                model.program.add_row(name, column, 1.0, upper=0.0)
            columns.append(int(column))
            comes.append(np.datetime64(problem.slots[slot].delivery_date))
            leaves.append(np.datetime64(need.event_date))
    first, last = (np.array(days, dtype="datetime64[D]") for days in (comes, leaves))
    committed = [came for came, _, _ in problem.commitments.held_kg]
    for day in np.union1d(first, np.array(committed, dtype="datetime64[D]")):
        here = np.flatnonzero((first <= day) & (day < last))
        if not here.size:
            continue
        left = problem.holding_kg_most - problem.commitments.held_on(day.astype(object))
        name = RowName("holding_kg", (str(day),))
        held = np.array(columns)[here]
        model.program.add_row(name, held, 1.0, upper=max(0.0, left))


def limit_spending(model: PurchaseModel) -> None:
    """Keep to the budget of each quarter, and to the largest share of a supplier.

    What is spent with a supplier in a quarter has a column of its own, so that a purchase
    stands in one row and not in that of every supplier's share.
    """
    problem = model.problem
    if not problem.quarters and problem.largest_supplier_share >= 1.0:
        return
    used = [slot for number, slot in enumerate(problem.slots) if model.used[number] >= 0]
    spent = {key: _spent(model, *key) for key in sorted({(s.supplier_id, s.quarter) for s in used})}
    for number, one in enumerate(problem.quarters):
        columns = [column for (_, quarter), column in spent.items() if quarter == number]
        if columns:
            model.program.add_row(RowName("budget", (number,)), columns, 1.0, upper=one.budget)
    if problem.largest_supplier_share < 1.0:
        _limit_shares(model, spent)


def _spent(model: PurchaseModel, supplier: str, quarter: int) -> int:
    """Add what is spent with a supplier in a quarter as a column."""
    mine = np.array(
        [(s.supplier_id, s.quarter) == (supplier, quarter) for s in model.problem.slots]
    )
    columns, costs = model.cost_entries(mine)
    total = model.program.add_columns(1)
    model.program.add_row(RowName("spent"), [*columns, *total], [*costs, -1.0], 0.0, 0.0)
    return int(total[0])


def _limit_shares(model: PurchaseModel, spent: Mapping[tuple[str, int], int]) -> None:
    share, before = model.problem.largest_supplier_share, model.problem.commitments.spent
    owners = np.array([supplier for supplier, _ in spent])
    columns = np.array([*spent.values(), *model.waste])
    for place, supplier in enumerate(np.unique(owners)):
        wasted = np.arange(len(model.waste)) == place
        weights = np.concatenate([owners == supplier, wasted]).astype(np.float64) - share
        room = share * sum(before.values()) - before.get(supplier, 0.0)
        # where earlier orders are beyond the share, the new ones alone must keep to it
        room = max(0.0, room) + model.problem.suppliers[supplier].beyond_share_amount
        name = RowName("share", (str(supplier),))
        model.program.add_row(name, columns, weights, upper=room)
