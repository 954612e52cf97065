"""How long a hundred years of landfill take, against numpy copying the same waste.

Run with ``python tests/benchmarks/landfill_speed.py``: 1,200 months of 50 streams in 10,000
draws, decay rates, delays and capture drawn, worked through in parts of 200 draws as memory
allows. Prints seconds and the ratio, with one thread and with one for each core; a machine
that does other work beside it gives other ratios.
"""

from __future__ import annotations

import os
import sys
import time

import numpy as np

from planner.emissions import Streams, streams_methane_kg

DRAWS, STREAMS, MONTHS, PART = 10_000, 50, 1_200, 200
LIMIT = 5.0
AGES = (0, 5, 10, 15, 21)
CAPTURED = np.array([0.0, 0.5, 0.75, 0.825, 0.9])


def drawn(rng):
    """Rates by draw and stream, delay and capture by draw, as a program has them."""
    return Streams(
        rng.triangular(0.02, 0.06, 0.4, (PART, STREAMS)),
        0.05,
        rng.triangular(0.0, 6.0, 6.0001, (PART, 1)) + 0.5,
        0.1,
        AGES,
        np.minimum(1.0, rng.triangular(0.5, 1.0, 1.5, (PART, 1, 1)) * CAPTURED),
    )


def seconds(work):
    started = time.perf_counter()
    work()
    return time.perf_counter() - started


def main():
    rng = np.random.default_rng(3)
    waste_kg = rng.uniform(0.0, 1e6, (PART, STREAMS, MONTHS))
    waste_kg.copy()  # the first copy pays for memory that the machine had not yet given out
    threads = sorted({1, os.cpu_count() or 1})
    copying, working = 0.0, dict.fromkeys(threads, 0.0)
    for _ in range(DRAWS // PART):
        streams = drawn(rng)
        copying += seconds(waste_kg.copy)
        for count in threads:
            working[count] += seconds(
                lambda streams=streams, count=count: streams_methane_kg(
                    waste_kg, streams, workers_count=count
                )
            )
    print(f"{DRAWS:,} draws x {STREAMS} streams x {MONTHS:,} months")
    print(f"copy {copying:.2f} s")
    for count, spent in working.items():
        print(f"methane, {count} thread{'s' * (count > 1)}: {spent:.2f} s, {spent / copying:.2f} x")
    return 0 if min(working.values()) <= LIMIT * copying else 1


if __name__ == "__main__":
    sys.exit(main())
