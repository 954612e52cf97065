"""A second, plainly written statement of the purchase problem, solved directly over all days.

Nothing of the planner's own model is used but the description of the problem: every line of
every day has its packs, step by step; HiGHS searches it as it stands. `faults` checks a plan
by hand and adds its cost up again.
"""

from __future__ import annotations

import math
import time

import highspy
import numpy as np
from highspy._core import _Highs
from scipy import sparse


class Rows:
    """Columns and rows of a program, written down one at a time."""

    def __init__(self):
        self.cost, self.upper, self.whole, self.rows = [], [], [], []

    def column(self, cost=0.0, upper=np.inf, *, whole=False):
        self.cost.append(cost)
        self.upper.append(upper)
        self.whole.append(whole)
        return len(self.cost) - 1

    def row(self, terms, low=-np.inf, high=np.inf):
        self.rows.append((terms, low, high))

    def solve(self, gap=0.0, work=60.0):
        """Least cost and what is proven of it within seconds of work; infinite without a plan."""
        cells = [(r, c, v) for r, (terms, _, _) in enumerate(self.rows) for c, v in terms]
        if not cells:
            return 0.0, 0.0
        rows, columns, values = zip(*cells, strict=True)
        shape = (len(self.rows), len(self.cost))
        matrix = sparse.csc_array((values, (rows, columns)), shape=shape)
        model = highspy.HighsLp()
        model.num_row_, model.num_col_ = shape
        model.col_cost_, model.col_lower_ = np.array(self.cost), np.zeros(len(self.cost))
        model.col_upper_ = np.array(self.upper)
        model.row_lower_ = np.array([row[1] for row in self.rows], dtype=float)
        model.row_upper_ = np.array([row[2] for row in self.rows], dtype=float)
        model.a_matrix_.format_ = highspy.MatrixFormat.kColwise
        model.a_matrix_.start_, model.a_matrix_.index_ = matrix.indptr, matrix.indices
        model.a_matrix_.value_ = matrix.data
        kinds = (highspy.HighsVarType.kContinuous, highspy.HighsVarType.kInteger)
        model.integrality_ = [kinds[one] for one in self.whole]
        solver = _Highs()
        for name, value in {"output_flag": False, "threads": 1, "mip_rel_gap": gap}.items():
            solver.setOptionValue(name, value)
        solver.passModel(model)
        _end_after(solver, work)
        solver.run()
        info, status = solver.getInfo(), solver.getModelStatus()
        if status == highspy.HighsModelStatus.kInfeasible:
            return math.inf, math.inf
        if info.primal_solution_status != highspy.SolutionStatus.kSolutionStatusFeasible:
            return math.inf, max(0.0, info.mip_dual_bound)
        return info.objective_function_value, info.mip_dual_bound


def _end_after(solver, work):
    """End a search after seconds of the processor, whatever else runs beside it."""
    kinds = highspy.cb.HighsCallbackType
    end = time.process_time() + work

    def look(kind, message, found, asked, given):
        asked.user_interrupt = time.process_time() > end

    solver.setCallback(look, None)
    for kind in (kinds.kCallbackMipInterrupt, kinds.kCallbackSimplexInterrupt):
        solver.startCallback(kind)


def least_cost(given, gap=0.0, work=60.0):
    """Least landed cost of a purchase problem over all its days, and the bound."""
    rows = Rows()
    lines = [n for n, line in enumerate(given.lines) if not line.lock]
    packs, price = {}, {}
    for n in lines:
        offer = given.offers[given.lines[n].offer]
        packs[n], price[n] = _line(rows, offer, _most(given, n), given, n)
    slots = sorted({given.lines[n].slot for n in lines})
    freight = {s: _delivery(rows, given, s, lines, packs, price) for s in slots}
    _needs(rows, given, lines, packs)
    _live(rows, given, lines, packs)
    _weeks(rows, given, lines, packs)
    _room(rows, given, lines, packs)
    spent = {s: [t for n in lines if given.lines[n].slot == s for t in price[n]] + freight[s]
             for s in slots}  # fmt: skip
    for number, quarter in enumerate(given.quarters):
        mine = [term for s in slots if given.slots[s].quarter == number for term in spent[s]]
        if mine:
            rows.row(mine, high=quarter.budget)
    share = given.largest_supplier_share
    if share < 1.0:
        owner = {s: given.slots[s].supplier_id for s in slots}
        for code in set(owner.values()):
            terms = [(c, v * ((owner[s] == code) - share)) for s in slots for c, v in spent[s]]
            before = given.commitments.spent
            room = share * sum(before.values()) - before.get(code, 0.0)
            rows.row(terms, high=max(0.0, room) + given.suppliers[code].beyond_share_amount)
    return rows.solve(gap, work)


