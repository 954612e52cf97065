"""Kill every command hundreds of times: python tests/benchmarks/kill_study.py [KILLS [SEED]].

KILLS is for each command, 60 unless said; the power is cut as often. Prints a line a command
and every fault found; ends with 1 where there is one.
"""

from __future__ import annotations

import sys
import tempfile
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from tests.killing import COMMANDS, Findings, prepare, study
from tests.power_cuts import study_power_cuts


def main(kills: int, seed: int) -> int:
    """Study each command and print what was found."""
    print(f"{kills} kills and as many power cuts of each command, seed {seed}")
    faults = 0
    for command in COMMANDS.values():
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


def told(name: str, how: str, found: Findings) -> int:
    """Print what was found of one command and count its faults."""
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
    sys.exit(main(*given, *(60, 20260701)[len(given) :]))
