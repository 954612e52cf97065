"""What each step costs as programs grow: ``python -m tests.benchmarks.scale 1000 10000 100000``.

Makes an invented program of each size (`tests/benchmarks/big_program.py`), runs the year's
steps on it, each in a process of its own with one thread, and writes the table in README.md
between its marks. In the same run stand what a user would take instead, to the same answer
(`tests/benchmarks/peers.py`, `peers.R`: pandas and lifelines are fetched for the occasion by
``uv run --with``), and the floor below which no program gets. A peer that needs more than two
minutes is ended. Sizes up to 10,000,000 may be named; a table keeps the sizes of its last run.
"""

from __future__ import annotations

import json
import math
import os
import shutil
import subprocess
import sys
import tempfile
import time
from dataclasses import dataclass
from pathlib import Path

from tests.benchmarks.results_page import write_table

ROOT = Path(__file__).parents[2]
MAIN = "from planner.cli import main; main()"
PEERS, R_PEERS = (str(Path(__file__).with_name(name)) for name in ("peers.py", "peers.R"))
MIB = 1024
DRAWS = 1000
MOST_IN_A_WORKBOOK = 100_000
PEER_SECONDS = 120
AGREES = {"share": 1e-6, "standard_error": 1e-4, "scale": 1e-3, "shape": 1e-3}
"""How near a peer's fit must come; counts must be the same."""

COLUMNS = (
    "step",
    "households",
    "wall s",
    "CPU s",
    "peak MiB",
    "CPU over the size before",
    "over floor",
    "over peers",
)
ONE_THREAD = {
    "POLARS_MAX_THREADS": "1",
    "OMP_NUM_THREADS": "1",
    "OPENBLAS_NUM_THREADS": "1",
    "PYTHONPATH": str(ROOT),
}


@dataclass(frozen=True)
class Step:
    """One step: its command, what stands against it, and which floors lie under it."""

    name: str
    words: tuple[str, ...]
    answer: str = ""
    peers: tuple[str, ...] = ()
    floors: tuple[str, ...] = ("DuckDB scans",)


STEPS = (
    Step("load", ("load",), "our_load", ("pandas",)),
    Step("load .xlsx", ("load", "areas.csv", "households.xlsx"), "our_load", ("openpyxl",)),
    Step("check", ("check",), "our_check", ("pandas",)),
    Step("sample", ("sample", "F9", "--kind", "followup", "--response", "0.5")),
    Step("report", ("report",), floors=("DuckDB scans", "numpy moves")),
    Step("size", ("size",)),
    Step("order", ("order", "--from", "2026-07-01", "--accept-changes")),
    Step("fit: rake a round", ("rake",), "our_rake", ("R survey",), ("numpy moves",)),
    Step("fit: Weibull", ("weibull",), "our_weibull", ("R survival", "lifelines"), ()),
)
"""The last two are the parts of `report` that other packages do too."""


@dataclass(frozen=True)
class Row:
    """What a process cost; None stands for one that was ended."""

    wall: float
    cpu: float
    peak: float
    answer: object = None


def main() -> None:
    """Measure the sizes named and write the table."""
    sizes = [int(word) for word in sys.argv[1:]] or [1_000, 10_000, 100_000]
    rows: dict[tuple[str, int], Row | None] = {}
    for size in sizes:
        with tempfile.TemporaryDirectory() as place:
            measure(Path(place) / "program", size, rows)
        # after each size, so that a run that is stopped leaves what it has measured
        told = "\n".join(table(rows, sizes))
        write_table("scale", told)
    print(told)


def measure(folder: Path, size: int, rows: dict[tuple[str, int], Row | None]) -> None:
    """Run every step, its peers and the floors on a program of a size."""
    ours = (sys.executable, PEERS)
    files = run((*ours, "write_program", str(folder), str(size), str(DRAWS))).answer
    for step in STEPS:
        place = folder
        if step.name == "load .xlsx":
            if size > MOST_IN_A_WORKBOOK:
                continue
            place = _with_workbook(folder, ours)
        row = rows[step.name, size] = _our_row(step, place, files)
        for peer in step.peers:
            if peer.startswith("R ") and not _has_of_r(peer):
                continue
            found = rows[f"{step.name}: {peer}", size] = _peer_row(step, peer, place, files)
            if found is not None:
                compare(f"{step.name}, {peer}", row.answer, found.answer)
        if step.name == "order":
            run((*ours, "write_fits", str(DRAWS)), folder)
    answers = sum(1 for _ in (folder / "answers.csv").open(encoding="utf-8")) - 1
    rows["DuckDB scans", size] = run((*ours, "scan", "program.duckdb"), folder)
    rows["numpy moves", size] = run((*ours, "move", str(answers), str(DRAWS)), folder)


