"""Kill every command hundreds of times: python tests/benchmarks/kill_study.py [KILLS [SEED]].

KILLS is for each command, 20 unless said. Every command of the command line is killed at the
moments at which it changes its folder (tests/kill_points.py); those on the store at random
moments as well, and the power is cut as often. Prints a line a command and every fault found;
ends with 1 where there is one. What was found is kept in kill_study.jsonl in the folder for
temporary files; begun again, the study kills the commands that are missing there.
"""

from __future__ import annotations

import json
import shutil
import sys
import tempfile
from collections import Counter
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from tests.kill_points import (
    NOT_KILLED,
    WORDS,
    WRITES_NOTHING,
    commands,
    prepare_folder,
    run_words,
    study_points,
    torn_files,
)
from tests.killing import COMMANDS, Findings, prepare, state, study
from tests.power_cuts import study_power_cuts


def main(kills: int, seed: int) -> int:
    """Study each command and print what was found."""
    print(f"{kills} kills and as many power cuts of each command, seed {seed}")
    faults = killed_at_points(kills, seed)
    for command in COMMANDS.values():
        if (before_now := known(command.name, "killed")) is not None:
            faults += told(command.name, "killed", before_now)
            continue
        rng = np.random.default_rng([seed, len(command.name)])
        with tempfile.TemporaryDirectory() as folder:
            prepared = prepare(command, Path(folder))
            found = study(prepared, kills, rng, Path(folder) / "kills")
            faults += told(command.name, "killed", found)
            # those of a report are in tests/unit/report/test_replacing.py
            if command.name not in ("report", "issue"):
                found = study_power_cuts(prepared, kills, rng, Path(folder) / "cuts")
                faults += told(command.name, "cut off", found)
    return int(faults > 0)


def killed_at_points(kills: int, seed: int) -> int:
    """Kill each command of the command line at its own moments; count the faults."""
    missing = commands() - {*WORDS, *WRITES_NOTHING, *NOT_KILLED}
    print(f"commands that nobody kills: {', '.join(sorted(missing)) or 'none'}")
    faults = len(missing)
    with tempfile.TemporaryDirectory() as folder:
        prepared = Path(folder) / "prepared"
        prepare_folder(prepared)
        before = state(prepared)
        for name, words in WRITES_NOTHING.items():
            untouched = Path(shutil.copytree(prepared, Path(folder) / name))
            # a figure is cited from an issue alone: to say that there is none writes nothing
            run_words(name, words, untouched, ends=(0, 2, 3))
            if changed := torn_files(untouched, prepared, prepared):
                print(f"{name}: only reads, and changed {', '.join(changed)}")
                faults += 1
        for name in sorted(WORDS):
            if (before_now := known(name, "points")) is not None:
                faults += told(name, "points", before_now)
                continue
            rng = np.random.default_rng([seed, len(name)])
            place = Path(folder) / f"points of {name}"
            place.mkdir()
            try:
                found = study_points(name, prepared, before, kills, rng, place)
            except RuntimeError as error:
                found = Findings(faults=[str(error)])
            faults += told(name, "points", found)
            shutil.rmtree(place)
    return faults


KEPT = Path(tempfile.gettempdir(), "kill_study.jsonl")


def known(name: str, how: str) -> Findings | None:
    """Read what an earlier run found of a command."""
    lines = KEPT.read_text("utf-8").splitlines() if KEPT.exists() else []
    found = [one for one in map(json.loads, lines) if (one["name"], one["how"]) == (name, how)]
    last = found[-1] if found else None
    return last and Findings(kills=last["kills"], left=Counter(last["left"]), faults=last["faults"])


def told(name: str, how: str, found: Findings) -> int:
    """Keep and print what was found of one command and count its faults."""
    if known(name, how) is None:
        one = {"name": name, "how": how, "kills": found.kills}
        with KEPT.open("a", encoding="utf-8") as out:
            print(json.dumps({**one, "left": found.left, "faults": found.faults}), file=out)
    left = ", ".join(f"{count} {state}" for state, count in sorted(found.left.items()))
    print(
        f"{name:10} {how:8} {found.kills:4} before its end; left: {left}; "
        f"{len(found.faults)} faults",
        flush=True,
    )
    for fault in found.faults:
        print(f"    {fault}", flush=True)
    return len(found.faults)


if __name__ == "__main__":
    given = [int(word) for word in sys.argv[1:]]
    sys.exit(main(*given, *(20, 20260701)[len(given) :]))
