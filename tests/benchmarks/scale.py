"""What each step costs as programs grow: ``python -m tests.benchmarks.scale 1000 10000 100000``.

Makes an invented program of each size (`tests/benchmarks/big_program.py`), runs the year's
steps on it, each in a process of its own, and writes the table in DEVELOPERS.md between its
marks. In the same run stand what is compared: pandas, fetched for the occasion by
``uv run --with``, which reads the same files, reads their days and drops repeated keys; and the
floor below which no program gets, DuckDB reading every column of the records once and numpy
copying as many numbers as answers have replicates. R is asked for and named where it is not here.
"""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from planner.paths import STORE_FILE
from tests.benchmarks.big_program import write_program

ROOT = Path(__file__).parents[2]
DEVELOPERS = ROOT / "DEVELOPERS.md"
BEGIN, END = "<!-- scale: begin -->", "<!-- scale: end -->"
MAIN = "from planner.cli import main; main()"
MIB = 1024
DRAWS = 1000
STEPS = {
    "load": ("load",),
    "check": ("check",),
    "sample": ("sample", "F9", "--kind", "followup", "--response", "0.5"),
    "report": ("report",),
}
PEER = """
import sys, pandas
for name in sys.argv[1:]:
    rows = pandas.read_csv(name)
    for column in [c for c in rows.columns if c.endswith("_date")]:
        rows[column] = pandas.to_datetime(rows[column])
    rows.drop_duplicates([c for c in rows.columns if c.endswith("_id")])
"""
SCAN = """
import sys, duckdb
with duckdb.connect(sys.argv[1], read_only=True, config={"threads": 1}) as store:
    for (name,) in store.sql("from duckdb_tables() select table_name").fetchall():
        store.sql(f"select sum(hash(columns(*))) from {name}").fetchall()
"""
MOVE = "import sys, numpy as np; np.ones((int(sys.argv[1]), int(sys.argv[2]))).copy()"


def main() -> None:
    """Measure the sizes named and write the table."""
    sizes = [int(word) for word in sys.argv[1:]] or [1_000, 10_000, 100_000]
    with tempfile.TemporaryDirectory() as place:
        rows = [row for size in sizes for row in measured(Path(place) / str(size), size)]
    head, rest = DEVELOPERS.read_text("utf-8").split(BEGIN)
    told = "\n".join(table(rows))
    DEVELOPERS.write_text(f"{head}{BEGIN}\n{told}\n{END}{rest.split(END)[1]}", "utf-8")
    print(told)


def measured(folder: Path, size: int) -> list[tuple[str, int, float, float, float]]:
    """Run every step, peer and floor on a program: name, size, wall, CPU [s], peak [MiB]."""
    files = [str(path) for path in write_program(folder, size, DRAWS)]
    python = [sys.executable, "-c"]
    rows = []
    for name, words in STEPS.items():
        more = files if name == "load" else []
        rows.append((name, size, *_run([*python, MAIN, *words, *more], folder)))
    answers = sum(1 for _ in (folder / "answers.csv").open(encoding="utf-8")) - 1
    peer = ["uv", "run", "-q", "--no-project", "--with", "pandas", "python", "-c"]
    _run([*peer, "import pandas"], folder)  # what is fetched is not timed
    rows += [
        ("pandas reads the files", size, *_run([*peer, PEER, *files], folder)),
        ("DuckDB reads the store", size, *_run([*python, SCAN, STORE_FILE], folder)),
        ("numpy copies the draws", size, *_run([*python, MOVE, str(1 + DRAWS), str(answers)])),
    ]
    return rows


def _run(words: list[str], folder: Path = ROOT) -> tuple[float, float, float]:
    """Run a process; its wall and processor seconds, and the most memory it held [MiB]."""
    began = time.monotonic()
    environment = os.environ | {"PYTHONPATH": str(ROOT)}
    with subprocess.Popen(
        words, cwd=folder, env=environment, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE
    ) as child:
        _, status, used = os.wait4(child.pid, 0)
        child.returncode = os.waitstatus_to_exitcode(status)
        if child.returncode:
            sys.exit(f"{words[:6]} ended with {child.returncode}:\n{child.stderr.read().decode()}")
    return time.monotonic() - began, used.ru_utime + used.ru_stime, used.ru_maxrss / MIB


def table(rows: list[tuple[str, int, float, float, float]]) -> list[str]:
    """Lay out the rows: each with its growth from the size before, and times its floor."""
    cpu = {(name, size): seconds for name, size, _, seconds, _ in rows}
    sizes = sorted({size for _, size, *_ in rows})
    floors = {"report": ("DuckDB reads the store", "numpy copies the draws")}
    against = {"load": "pandas reads the files"}
    lines = [
        "| step | households | wall s | CPU s | peak MiB | CPU over the size before | over floor | "
        "over peer |",
        "| --- | --- | --- | --- | --- | --- | --- | --- |",
    ]
    for name, size, wall, seconds, peak in rows:
        place = sizes.index(size)
        growth = f"{seconds / cpu[name, sizes[place - 1]]:.1f}" if place else ""
        floor = sum(cpu[one, size] for one in floors.get(name, ("DuckDB reads the store",)))
        over = f"{seconds / floor:.0f}" if name in STEPS else ""
        peer = f"{seconds / cpu[against[name], size]:.1f}" if name in against else ""
        lines.append(
            f"| {name} | {size:,} | {wall:.1f} | {seconds:.1f} | {peak:,.0f} | {growth} | {over} | "
            f"{peer} |"
        )
    if shutil.which("Rscript") is None:
        lines += ["", "R is not on this machine: nothing is set against it."]
    return lines


if __name__ == "__main__":
    main()
