"""How long each command takes to start, next to importing polars and duckdb alone.

    python -m tests.benchmarks.start_speed

Every command runs in a process of its own in a folder without a program, so that it ends
where its work would begin: what is timed are Python, the command line and the imports of the
command and of its step in `planner/run.py`. Seconds are of the processor, the least of three,
since others may use the machine; memory is the most that the process held.
"""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile

import typer

from planner.cli import app

REPEATS = 3
MOST_SECONDS_OF_HELP = 0.3
MIB = 1024
MAIN = "from planner.cli import main; main()"
LINES = {
    "load": ["none.csv"],
    "undo": ["L0001"],
    "withdraw": ["handovers", "V1"],
    "sample": ["F1", "--kind", "followup", "--response", "0.5"],
    "restore": ["none.zip"],
    "erase": ["H1"],
    "explain": ["fed_t"],
    "factors": ["landfill"],
    "demo": ["here", "--town", "none"],
}
"""What a command must be told to begin."""

AT_ONCE = (["--help"], ["--version"], ["order", "--help"])


def main() -> None:
    """Print seconds and memory of every command's start; fail where help is slow."""
    with tempfile.TemporaryDirectory() as folder:
        base, held = least(["-c", "import polars, duckdb"], folder)
        print(f"import polars, duckdb      {base:5.2f} s          {held:4.0f} MiB")
        slow = [words for words in AT_ONCE if told(words, folder, base) > MOST_SECONDS_OF_HELP]
        for name in typer.main.get_command(app).commands:
            if name != "new":  # that needs no program and would do its work
                told([name, *LINES.get(name, [])], folder, base)
    sys.exit(f"over {MOST_SECONDS_OF_HELP} s: {slow}" if slow else None)


def told(words: list[str], folder: str, base: float) -> float:
    """Print what the start of a command takes, and return the seconds."""
    seconds, held = least(["-c", MAIN, *words], folder)
    line, times = " ".join(words)[:18], seconds / base
    print(f"planner {line:18} {seconds:5.2f} s {times:6.1f} × {held:4.0f} MiB")
    return seconds


def least(words: list[str], folder: str) -> tuple[float, float]:
    """Run Python some times; give the least processor seconds and the memory held [MiB]."""
    runs = [_run(words, folder) for _ in range(REPEATS)]
    return min(seconds for seconds, _ in runs), max(held for _, held in runs)


def _run(words: list[str], folder: str) -> tuple[float, float]:
    quiet = subprocess.DEVNULL
    child = subprocess.Popen([sys.executable, *words], cwd=folder, stdout=quiet, stderr=quiet)
    _, _, used = os.wait4(child.pid, 0)
    child.returncode = 0
    return used.ru_utime + used.ru_stime, used.ru_maxrss / MIB


if __name__ == "__main__":
    main()