def _with_workbook(folder: Path, ours: tuple[str, ...]) -> Path:
    """Make a second program whose households come as a workbook."""
    place = folder.with_name("workbook")
    place.mkdir()
    run((*ours, "write_sheet", str(place / "households.xlsx")), folder)
    for name in ("program.toml", "areas.csv"):
        shutil.copy(folder / name, place)
    return place


def _our_row(step: Step, folder: Path, files: list[str]) -> Row:
    ours = (sys.executable, PEERS)
    if step.name.startswith("fit"):
        return run((*ours, step.answer), folder)
    more = files if step.words == ("load",) else ()
    row = run((sys.executable, "-c", MAIN, *step.words, *more), folder, reads=False)
    answer = run((*ours, step.answer), folder).answer if step.answer else None
    return Row(row.wall, row.cpu, row.peak, answer)


def _peer_row(step: Step, peer: str, folder: Path, files: list[str]) -> Row | None:
    package = peer.rpartition(" ")[2]
    if peer.startswith("R "):
        return run(("Rscript", R_PEERS, step.words[0]), folder, PEER_SECONDS)
    python = ("uv", "run", "-q", "--no-project", "--with", package, "python")
    run((*python, "-c", f"import {package}"), folder, reads=False)  # what is fetched is not timed
    more = {"load": files, "load .xlsx": ["households.xlsx"]}.get(step.name, [])
    words = (*python, PEERS, f"{package}_{step.words[0]}", *more)
    return run(words, folder, PEER_SECONDS)


def _has_of_r(peer: str) -> bool:
    """Whether R and its package are here; peers of R are left out of the table where not."""
    known = f'quit(status = !requireNamespace("{peer.rpartition(" ")[2]}", quietly = TRUE))'
    words = ["Rscript", "-e", known]
    return bool(shutil.which(words[0])) and not subprocess.run(words, check=False).returncode


def run(
    words: tuple[str, ...], folder: Path = ROOT, seconds: int = 0, *, reads: bool = True
) -> Row | None:
    """Run a process; its wall and processor seconds, most memory held [MiB], and its answer.

    None where it takes longer than `seconds`, if there is such a limit.
    """
    limited = ("timeout", str(seconds), *words) if seconds else words
    began = time.monotonic()
    with tempfile.TemporaryFile() as said, tempfile.TemporaryFile() as wrong:
        child = subprocess.Popen(
            limited, cwd=folder, env=os.environ | ONE_THREAD, stdout=said, stderr=wrong
        )
        _, status, used = os.wait4(child.pid, 0)
        child.returncode = os.waitstatus_to_exitcode(status)
        took = time.monotonic() - began
        said.seek(0), wrong.seek(0)
        if seconds and child.returncode == 124:
            return None
        if child.returncode:
            sys.exit(f"{words[:6]} ended with {child.returncode}:\n{wrong.read().decode()[-3000:]}")
        answer = json.loads(said.read()) if reads else None
    return Row(took, used.ru_utime + used.ru_stime, used.ru_maxrss / MIB, answer)


def compare(what: str, ours: dict[str, float], other: dict[str, float]) -> None:
    """End where a peer comes to another answer."""
    for name, value in other.items():
        own = ours.get(name, 0)
        if not math.isclose(own, value, rel_tol=AGREES.get(name, 0.0)):
            sys.exit(f"{what}: {name} is {value}, ours is {own}")


def table(rows: dict[tuple[str, int], Row | None], sizes: list[int]) -> list[str]:
    """Lay out the rows: each with its growth from the size before, over its floor and its peers."""
    lines = [f"| {' | '.join(COLUMNS)} |", f"| {' | '.join('---' for _ in COLUMNS)} |"]
    steps = {step.name: step for step in STEPS}
    for (name, size), row in rows.items():
        if row is None:
            lines.append(f"| {name} | {size:,} | ended after {PEER_SECONDS} s | | | | | |")
            continue
        place = sizes.index(size)
        before = rows.get((name, sizes[place - 1])) if place else None
        growth = f"{row.cpu / before.cpu:.1f}" if before else ""
        step = steps.get(name, Step(name, (), floors=()))
        floor = sum(rows[one, size].cpu for one in step.floors)
        peers = {peer: rows.get((f"{name}: {peer}", size)) for peer in step.peers}
        cells = (
            name,
            f"{size:,}",
            f"{row.wall:.1f}",
            f"{row.cpu:.1f}",
            f"{row.peak:,.0f}",
            growth,
            f"{row.cpu / floor:.0f}" if floor else "",
            ", ".join(f"{row.cpu / one.cpu:.1f} {peer}" for peer, one in peers.items() if one),
        )
        lines.append(f"| {' | '.join(cells)} |")
    return lines


if __name__ == "__main__":
    main()
