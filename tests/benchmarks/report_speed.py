"""Time to report on 200 areas and ten years: `python -m tests.benchmarks.report_speed`.

A town like Valdorra, with 200 areas of 400 dwellings and ten reporting years, is invented, loaded
and reported: counting, estimating, figures, workbook, charts, Word document and page. Ends with
code 1 where the report takes longer than it may.
"""

from __future__ import annotations

import dataclasses
import sys
import tempfile
import time
from pathlib import Path

from planner import run
from planner.paths import STORE_FILE
from sample_programs.generator.folders import write_town
from sample_programs.generator.towns import Area, Year
from sample_programs.generator.valdorra import VALDORRA

AREAS, FIRST_YEAR, LAST_YEAR = 200, 2016, 2025
REGISTRATIONS_PER_YEAR = 2_000
LIMIT_SECONDS = 30.0


def town():
    """Invent the town."""
    areas = tuple(
        Area(f"A{n:03d}", f"Area {n}", 300, 60, 40, 1_000, "residual_only", is_priority=False)
        for n in range(AREAS)
    )
    years = tuple(
        Year(str(year), REGISTRATIONS_PER_YEAR, 250_000.0, 40.0, 45.0, 1_800, 60.0)
        for year in range(FIRST_YEAR, LAST_YEAR + 1)
    )
    council = dataclasses.replace(VALDORRA.council, first_year=FIRST_YEAR)
    return dataclasses.replace(VALDORRA, areas=areas, years=years, council=council)


def main():
    """Invent, load and report; say how long each step of the report took."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        files = write_town(town(), folder, 20160101)
        spreadsheets = [path for path in files if path.suffix in (".xlsx", ".csv")]
        run.load(folder, spreadsheets, progress=print)
        print(f"records: {(folder / STORE_FILE).stat().st_size / 1e6:.0f} MB")
        begun = told = time.perf_counter()

        def progress(step):
            nonlocal told
            now = time.perf_counter()
            print(f"{now - told:6.1f} s until: {step}")
            told = now

        result = run.report(folder, str(LAST_YEAR), progress=progress)
        progress("the end")
        seconds = time.perf_counter() - begun
    count = len(list(result.register))
    print(f"{AREAS} areas, {LAST_YEAR - FIRST_YEAR + 1} years, {count:,} figures: {seconds:.1f} s")
    return seconds < LIMIT_SECONDS


if __name__ == "__main__":
    sys.exit(0 if main() else 1)
