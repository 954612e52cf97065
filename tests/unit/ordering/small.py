"""Small purchase problems, and the cheapest plan of one found by trying every plan."""

from __future__ import annotations

import datetime as dt
import itertools
import math

import numpy as np

from planner.ordering.problem import (
    Line,
    LiveNeed,
    Offer,
    PriceStep,
    PurchaseProblem,
    Slot,
    StoredNeed,
    Supplier,
)

MONDAY = dt.date(2026, 3, 2)


def day(number):
    return MONDAY + dt.timedelta(days=number)


def offer(offer_id, supplier, prices, item="bin", **terms):
    """Offer with `prices` as pairs of packs and price; one bin a pack unless said."""
    kind = terms.pop("kind", "bins")
    return Offer(
        offer_id,
        supplier,
        kind,
        item,
        item,
        terms.pop("pack", 1.0),
        terms.pop("pallet", None),
        terms.pop("least", 1),
        terms.pop("weekly", None),
        terms.pop("incremental", False),
        tuple(PriceStep(begins, price) for begins, price in prices),
        **terms,
    )


def problem(suppliers, offers, slots, stored=(), live=(), **limits):
    """Purchase problem in which every offer can be had in every slot of its supplier."""
    lines = tuple(
        Line(o, s, slot.dispatch_date)
        for s, slot in enumerate(slots)
        for o, one in enumerate(offers)
        if one.supplier_id == slot.supplier_id
    )
    return PurchaseProblem(
        {one.supplier_id: one for one in suppliers},
        tuple(offers),
        tuple(slots),
        limits.pop("lines", lines),
        tuple(stored),
        tuple(live),
        limits.pop("holding_days_most", 3),
        limits.pop("holding_kg_most", 1e6),
        **limits,
    )


def supplier(code, *, least=0.0, delivery=0.0, pallet=0.0):
    return Supplier(code, f"Supplier {code}", least, delivery, pallet)


def slot(code, number, *, quarter=-1):
    return Slot(code, day(number - 1), day(number), quarter)


def stored(item, *pairs):
    """Need of an item that keeps: pairs of day and quantity by then in all."""
    return StoredNeed(
        item,
        tuple(day(number) for number, _ in pairs),
        np.array([float(quantity) for _, quantity in pairs]),
        tuple(f"E{number}" for number, _ in pairs),
    )


def live(number, needed_kg, *sources):
    """Need of worms on a day: sources are triples of slot, mass to send and days held."""
    return LiveNeed(
        f"E{number}",
        day(number),
        needed_kg,
        np.array([source[0] for source in sources], dtype=np.int64),
        np.array([source[1] for source in sources], dtype=np.float64),
        np.array([source[2] for source in sources], dtype=np.int64),
    )


def cheapest_by_trying(given, most_packs):
    """Least landed cost over every number of packs of every line; infinite without a plan.

    Worms are looked after for problems with one live need alone: there the shares that slots
    serve add up to 1.
    """
    best = math.inf
    for packs in itertools.product(range(most_packs + 1), repeat=len(given.lines)):
        cost = _cost(given, packs)
        if (
            cost < best
            and _serves(given, packs)
            and _is_of_use(given, packs)
            and _keeps_limits(given, packs)
        ):
            best = cost
    return best


def _cost(given, packs):
    total = sum(
        given.offers[line.offer].goods_cost(count)
        for line, count in zip(given.lines, packs, strict=True)
    )
    return total + sum(_freight(given, packs, number) for number in range(len(given.slots)))


def _freight(given, packs, number):
    mine = [
        (given.offers[line.offer], count)
        for line, count in zip(given.lines, packs, strict=True)
        if line.slot == number and count
    ]
    if not mine:
        return 0.0
    terms = given.suppliers[given.slots[number].supplier_id]
    pallets = math.ceil(sum(n / one.packs_per_pallet for one, n in mine if one.packs_per_pallet))
    return terms.freight_per_delivery + pallets * terms.freight_per_pallet


def _serves(given, packs):
    for need in given.stored:
        for ready, quantity in zip(need.ready_dates, need.quantities, strict=True):
            came = sum(
                count * given.offers[line.offer].pack_quantity
                for line, count in zip(given.lines, packs, strict=True)
                if given.offers[line.offer].item == need.item
                and given.slots[line.slot].delivery_date <= ready
            )
            if came < quantity:
                return False
    for need in given.live:
        served = 0.0
        for number, sent in zip(need.slots, need.sent_kg, strict=True):
            kilos = sum(
                count * given.offers[line.offer].pack_quantity
                for line, count in zip(given.lines, packs, strict=True)
                if line.slot == number and given.offers[line.offer].is_live
            )
            served += kilos / sent
        if served < 1.0 - 1e-9:
            return False
    return True


def _is_of_use(given, packs):
    """Nothing is bought that comes after all need of it, to raise a supplier's share."""
    for line, count in zip(given.lines, packs, strict=True):
        if not count or given.offers[line.offer].is_live:
            continue
        comes = given.slots[line.slot].delivery_date
        need = next(one for one in given.stored if one.item == given.offers[line.offer].item)
        before = [q for d, q in zip(need.ready_dates, need.quantities, strict=True) if d < comes]
        if need.quantities[-1] <= max(before, default=0.0):
            return False
    return True


def _keeps_limits(given, packs):
    spent = {}
    for number, one in enumerate(given.slots):
        goods = 0.0
        for line, count in zip(given.lines, packs, strict=True):
            if line.slot == number and count:
                terms = given.offers[line.offer]
                if count < terms.minimum_packs_count:
                    return False
                if count > (terms.weekly_limit_packs_count or math.inf):
                    return False
                goods += terms.goods_cost(count)
        if 0.0 < goods < given.suppliers[one.supplier_id].minimum_order_amount:
            return False
        paid = goods + _freight(given, packs, number)
        for key in (one.quarter, one.supplier_id):
            spent[key] = spent.get(key, 0.0) + paid
    total = sum(spent.get(code, 0.0) for code in given.suppliers)
    over_share = any(
        spent.get(code, 0.0) > given.largest_supplier_share * total + 1e-9
        for code in given.suppliers
    )
    over_budget = any(
        spent.get(number, 0.0) > one.budget + 1e-9 for number, one in enumerate(given.quarters)
    )
    return not over_share and not over_budget
