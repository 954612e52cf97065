"""Kill every command hundreds of times.

    python -m tests.benchmarks.kill_study [--kills 16] [--seed 20260701] [--kept FILE] [--write]

The kills are for each command and way. Every command of the command line is killed at the moments
at which it changes its folder, and by SIGKILL at random moments in a fork of a process that has
imported it (tests/kill_points.py); so are those on the store with more rows, a store of an older
planner among them, for which the power is cut as often (tests/power_cuts.py). Prints a line a
command, every fault found and the sums; ends with 1 where there is a fault. What was found is
kept in a file; begun again, the study kills the commands that are missing there. `--write` puts
the sums into README.md.
"""

from __future__ import annotations

import argparse
import datetime as dt
import json
import shutil
import sys
import tempfile
from collections import Counter
from functools import cache
from pathlib import Path

import numpy as np

from tests.benchmarks.results_page import write_table
from tests.kill_points import (
    WORDS,
    WRITES_NOTHING,
    commands,
    prepare_folder,
    run_words,
    study_kills,
    study_points,
    torn_files,
)
from tests.killing import COMMANDS, CONTEXT, Findings, prepare, state, study
from tests.power_cuts import study_power_cuts

LIBRARIES = ("tests.kill_points", "openpyxl", "docxtpl", "scipy.optimize", "scipy.stats", "highspy")
"""What commands import on their way, and a fork finds imported."""

POINTS, KILLED, ON_STORE, CUT = "points", "killed", "killed, many rows", "cut off"


def main() -> int:
    """Study each command and print what was found."""
    asked = argparse.ArgumentParser()
    asked.add_argument("--kills", type=int, default=16)
    asked.add_argument("--seed", type=int, default=20260701)
    asked.add_argument("--kept", type=Path, default=Path(tempfile.gettempdir(), "kill_study.jsonl"))
    asked.add_argument("--write", action="store_true")
    given = asked.parse_args()
    CONTEXT.set_forkserver_preload([*LIBRARIES])
    missing = commands() - {*WORDS, *WRITES_NOTHING}
    print(f"commands that nobody kills: {', '.join(sorted(missing)) or 'none'}")
    with tempfile.TemporaryDirectory() as place:
        for way in (KILLED, POINTS, ON_STORE, CUT):
            for name in sorted(WORDS) if way in (KILLED, POINTS) else COMMANDS:
                # power cuts of a report are in tests/unit/report/test_replacing.py
                if (name, way) not in kept(given.kept) and (name not in WHOLE or way != CUT):
                    keep(given, name, way, Path(place))
        if ("commands that read", "run") not in kept(given.kept):
            keep(given, "commands that read", "run", Path(place))
    if given.write:
        write_table("kills", table(kept(given.kept)))
    return told(kept(given.kept)) or int(bool(missing))


def table(found: dict[tuple[str, str], dict]) -> str:
    """Write the sums of each way as a table."""
    lines = [f"| {dt.date.today():%-d %B %Y} | commands | kills | left as before | left whole |"
             " faults |", "| --- " * 6 + "|"]  # fmt: skip
    for way in (KILLED, POINTS, ON_STORE, CUT):
        ones = [one for (_, how), one in found.items() if how == way]
        if not ones:
            continue
        left = sum((Counter(one["left"]) for one in ones), Counter())
        cells = [len(ones), sum(one["kills"] for one in ones), left["before"], left["after"]]
        cells.append(sum(len(one["faults"]) for one in ones))
        lines.append(f"| {way} | {' | '.join(f'{cell:,}' for cell in cells)} |")
    return "\n".join(lines)


WHOLE = ("report", "issue")


def kept(path: Path) -> dict[tuple[str, str], dict]:
    """Read what was found of each command in each way."""
    lines = path.read_text("utf-8").splitlines() if path.exists() else []
    return {(one["name"], one["how"]): one for one in map(json.loads, lines)}


def keep(given: argparse.Namespace, name: str, way: str, place: Path) -> None:
    """Study one command in one way; keep and print what was found."""
    rng = np.random.default_rng([given.seed, len(name), len(way)])
    inner = Path(tempfile.mkdtemp(dir=place))
    try:
        found = studied(name, way, given.kills, rng, inner, place)
    except RuntimeError as error:
        found = Findings(faults=[str(error)])
    shutil.rmtree(inner)
    one = {"name": name, "how": way, "kills": found.kills, "left": found.left}
    one["faults"] = found.faults
    with given.kept.open("a", encoding="utf-8") as out:
        print(json.dumps(one), file=out)
    told({(name, way): one})


def studied(name, way, kills, rng, inner, place) -> Findings:
    """Study one command in one way."""
    if way in (ON_STORE, CUT):
        prepared = prepare(COMMANDS[name], inner)
        return (study if way == ON_STORE else study_power_cuts)(prepared, kills, rng, inner / way)
    town, before = loaded(place)
    if way == "run":
        return changed_by_reading(town, inner)
    return (study_points if way == POINTS else study_kills)(name, town, before, kills, rng, inner)


@cache
def loaded(place: Path) -> tuple[Path, str]:
    """Load the town that every command works on, once; return its folder and its state."""
    prepare_folder(place / "town")
    return place / "town", state(place / "town")


def changed_by_reading(town: Path, place: Path) -> Findings:
    """Run the commands that only read; name the files that one changed."""
    found = Findings()
    for name, words in WRITES_NOTHING.items():
        untouched = Path(shutil.copytree(town, place / name))
        # a figure is cited from an issue alone: to say that there is none writes nothing
        run_words(name, words, untouched, ends=(0, 2, 3))
        found.left["before"] += 1
        changed = torn_files(untouched, town, town)
        found.faults += [f"{name}: only reads, and changed {file}" for file in changed]
    return found


def told(found: dict[tuple[str, str], dict]) -> int:
    """Print what was found of commands and, of several, the sums; tell whether of any a fault."""
    for (name, way), one in found.items():
        left = ", ".join(f"{count} {state}" for state, count in sorted(one["left"].items()))
        faults = one["faults"]
        print(f"{name:10} {way:18} {one['kills']:4}; left: {left}; {len(faults)} faults")
        for fault in faults:
            print(f"    {fault}", flush=True)
    sums: Counter[str] = Counter()
    for (_, way), one in found.items():
        sums[way] += one["kills"]
    faults = sum(len(one["faults"]) for one in found.values())
    if len(found) > 1:
        print(f"{faults} faults; {', '.join(f'{count:,} {way}' for way, count in sums.items())}")
    return int(faults > 0)


if __name__ == "__main__":
    sys.exit(main())
