"""Results kept in a file, a line a council, so that a study can go on where it stopped."""

from __future__ import annotations

import hashlib
import json
from pathlib import Path

ROOT = Path(__file__).parents[3]
ESTIMATED_BY = (
    "planner/survey/*.py",
    "planner/diversion/*.py",
    "planner/worms/*.py",
    "planner/report/*.py",
    "planner/factors/feed.csv",
    "planner/factors/worms.csv",
    "queries/stage/*.sql",
    "queries/summary/*.sql",
    "sample_programs/generator/*.py",
    "tests/benchmarks/councils/council.py",
    "tests/benchmarks/councils/designs.py",
)


def stamp(draws_count: int) -> str:
    """Sum up everything that a result depends on; another stamp's results do not count."""
    digest = hashlib.sha256(str(draws_count).encode())
    for pattern in ESTIMATED_BY:
        for path in sorted(ROOT.glob(pattern)):
            digest.update(path.read_bytes())
    return digest.hexdigest()[:12]


def read_results(path: Path, wanted_stamp: str) -> dict[tuple[str, int], dict]:
    """Read the results of one stamp, by design and seed; a line cut short is left out."""
    if not path.exists():
        return {}
    found = {}
    for line in path.read_text(encoding="utf-8").splitlines():
        try:
            row = json.loads(line)
        except json.JSONDecodeError:
            continue  # the study was stopped while it wrote this line
        if row["stamp"] == wanted_stamp:
            found[row["design"], row["seed"]] = row
    return found


def keep_result(path: Path, row: dict) -> None:
    """Write one result at the end of the file."""
    with path.open("a", encoding="utf-8") as lines:
        lines.write(json.dumps(row) + "\n")
