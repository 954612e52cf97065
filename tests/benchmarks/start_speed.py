"""How long each command takes to start, next to importing polars and duckdb alone.

    python -m tests.benchmarks.start_speed [--write]

Every command runs in a process of its own in a folder without a program, so that it ends
where its work would begin: what is timed are Python, the command line and the imports of the
command and of its step in `planner/run.py`. Seconds are of the processor, the least of three,
since others may use the machine and the first run compiles what it imports; memory is the most
that the process held. With ``--write`` the table goes into README.md, the dearest command
first.
"""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
from multiprocessing.pool import ThreadPool

import typer

from planner.cli import app
from tests.benchmarks.results_page import write_table

REPEATS = 3
AT_A_TIME = 2
MOST_SECONDS_OF_HELP, MOST_SECONDS_ABOVE = 0.3, 0.7
MIB = 1024
MAIN = "from planner.cli import main; main()"
LINES = {
    "load": ["none.csv"],
    "undo": ["L0001"],
    "withdraw": ["handovers", "V1"],
    "sample": ["F1", "--kind", "followup", "--response", "0.5"],
    "restore": ["none.zip"],
    "erase": ["H1"],
    "look": ["none.xlsx"],
    "acquit": ["Nobody"],
    "evidence": ["pack"],
    "pool": ["none"],
    "explain": ["fed_t"],
    "figure": ["fed_t"],
    "factors": ["landfill"],
    "demo": ["here", "--town", "none"],
}
"""What a command must be told to begin."""

AT_ONCE = (["--help"], ["--version"], ["order", "--help"])


def main() -> None:
    """Tell seconds and memory of every command's start; fail where help or a command is slow."""
    commands = [[name, *LINES.get(name, [])] for name in typer.main.get_command(app).commands]
    # `new` needs no program and would do its work
    lines = [*AT_ONCE, *(words for words in commands if words[0] != "new")]
    with tempfile.TemporaryDirectory() as folder, ThreadPool(AT_A_TIME) as pool:
        base, held = least(["-c", "import polars, duckdb"], folder)
        found = pool.map(lambda words: least(["-c", MAIN, *words], folder), lines)
    rows = sorted(zip(found, lines, strict=True), reverse=True)
    told = ["| planner | CPU s | above polars and duckdb | peak MiB |", "| --- | --- | --- | --- |"]
    told += [f"| {' '.join(w[:2])} | {s:.2f} | {s - base:+.2f} | {m:.0f} |" for (s, m), w in rows]
    told.append(f"| import polars, duckdb | {base:.2f} | | {held:.0f} |")
    print("\n".join(told))
    if "--write" in sys.argv:
        write_table("start", "\n".join(told))
    most = {id(words): MOST_SECONDS_OF_HELP for words in AT_ONCE}
    slow = [w for (s, _), w in rows if s > most.get(id(w), base + MOST_SECONDS_ABOVE)]
    sys.exit(f"slow: {slow}" if slow else None)


def least(words: list[str], folder: str) -> tuple[float, float]:
    """Run Python some times; give the least processor seconds and the memory held [MiB]."""
    runs = [_run(words, folder) for _ in range(REPEATS)]
    return min(seconds for seconds, _ in runs), max(held for _, held in runs)


def _run(words: list[str], folder: str) -> tuple[float, float]:
    quiet = subprocess.DEVNULL
    told = {**os.environ, "PYTHONDONTWRITEBYTECODE": ""}
    ran = [sys.executable, *words]
    child = subprocess.Popen(ran, cwd=folder, stdout=quiet, stderr=quiet, env=told)
    _, _, used = os.wait4(child.pid, 0)
    child.returncode = 0
    return used.ru_utime + used.ru_stime, used.ru_maxrss / MIB


if __name__ == "__main__":
    main()
