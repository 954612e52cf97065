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


def tight_problem(seed):
    """Problem of every day with tiny budgets, closures that overlap, orders before, little room.

    Most have no plan at all, and the others barely one.
    """
    rng = np.random.default_rng(10_000 + seed)
    given = every_day_problem(5000 + seed)
    budgets = rng.choice([0.0, 60.0, 120.0, 180.0, 260.0, 340.0], 2)
    begins = rng.integers(0, 18, 2)
    closed = list(zip(begins, begins + rng.integers(0, 4, 2), strict=True))

    def is_closed(slot):
        dates = [(date - day(0)).days for date in (slot.dispatch_date, slot.delivery_date)]
        return any(first <= number <= last for first, last in closed for number in dates)

    lines = [
        replace(
            line, lock=line.lock or ("not_offered" if is_closed(given.slots[line.slot]) else "")
        )
        for line in given.lines
    ]
    return replace(
        given,
        lines=tuple(lines),
        quarters=tuple(
            replace(one, budget=float(budget))
            for one, budget in zip(given.quarters, budgets, strict=True)
        ),
        holding_kg_most=float(rng.choice([0.0, 3.0])) if seed % 4 == 0 else given.holding_kg_most,
        commitments=_commitments(rng, given.offers, sorted(given.suppliers)),
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