def _most(given, n):
    """Packs beyond which a line is of no use: need to come, least packs, a least order.

    Nothing that nobody needs is bought; beyond this a line goes up to a price break alone.
    """
    line = given.lines[n]
    offer, slot = given.offers[line.offer], given.slots[line.slot]
    if offer.is_live:
        useful = sum(
            float(kilos) for need in given.live
            for source, kilos, days in zip(need.slots, need.sent_kg, need.held_days, strict=True)
            if source == line.slot and days <= given.holding_days_most
        )  # fmt: skip
    else:
        need = next(one for one in given.stored if one.item == offer.item)
        before = max((q for d, q in zip(need.ready_dates, need.quantities, strict=True)
                      if d < slot.counted_date), default=0.0)  # fmt: skip
        useful = max(0.0, float(need.quantities[-1]) - before)
    if useful <= 0.0:
        return 0
    cheapest = min(step.price_per_pack for step in offer.steps)
    least = given.suppliers[offer.supplier_id].minimum_order_amount
    counts = [math.ceil(useful / offer.pack_quantity - 1e-9), offer.minimum_packs_count]
    return max([*counts, math.ceil(least / cheapest)])


def _line(rows, offer, most, given, n):
    """Columns of packs, one a price; their cost. One price is paid; none without a delivery."""
    packs, paid, chosen = [], [], []
    ends = [step.from_packs_count - 1 for step in offer.steps[1:]] + [math.inf]
    for place, (step, end) in enumerate(zip(offer.steps, ends, strict=True)):
        begin = max(step.from_packs_count, offer.minimum_packs_count)
        end = min(end, max(begin, most)) if most else 0
        if end < begin:
            continue
        fixed = _paid_before(offer, place) if offer.is_incremental else 0.0
        count = rows.column(step.price_per_pack, end, whole=True)
        is_it = rows.column(fixed, 1.0, whole=True)
        rows.row([(count, 1.0), (is_it, -begin)], low=0.0)
        rows.row([(count, 1.0), (is_it, -end)], high=0.0)
        packs.append((count, 1.0))
        paid += [(count, step.price_per_pack), (is_it, fixed)]
        chosen.append((is_it, 1.0))
    if chosen:
        rows.row(chosen, high=1.0)
    return packs, paid


def _paid_before(offer, place):
    """Cost of the packs below a break beyond what they would cost at its price."""
    return sum(
        (offer.steps[i + 1].from_packs_count - 1)
        * (offer.steps[i].price_per_pack - offer.steps[i + 1].price_per_pack)
        for i in range(place)
    )


def _delivery(rows, given, s, lines, packs, price):
    terms = given.suppliers[given.slots[s].supplier_id]
    barred = terms.supplier_id in given.barred_suppliers
    used = rows.column(terms.freight_per_delivery, 0.0 if barred else 1.0, whole=True)
    pallets = rows.column(terms.freight_per_pallet, whole=True)
    mine = [n for n in lines if given.lines[n].slot == s]
    for n in mine:
        for count, _ in packs[n]:
            rows.row([(count, 1.0), (used, -rows.upper[count])], high=0.0)
    rows.row([(used, 1.0)] + [(c, -1.0) for n in mine for c, _ in packs[n]], high=0.0)
    goods = [term for n in mine for term in price[n]]
    rows.row([*goods, (used, -_least_order(given, s))], low=0.0)
    loads = [(c, 1.0 / given.offers[given.lines[n].offer].packs_per_pallet)
             for n in mine if given.offers[given.lines[n].offer].packs_per_pallet
             for c, _ in packs[n]]  # fmt: skip
    rows.row([*loads, (pallets, -1.0)], low=1e-4 - 1.0, high=0.0)
    return [(used, terms.freight_per_delivery), (pallets, terms.freight_per_pallet)]


def _least_order(given, s):
    slot = given.slots[s]
    return given.suppliers[slot.supplier_id].minimum_order_amount - slot.below_least_amount


