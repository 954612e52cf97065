"""Print which share of each package's lines the tests ran, and name those under 90%.

    python .ci/coverage_by_package.py coverage.json

Processes that the tests start are not counted: vetting and part of pooling work in those.
"""

from __future__ import annotations

import json
import sys
from collections import Counter
from pathlib import Path

LEAST_SHARE = 0.9


def main(report: Path) -> None:
    """Print a row a package, and name those under the least share."""
    run, lines = Counter[str](), Counter[str]()
    for name, file in json.loads(report.read_text(encoding="utf-8"))["files"].items():
        for package in (_package(Path(name)), "all"):
            run[package] += file["summary"]["covered_lines"]
            lines[package] += file["summary"]["num_statements"]
    shares = {name: run[name] / count for name, count in sorted(lines.items()) if count}
    for name, share in shares.items():
        print(f"{name:12} {lines[name]:6,} lines {share:6.1%}")
    low = [name for name, share in shares.items() if share < LEAST_SHARE]
    if low:
        print(f"under {LEAST_SHARE:.0%}: {', '.join(low)}")


def _package(path: Path) -> str:
    """Name the package of a module; one that stands alone counts with the others that do."""
    return path.parts[1] if len(path.parts) > 2 else "planner"


if __name__ == "__main__":
    main(Path(sys.argv[1]))
