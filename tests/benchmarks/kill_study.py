"""Kill every command hundreds of times: python tests/benchmarks/kill_study.py [KILLS [SEED]].

KILLS is for each command, 60 unless said. Prints a line a command and every fault found;
ends with 1 where there is one.
"""

from __future__ import annotations

import sys
import tempfile
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from tests.killing import COMMANDS, study


def main(kills: int, seed: int) -> int:
    """Study each command and print what was found."""
    faults = 0
    print(f"{kills} kills of each command, seed {seed}")
    for command in COMMANDS.values():
        rng = np.random.default_rng([seed, len(command.name)])
        with tempfile.TemporaryDirectory() as folder:
            found = study(command, kills, rng, Path(folder))
        faults += len(found.faults)
        left = ", ".join(f"{count} {name}" for name, count in sorted(found.left.items()))
        print(
            f"{command.name:10} {found.seconds:6.2f} s whole; {found.kills:4} killed in it; "
            f"left: {left}; {len(found.faults)} faults",
            flush=True,
        )
        for fault in found.faults:
            print(f"    {fault}", flush=True)
    return int(faults > 0)


if __name__ == "__main__":
    given = [int(word) for word in sys.argv[1:]]
    sys.exit(main(*given, *(60, 20260701)[len(given) :]))