def _needs(rows, given, lines, packs):
    for need in given.stored:
        for ready, quantity in zip(need.ready_dates, need.quantities, strict=True):
            came = [
                (c, given.offers[given.lines[n].offer].pack_quantity)
                for n in lines
                if given.offers[given.lines[n].offer].item == need.item
                and given.slots[given.lines[n].slot].counted_date <= ready
                for c, _ in packs[n]
            ]
            if quantity > 0.0:
                rows.row(came or [(rows.column(upper=0.0), 1.0)], low=float(quantity))


def _live(rows, given, lines, packs):
    sent, held = {}, []
    for need in given.live:
        if need.needed_kg <= 0.0:
            continue
        share = []
        for s, kilos, days in zip(need.slots, need.sent_kg, need.held_days, strict=True):
            column = rows.column(upper=0.0 if days > given.holding_days_most else np.inf)
            share.append((column, 1.0 / kilos))
            sent.setdefault(int(s), []).append(column)
            held.append((given.slots[s].delivery_date, need.event_date, column))
        rows.row(share or [(rows.column(upper=0.0), 1.0)], low=1.0)
    for s, columns in sent.items():
        there = [
            (c, -given.offers[given.lines[n].offer].pack_quantity)
            for n in lines
            if given.lines[n].slot == s and given.offers[given.lines[n].offer].is_live
            for c, _ in packs[n]
        ]
        rows.row([(c, 1.0) for c in columns] + there, high=0.0)
    ordered = {came for came, _, _ in given.commitments.held_kg}
    for day in {came for came, _, _ in held} | ordered:
        here = [(c, 1.0) for came, goes, c in held if came <= day < goes]
        if here:
            rows.row(here, high=max(0.0, given.holding_kg_most - _held_already(given, day)))


def _weeks(rows, given, lines, packs):
    weeks = {}
    for n in lines:
        line = given.lines[n]
        if given.offers[line.offer].weekly_limit_packs_count is not None:
            sent = given.slots[line.slot].dispatch_date
            weeks.setdefault((line.offer, sent.isocalendar()[:2]), []).extend(packs[n])
    ordered = _ordered_by_week(given)
    for key, terms in weeks.items():
        if terms:
            limit = given.offers[key[0]].weekly_limit_packs_count - ordered.get(key, 0)
            rows.row(terms, high=max(0, limit))


def _ordered_by_week(given):
    weekly = given.commitments.weekly_packs
    return {(o, monday.isocalendar()[:2]): n for (o, monday), n in weekly.items()}


def _held_already(given, day):
    return sum(kg for came, goes, kg in given.commitments.held_kg if came <= day < goes)


def _room(rows, given, lines, packs):
    if given.store is None:
        return
    for day in {slot.delivery_date for slot in given.slots} | {*given.store.coming_dates}:
        came = [
            (c, given.offers[given.lines[n].offer].pack_quantity)
            for n in lines
            if given.offers[given.lines[n].offer].item_kind == "bins"
            and given.slots[given.lines[n].slot].delivery_date <= day
            for c, _ in packs[n]
        ]
        if came:
            rows.row(came, high=max(0.0, given.store.room_on(day)))


def faults(given, solution):
    """Sentences on every limit that a plan misses, its packs counted by hand; none is right."""
    packs = {}
    for one in solution.purchases:
        line = solution.problem.lines[one.line]
        packs[line.offer, line.slot] = packs.get((line.offer, line.slot), 0) + one.packs_count
    may_buy = {(line.offer, line.slot) for line in given.lines if not line.lock}
    found = [f"{key} may not be bought" for key in packs if key not in may_buy]
    spent = {s: _spent(given, packs, s) for s in {s for _, s in packs}}
    cost = sum(spent.values())
    if abs(cost - solution.cost) > 1e-6 * max(1.0, cost):
        found.append(f"costs {cost}, not {solution.cost}")
    found += [
        f"slot {s}: least order" for s in spent
        if _goods(given, packs, s) + 1e-6 < _least_order(given, s)
    ]  # fmt: skip
    for number, quarter in enumerate(given.quarters):
        paid = sum(v for s, v in spent.items() if given.slots[s].quarter == number)
        found += [f"quarter {number}: {paid}"] if paid > quarter.budget + 1e-4 else []
    for code in given.suppliers:
        paid = sum(v for s, v in spent.items() if given.slots[s].supplier_id == code)
        before = given.commitments.spent
        room = given.largest_supplier_share * sum(before.values()) - before.get(code, 0.0)
        room = max(0.0, room) + given.suppliers[code].beyond_share_amount
        if paid > given.largest_supplier_share * cost + room + 1e-4:
            found.append(f"share of {code}: {paid} of {cost}")
    return (
        found
        + _need_faults(given, packs)
        + _limit_faults(given, packs)
        + _live_faults(given, packs, solution.sent_kg)
    )


