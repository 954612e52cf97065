"""How long the cheapest order takes, and against a direct search of the plain problem.

Run ``python -m tests.benchmarks.ordering_speed [SIZE ...]``: invented councils from 4 hand-over
days x 3 suppliers x 12 offers to 52 x 10 x 60, those of the numbers given or all. Every
supplier sells every item, which no market does, and may send on every working day of the
year; each offer has a lead time of its own and three prices. Each council is searched to
0.5% or to the end of its nodes, then stated plainly over all its days and searched by the
solver as it stands, until it has taken as much of the processor, at least five seconds; it
looks at that between its linear programs alone. Each plan is checked by hand against every
limit, and each proof against the other's plan. Its rows, in seconds of the processor and the
gap reached, are written into the table of README.md.
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
from tests.benchmarks.results_page import table_of, write_table
from tests.plain_purchase import faults, least_cost

WEEKS, QUARTERS = 52, 4
FIRST = dt.date(2026, 7, 6)
GAP = 0.005
SIZES = ((4, 3, 12), (12, 4, 24), (26, 6, 36), (40, 6, 72), (52, 10, 60))
"""Hand-over days, suppliers, offers."""

STARTER_KG, HELD_DAYS = 0.45, 3


def invented(events_count, suppliers_count, offers_count, seed=0):
    """Purchase problem of an invented council, over every working day of a year."""
    rng = np.random.default_rng(seed)
    codes = [f"S{number}" for number in range(suppliers_count)]
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
    items = _items(offers_count // suppliers_count)
    offers = [_offer(rng, code, kind, name) for code in codes for kind, name in items]
    leads = rng.integers(3, 30, len(offers))
    transit = dict(zip(codes, rng.integers(1, 4, len(codes)).tolist(), strict=True))
    slots, lines = [], []
    for code in codes:
        for n in range(7 * WEEKS):
            sent = FIRST + dt.timedelta(days=n)
            came = sent + dt.timedelta(days=transit[code])
            if sent.weekday() > 4 or came.weekday() > 4:
                continue
            quarter = min(QUARTERS - 1, (came - FIRST).days // 91)
            lines += [
                Line(o, len(slots), sent, "" if n >= leads[o] else "late")
                for o, one in enumerate(offers)
                if one.supplier_id == code
            ]
            slots.append(Slot(code, sent, came, quarter))
    dates = [FIRST + dt.timedelta(days=7 * w + n) for w in range(5, WEEKS - 1) for n in (3, 5)]
    days = [dates[n] for n in sorted(rng.choice(len(dates), events_count, replace=False))]
    booked = rng.integers(20, 60, len(days))
    return PurchaseProblem(
        suppliers,
        tuple(offers),
        tuple(slots),
        tuple(lines),
        tuple(_stored(days, booked, rng, items)),
        tuple(_live(days, booked, slots)),
        HELD_DAYS,
        60.0,
        tuple(
            Quarter(
                FIRST + dt.timedelta(days=91 * n), FIRST + dt.timedelta(days=91 * n + 91), 60_000.0
            )
            for n in range(QUARTERS)
        ),
        0.6,
    )


def _items(count):
    """One kind of worms, and bins and bedding in equal numbers."""
    bins = count // 2
    return [
        ("worms", "worms"),
        *(("bins", f"bin model {number}") for number in range(bins)),
        *(("bedding", f"material {number}") for number in range(count - 1 - bins)),
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
        name,
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


def _stored(days, booked, rng, items):
    ready = tuple(day - dt.timedelta(days=5) for day in days)
    names = tuple(f"E{number}" for number in range(len(days)))
    models = [name for kind, name in items if kind == "bins"]
    for name, share in zip(models, rng.dirichlet(np.full(len(models), 4.0)), strict=True):
        yield StoredNeed(name, ready, np.ceil(np.cumsum(booked * share)), names)
    for kind, name in items:
        if kind == "bedding":
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
    """Write a row for each council."""
    for number in map(int, sys.argv[1:] or range(1, len(SIZES) + 1)):
        told = row(SIZES[number - 1])
        print(told, flush=True)
        write_row(told)


def row(size):
    """Search a council both ways and set them side by side."""
    asked = invented(*size)
    found, seconds = timed(solve, asked, Effort(GAP))
    (cost, bound), plain_seconds = timed(least_cost, asked, GAP, max(5.0, seconds))
    wrong = faults(asked, found)
    if found.bound > cost * (1.0 + 1e-6) or bound > found.cost * (1.0 + 1e-6):
        wrong.append(f"bounds {found.bound}, {bound} of plans at {found.cost}, {cost}")
    if wrong:
        raise AssertionError(wrong)
    plain = "no plan" if not np.isfinite(cost) else f"{(cost - bound) / cost:.2%}"
    lead = f"| {' x '.join(map(str, size))} | {len(asked.lines):,} "
    return f"{lead}| {seconds:.1f} | {found.gap:.2%} | {plain_seconds:.1f}, {plain} |"


def write_row(told):
    """Put a row in the place of the one of its council, or behind the last."""
    rows = {row.split("|")[1]: row for row in table_of("orders").split("\n") if row}
    write_table("orders", "\n".join({**rows, told.split("|")[1]: told}.values()))


def timed(call, *words):
    """Give what a call gives, and its seconds of the processor."""
    work = time.process_time()
    found = call(*words)
    return found, time.process_time() - work


if __name__ == "__main__":
    main()
