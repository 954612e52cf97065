"""How long the cheapest order takes: 52 weeks, 6 suppliers, 12 items, 40 hand-over days.

Run ``python -m tests.benchmarks.ordering_speed [COUNT] [SECONDS]``: COUNT invented councils
of each kind, each searched to 0.5% in at most SECONDS. Of the first kind suppliers sell bins,
bedding or worms, two of the six two of these; of the second every supplier sells every item,
which no market does. Printed are the seconds of the clock and of this process, the cost,
and by how much a cheaper plan may exist.
"""

from __future__ import annotations

import datetime as dt
import sys
import time

import numpy as np

from planner.ordering.problem import (
    Line,
    LiveNeed,
    Offer,
    PriceStep,
    PurchaseProblem,
    Quarter,
    Slot,
    StoredNeed,
    Supplier,
)
from planner.ordering.request import Effort
from planner.ordering.solving import solve

WEEKS, EVENTS, SUPPLIERS = 52, 40, 6
MODELS = tuple(f"bin model {number}" for number in range(5))
SPECIES = ("Eisenia fetida", "Eisenia andrei")
MATERIALS = tuple(f"material {number}" for number in range(5))
FIRST = dt.date(2026, 7, 6)
GAP = 0.005
TRADES = (
    {"bins"},
    {"bins"},
    {"bins", "bedding"},
    {"worms"},
    {"worms"},
    {"worms", "bedding"},
)
STARTER_KG, HELD_DAYS = 0.45, 3


def invented(seed, *, sells_all):
    """Purchase problem of an invented council; every offer has three prices of one kind."""
    rng = np.random.default_rng(seed)
    codes = [f"S{number}" for number in range(SUPPLIERS)]
    suppliers = {
        code: Supplier(
            code,
            code,
            float(rng.choice([0.0, 300.0, 500.0])),
            float(rng.uniform(20.0, 90.0)),
            float(rng.uniform(25.0, 75.0)),
        )
        for code in codes
    }
    offers = []
    for code, trade in zip(codes, TRADES, strict=True):
        sold = {"bins", "worms", "bedding"} if sells_all else trade
        offers += [_offer(rng, code, kind, name) for kind, name in _items() if kind in sold]
    slots, lines = [], []
    for code in codes:
        transit = 1 + int(rng.integers(0, 3))
        for week in range(WEEKS):
            sent = FIRST + dt.timedelta(days=7 * week)
            place = len(slots)
            slots.append(Slot(code, sent, sent + dt.timedelta(days=transit), week // 13))
            lines += [
                Line(number, place, sent - dt.timedelta(days=14))
                for number, one in enumerate(offers)
                if one.supplier_id == code
            ]
    weeks = np.sort(rng.choice(np.arange(3, WEEKS), EVENTS, replace=False))
    days = [FIRST + dt.timedelta(days=int(7 * week + 5)) for week in weeks]
    booked = rng.integers(20, 60, EVENTS)
    return PurchaseProblem(
        suppliers,
        tuple(offers),
        tuple(slots),
        tuple(lines),
        tuple(_stored(days, booked, rng)),
        tuple(_live(days, booked, slots)),
        HELD_DAYS,
        60.0,
        tuple(
            Quarter(
                FIRST + dt.timedelta(days=91 * n), FIRST + dt.timedelta(days=91 * n + 91), 60_000.0
            )
            for n in range(4)
        ),
        0.6,
    )


def _items():
    return [
        *(("bins", name) for name in MODELS),
        *(("worms", name) for name in SPECIES),
        *(("bedding", name) for name in MATERIALS),
    ]


def _offer(rng, code, kind, name):
    pack = float(rng.choice({"bins": [1, 4, 6], "worms": [1, 5], "bedding": [5, 10]}[kind]))
    unit = {"bins": rng.uniform(45, 75), "worms": rng.uniform(31, 37), "bedding": rng.uniform(1, 3)}
    price = float(unit[kind]) * pack
    first = int(rng.integers(8, 30))
    return Offer(
        f"{code} {name}",
        code,
        kind,
        "worms" if kind == "worms" else name,
        name,
        pack,
        int(rng.choice([24, 40, 60])),
        int(rng.integers(1, 5)),
        int(60 / pack) if kind == "worms" else None,
        bool(rng.integers(2)),
        (
            PriceStep(1, round(price, 2)),
            PriceStep(first, round(price * 0.95, 2)),
            PriceStep(3 * first, round(price * 0.9, 2)),
        ),
    )


def _stored(days, booked, rng):
    ready = tuple(day - dt.timedelta(days=5) for day in days)
    names = tuple(f"E{number}" for number in range(EVENTS))
    shares = rng.dirichlet(np.full(len(MODELS), 4.0))
    for name, share in zip(MODELS, shares, strict=True):
        yield StoredNeed(name, ready, np.ceil(np.cumsum(booked * share)), names)
    for name in MATERIALS:
        yield StoredNeed(name, ready, np.cumsum(booked * 0.3), names)


def _live(days, booked, slots):
    for number, (day, count) in enumerate(zip(days, booked, strict=True)):
        held = [(n, (day - slot.delivery_date).days) for n, slot in enumerate(slots)]
        near = [(n, days_held) for n, days_held in held if 1 <= days_held <= HELD_DAYS + 1]
        kilos = float(count) * STARTER_KG
        yield LiveNeed(
            f"E{number}",
            day,
            kilos,
            np.array([n for n, _ in near]),
            np.array([kilos / (0.97 * 0.99**days_held) for _, days_held in near]),
            np.array([days_held for _, days_held in near]),
        )


def main():
    """Print a line for each council."""
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 3
    seconds = float(sys.argv[2]) if len(sys.argv) > 2 else 60.0
    for sells_all in (False, True):
        kind = "every supplier sells every item" if sells_all else "suppliers by trade"
        for seed in range(count):
            asked = invented(seed, sells_all=sells_all)
            began, worked = time.perf_counter(), time.process_time()
            found = solve(asked, Effort(GAP, seconds))
            clock, own = time.perf_counter() - began, time.process_time() - worked
            told = "no plan" if found is None else f"{found.cost:,.0f}, within {found.gap:.2%}"
            print(f"{kind}, council {seed}: {clock:.0f} s, of them {own:.0f} s at work; {told}")


if __name__ == "__main__":
    main()