def _goods(given, packs, s):
    return sum(_invoice(given.offers[o], n) for (o, slot), n in packs.items() if slot == s)


def _invoice(offer, packs):
    """Cost of packs as an invoice lists them: pack by pack, or all at the price reached."""
    reached = max(s.from_packs_count for s in offer.steps if s.from_packs_count <= packs)
    if not offer.is_incremental:
        return packs * next(s.price_per_pack for s in offer.steps if s.from_packs_count == reached)
    prices = {s.from_packs_count: s.price_per_pack for s in offer.steps}
    return sum(prices[max(b for b in prices if b <= n)] for n in range(1, packs + 1))


def _spent(given, packs, s):
    terms = given.suppliers[given.slots[s].supplier_id]
    loads = sum(n / given.offers[o].packs_per_pallet for (o, slot), n in packs.items()
                if slot == s and given.offers[o].packs_per_pallet)  # fmt: skip
    freight = terms.freight_per_delivery + math.ceil(loads - 1e-9) * terms.freight_per_pallet
    return _goods(given, packs, s) + freight


def _need_faults(given, packs):
    found = []
    for need in given.stored:
        for ready, quantity in zip(need.ready_dates, need.quantities, strict=True):
            came = sum(
                n * given.offers[o].pack_quantity
                for (o, s), n in packs.items()
                if given.offers[o].item == need.item and given.slots[s].counted_date <= ready
            )
            if came < quantity - 1e-6:
                found.append(f"{need.item} by {ready}: {came} of {quantity}")
    return found


def _limit_faults(given, packs):
    found, weeks = [], {}
    for (o, s), n in packs.items():
        offer, sent = given.offers[o], given.slots[s].dispatch_date
        if n < offer.minimum_packs_count:
            found.append(f"{offer.offer_id}: {n} packs")
        weeks[o, sent.isocalendar()[:2]] = weeks.get((o, sent.isocalendar()[:2]), 0) + n
    ordered = _ordered_by_week(given)
    for (o, week), n in weeks.items():
        limit = given.offers[o].weekly_limit_packs_count or math.inf
        if n > max(0, limit - ordered.get((o, week), 0)):
            found.append(f"{given.offers[o].offer_id} in week {week}: {n}")
    for day in {slot.delivery_date for slot in given.slots} if given.store else ():
        came = [(o, n) for (o, s), n in packs.items() if given.slots[s].delivery_date <= day]
        bins = sum(n * given.offers[o].pack_quantity for o, n in came
                   if given.offers[o].item_kind == "bins")  # fmt: skip
        if bins > given.store.room_on(day) + 1e-6:
            found.append(f"store on {day}: {bins}")
    return found


def _live_faults(given, packs, sent_kg):
    found = []
    for number, need in enumerate(given.live):
        asked = {int(s): kg for s, kg in zip(need.slots, need.sent_kg, strict=True)}
        held = {int(s): d for s, d in zip(need.slots, need.held_days, strict=True)}
        mine = {s: kg for (n, s), kg in sent_kg.items() if n == number}
        if need.needed_kg > 0.0 and sum(kg / asked[s] for s, kg in mine.items()) < 1.0 - 1e-5:
            found.append(f"{need.event_id}: {mine} of {asked}")
        found += [f"{need.event_id}: held {held[s]} days" for s in mine
                  if held[s] > given.holding_days_most]  # fmt: skip
    for s in {s for _, s in sent_kg}:
        came = sum(n * given.offers[o].pack_quantity for (o, slot), n in packs.items()
                   if slot == s and given.offers[o].is_live)  # fmt: skip
        if sum(kg for (_, slot), kg in sent_kg.items() if slot == s) > came + 1e-4:
            found.append(f"slot {s}: more worms sent than bought")
        day = given.slots[s].delivery_date
        there = sum(
            kg
            for (n, slot), kg in sent_kg.items()
            if given.slots[slot].delivery_date <= day < given.live[n].event_date
        )
        if there > given.holding_kg_most - _held_already(given, day) + 1e-4:
            found.append(f"holding on {day}: {there}")
    return found
