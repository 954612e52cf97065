"""How often the 95% intervals hold the truth, over many simulated councils.

Run with ``python tests/benchmarks/coverage.py``. Councils are drawn like a sample town with
habits of their own, under every design of ``councils/designs.py``; their records are complete,
without mistyped rows, and go through store, queries and estimates as an officer's do. Each
result is kept in a file at once: a study that was stopped goes on where it was. Prints its
progress, then its tables in markdown, which ``--write`` puts into README.md between two
marks.

In a cell of a table stand the share of intervals that hold the truth, the mean error over
the standard deviation of the errors, and how many times as wide as needed intervals are. ↓ or
↑ marks a share that lies outside 92 to 98% by more than the chance of so many councils, b a
bias beyond a fifth of the standard error by more than that. The second table is of all areas
that a report prints.
"""

from __future__ import annotations

import argparse
import os
import signal
import sys
import tempfile
import time
from collections.abc import Iterable
from multiprocessing import get_context
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[2]))

from tests.benchmarks.councils.council import study_council
from tests.benchmarks.councils.designs import DESIGNS
from tests.benchmarks.councils.results import ROOT, keep_result, read_results, stamp
from tests.benchmarks.councils.table import details, markdown
from tests.benchmarks.results_page import write_table

RESULTS = ROOT / "build" / "coverage.jsonl"
ONE_THREAD = ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "POLARS_MAX_THREADS")
SECONDS_BETWEEN_LINES = 20.0
ONE_OF = {design.name: design for design in DESIGNS}


def arguments() -> argparse.Namespace:
    """Read the command line."""
    parser = argparse.ArgumentParser(description=__doc__.partition("\n")[0])
    parser.add_argument("--councils", type=int, default=60, help="councils of each design")
    parser.add_argument("--first", type=int, default=0, help="place of the first council")
    parser.add_argument("--design", action="append", choices=list(ONE_OF), help="only this one")
    parser.add_argument("--all-that-hold", action="store_true", help="designs that hold alone")
    parser.add_argument("--processes", type=int, default=2, help="councils at the same time")
    parser.add_argument("--draws", type=int, default=400, help="draws of each estimate")
    parser.add_argument("--results", type=Path, default=RESULTS, help="file to keep results in")
    parser.add_argument("--table", action="store_true", help="print what is there, study nothing")
    parser.add_argument("--write", action="store_true", help="put the tables in README.md")
    return parser.parse_args()


def one(council: tuple[str, int, int]) -> dict:
    """Study one council, by design, place and draws, in a process of its own."""
    name, seed, draws_count = council
    return {"design": name, "seed": seed, **study_council(ONE_OF[name], seed, draws_count)}


def study(todo: list[tuple[str, int]], asked: argparse.Namespace, mark: str) -> None:
    """Study the councils that are missing and keep each result when it is there."""
    asked.results.parent.mkdir(parents=True, exist_ok=True)
    os.environ.update(dict.fromkeys(ONE_THREAD, "1"))  # a council a process, a process a core
    councils = [(name, seed, asked.draws) for name, seed in todo]
    with tempfile.TemporaryDirectory() as folder:
        os.environ["TMPDIR"] = folder  # a process that is ended leaves its store behind
        # left by an exception, a pool ends its processes; an executor would finish their councils
        with get_context("spawn").Pool(asked.processes) as pool:
            _keep_each(pool.imap_unordered(one, councils), len(councils), asked.results, mark)


def _keep_each(results: Iterable[dict], count: int, path: Path, mark: str) -> None:
    """Keep results as they come, and say how long the rest will take."""
    started = told = time.monotonic()
    for done, result in enumerate(results, start=1):
        keep_result(path, {"stamp": mark, **result})
        now = time.monotonic()
        if now - told > SECONDS_BETWEEN_LINES or done == count:
            told, each = now, (now - started) / done
            left = each * (count - done) / 60
            print(f"{done:,} of {count:,} councils, {each:.1f} s each, "
                  f"{left:.0f} minutes left", file=sys.stderr, flush=True)  # fmt: skip


def main() -> None:
    """Study what is missing, then print the table."""
    signal.signal(signal.SIGTERM, lambda *_: sys.exit("stopped"))  # and its processes with it
    asked = arguments()
    designs = [ONE_OF[name] for name in asked.design or ONE_OF]
    designs = [design for design in designs if design.holds or not asked.all_that_hold]
    mark = stamp(asked.draws)
    known = read_results(asked.results, mark)
    wanted = [
        (design.name, seed)
        for seed in range(asked.first, asked.first + asked.councils)
        for design in designs
    ]
    todo = [key for key in wanted if key not in known]
    print(f"{len(wanted):,} councils, {len(wanted) - len(todo):,} of them studied before, "
          f"results in {asked.results}", file=sys.stderr)  # fmt: skip
    if todo and not asked.table:
        study(todo, asked, mark)
        known = read_results(asked.results, mark)
    tables = markdown(designs, known)
    print(f"{details(designs, known)}\n\n{tables}")
    if asked.write:
        write_table("coverage", tables)


if __name__ == "__main__":
    main()
