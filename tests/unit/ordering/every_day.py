"""Random purchase problems over every working day: lead times, breaks, limits, worms."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

import numpy as np

from planner.ordering.problem import (
    BinStore,
    Commitments,
    Line,
    LiveNeed,
    PriceStep,
    Quarter,
    Slot,
    StoredNeed,
)
from tests.unit.ordering.small import day, offer, problem, supplier


def every_day_problem(seed, weeks=3):
    """Purchase problem of two or three suppliers who may send on every working day.

    Returns
    -------
    PurchaseProblem
        Offers have lead times of their own, some end early; kinds of limits come and go.
    """
    rng = np.random.default_rng(seed)
    codes = [*"ABC"][: int(rng.integers(2, 4))]
    suppliers = [
        supplier(
            code,
            least=float(rng.choice([0.0, 0.0, 40.0, 90.0])),
            delivery=float(rng.integers(0, 30)),
            pallet=float(rng.choice([0.0, 6.0, 15.0])),
        )
        for code in codes
    ]
    offers = [_offer(rng, n, str(rng.choice(codes)), kind) for n, kind in enumerate(_kinds(rng))]
    leads = rng.integers(0, 7, len(offers))
    ends = np.where(rng.random(len(offers)) < 0.15, 12, 99)
    transit = {code: int(rng.integers(0, 3)) for code in codes}
    sent = [n for n in range(7 * weeks) if n % 7 < 5]
    quarter_day = int(rng.integers(6, 16))
    late = {code: int(rng.integers(0, 3)) for code in codes}
    slots = [
        Slot(
            code,
            day(n),
            day(n + transit[code]),
            int(n + transit[code] >= quarter_day),
            late_days=late[code],
        )
        for code in codes
        for n in sent
    ]
    lines = [
        Line(o, s, slot.dispatch_date, _lock(slot, int(leads[o]), int(ends[o])))
        for s, slot in enumerate(slots)
        for o, one in enumerate(offers)
        if one.supplier_id == slot.supplier_id
    ]
    events = sorted(rng.choice(np.arange(10, 7 * weeks), 2, replace=False).tolist())
    budgets = rng.choice([150.0, 250.0, 1e4], 2, p=[0.1, 0.3, 0.6])
    return problem(
        suppliers,
        offers,
        slots,
        list(_stored(rng, events)),
        [_live(rng, number, slots) for number in events],
        lines=tuple(lines),
        holding_days_most=2,
        holding_kg_most=float(rng.choice([7.0, 100.0, 100.0])),
        quarters=(
            Quarter(day(0), day(quarter_day), float(budgets[0])),
            Quarter(day(quarter_day), day(99), float(budgets[1])),
        ),
        store=_store(rng, events),
        commitments=_commitments(rng, offers, codes),
    )


def odd_problem(seed):
    """Short problem with limits that barely leave a plan, or none: each kind comes and goes.

    Tiny budgets, one supplier, high least orders, long lead times, caps by week, store and
    holding room, cold days on which no worms go out, a largest share, orders before.
    """
    rng = np.random.default_rng(10_000 + seed)
    given = every_day_problem(5000 + seed, weeks=2)
    for change in (_one_supplier, _tiny_budgets, _least_orders, _long_leads, _caps, _cold_days):
        if rng.random() < 0.3:
            given = change(rng, given)
    share = float(rng.choice([1.0, 1.0, 0.8]))
    before = _commitments(rng, given.offers, sorted(given.suppliers))
    return replace(given, largest_supplier_share=share, commitments=before)


def harsh_problem(seed):
    """Problem in which much has been ordered and little went as ordered.

    Orders that came short may be filled up below the least order, worms that are overdue take
    holding room, weeks are full, a supplier has had its share; prices rise past a break, or
    fall far at one and rise at the next; some days have no budget, some hand-overs no worms.
    """
    rng = np.random.default_rng(20_000 + seed)
    given = every_day_problem(seed, weeks=2 + seed % 2)
    codes, weeks = sorted(given.suppliers), [day(7 * week) for week in range(3)]
    packs = {(n, week): int(rng.integers(0, 12)) for n in range(len(given.offers))
             for week in weeks if rng.random() < 0.4}  # fmt: skip
    come = rng.integers(5, 20, int(rng.integers(1, 4))).tolist()
    held = [(day(n), day(n + int(rng.integers(1, 6))), float(rng.uniform(0.2, 6.0))) for n in come]
    spent = {code: float(rng.choice([0.0, 200.0, 900.0])) for code in codes}
    return replace(
        given,
        slots=tuple(
            replace(
                slot,
                below_least_amount=float(rng.choice([0.0, 0.0, 30.0, 500.0])),
                quarter=-1 if rng.random() < 0.1 else slot.quarter,
            )
            for slot in given.slots
        ),
        offers=tuple(_with_odd_prices(rng, one) for one in given.offers),
        suppliers={
            code: replace(one, beyond_share_amount=float(rng.choice([0.0, 0.0, 25.0, 1e4])))
            for code, one in given.suppliers.items()
        },
        live=tuple(
            replace(one, needed_kg=0.0) if rng.random() < 0.1 else one for one in given.live
        ),
        largest_supplier_share=float(rng.choice([1.0, 1.0, 1.0, 0.8, 0.6])),
        commitments=Commitments(packs, tuple(held), spent),
    )


def _with_odd_prices(rng, one):
    price, first = one.steps[0].price_per_pack, int(rng.integers(2, 5))
    times = [(1.1,), (0.8, 0.7), (0.4, 0.9)]
    steps = [
        (
            one.steps[0],
            *(PriceStep(first + 3 * n, round(price * t, 2)) for n, t in enumerate(later)),
        )
        for later in times
    ]
    return replace(
        one,
        steps=[*steps, one.steps][int(rng.integers(4))],
        minimum_packs_count=int(rng.integers(1, 4)),
    )


def _one_supplier(rng, given):
    code = str(rng.choice(sorted(given.suppliers)))
    slots = [s for s, slot in enumerate(given.slots) if slot.supplier_id == code]
    days = {(o, s): given.slots[s].dispatch_date for s in slots for o in range(len(given.offers))}
    return replace(
        given,
        offers=tuple(replace(one, supplier_id=code) for one in given.offers),
        lines=tuple(Line(o, s, date) for (o, s), date in days.items()),
    )


def _tiny_budgets(rng, given):
    budgets = rng.choice([60.0, 120.0, 180.0, 260.0, 340.0], 2)
    pairs = zip(given.quarters, budgets, strict=True)
    return replace(given, quarters=tuple(replace(one, budget=float(b)) for one, b in pairs))


def _least_orders(rng, given):
    least = {code: float(rng.choice([60.0, 100.0, 150.0])) for code in given.suppliers}
    return replace(
        given,
        suppliers={
            code: replace(one, minimum_order_amount=least[code])
            for code, one in given.suppliers.items()
        },
    )


def _long_leads(rng, given):
    leads = rng.integers(3, 9, len(given.offers))
    return _locked(
        given,
        "late",
        lambda line, slot: slot.dispatch_date < day(int(leads[line.offer])),
    )


def _caps(rng, given):
    offers = [
        replace(one, weekly_limit_packs_count=int(rng.integers(one.minimum_packs_count, 6)))
        for one in given.offers
    ]
    room, dates = float(rng.integers(8, 16)), tuple(need.event_date for need in given.live)
    return replace(
        given,
        offers=tuple(offers),
        holding_kg_most=float(rng.choice([4.0, 7.0, 9.0])),
        store=BinStore(room, 0.0, dates, np.full(len(dates), 3.0)),
    )


def _cold_days(rng, given):
    begins = rng.integers(0, 12, 2)
    cold = {day(int(first + n)) for first in begins for n in range(int(rng.integers(2, 5)))}
    return _locked(
        given,
        "held",
        lambda line, slot: given.offers[line.offer].is_live and slot.dispatch_date in cold,
    )


def _locked(given, lock, is_locked):
    """Lock further lines, for which `is_locked` holds, of the line and its slot."""
    return replace(
        given,
        lines=tuple(
            replace(
                line, lock=line.lock or (lock if is_locked(line, given.slots[line.slot]) else "")
            )
            for line in given.lines
        ),
    )


def _kinds(rng):
    return ["bins", "bedding", "worms", *rng.choice(["bins", "bedding", "worms"], 2)]


def _offer(rng, number, code, kind):
    price = {"bins": 12.0, "bedding": 4.0, "worms": 9.0}[kind] * float(rng.uniform(0.8, 1.2))
    prices = [(1, round(price, 2)), (int(rng.integers(3, 7)), round(price * 0.85, 2))]
    return offer(
        f"O{number}",
        code,
        prices[: int(rng.integers(1, 3))],
        item={"bins": "bin", "bedding": "coir", "worms": "worms"}[kind],
        kind=kind,
        pack=float(rng.integers(1, 4)),
        pallet=int(rng.integers(3, 9)) if rng.random() < 0.7 else None,
        least=int(rng.integers(1, 3)),
        weekly=int(rng.integers(3, 8)) if rng.random() < 0.25 else None,
        incremental=bool(rng.random() < 0.5),
    )


def _lock(slot, lead_days, last_day):
    if slot.dispatch_date < day(lead_days):
        return "late"
    return "not_offered" if slot.dispatch_date > day(last_day) else ""


def _stored(rng, events):
    for item in ("bin", "coir"):
        needed = np.cumsum(rng.integers(1, 7, len(events))).astype(float)
        ready = tuple(day(number - 1) for number in events)
        yield StoredNeed(item, ready, needed, tuple(f"E{number}" for number in events))


def _live(rng, number, slots):
    kilos = float(rng.uniform(1.0, 5.0))
    near = [(s, (day(number) - slot.delivery_date).days) for s, slot in enumerate(slots)]
    near = [(s, days) for s, days in near if 1 <= days <= 4]
    heat = rng.uniform(0.85, 1.0, len(near))
    return LiveNeed(
        f"E{number}",
        day(number),
        kilos,
        np.array([s for s, _ in near], dtype=np.int64),
        np.array([kilos / (h * 0.97**days) for h, (_, days) in zip(heat, near, strict=True)]),
        np.array([days for _, days in near], dtype=np.int64),
    )


def _commitments(rng, offers, codes):
    if rng.random() < 0.5:
        return Commitments()
    weekly = {(n, day(7 * week)): int(rng.integers(0, 3)) for n in range(len(offers))
              for week in range(3)}  # fmt: skip
    held = ((day(9), day(12), float(rng.uniform(0.5, 2.0))),)
    return Commitments(weekly, held, {code: float(rng.integers(0, 60)) for code in codes})


def _store(rng, events):
    if rng.random() < 0.7:
        return None
    dates: tuple[dt.date, ...] = tuple(day(number) for number in events)
    room, there = float(rng.integers(10, 18)), float(rng.integers(0, 3))
    coming = (day(int(rng.integers(3, 15))),)
    return BinStore(room, there, dates, np.full(2, 3.0), coming, (float(rng.integers(0, 4)),))
