"""Time to report on 200 areas and ten years: `python -m tests.benchmarks.report_speed [DRAWS]`.

A town like Valdorra, with 200 areas of 400 dwellings and ten reporting years, is invented, loaded
and reported: counting, estimating, then figures, workbook, charts, Word document and page. Ends
with code 1 where what is said (all after the estimates) takes longer than it may.
"""

from __future__ import annotations

import dataclasses
import re
import sys
import tempfile
import time
from itertools import pairwise
from pathlib import Path

from planner import run
from planner.paths import PROGRAM_FILE, STORE_FILE
from sample_programs.generator.folders import write_town
from sample_programs.generator.towns import Area, Year
from sample_programs.generator.valdorra import VALDORRA

AREAS, FIRST_YEAR, LAST_YEAR = 200, 2016, 2025
REGISTRATIONS_PER_YEAR = 600
LIMIT_SECONDS = 30.0


def town():
    """Invent the town."""
    areas = tuple(
        Area(f"A{n:03d}", f"Area {n}", 300, 60, 40, 1_000, "residual_only", is_priority=False)
        for n in range(AREAS)
    )
    years = tuple(
        Year(str(year), REGISTRATIONS_PER_YEAR, 90_000.0, 40.0, 45.0, 550, 20.0)
        for year in range(FIRST_YEAR, LAST_YEAR + 1)
    )
    council = dataclasses.replace(VALDORRA.council, first_year=FIRST_YEAR)
    return dataclasses.replace(VALDORRA, areas=areas, years=years, council=council)


def main(draws_count=1000):
    """Invent, load and report; say how long each step of the report took."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        files = write_town(town(), folder, 20160101)
        spreadsheets = [path for path in files if path.suffix in (".xlsx", ".csv")]
        program = folder / PROGRAM_FILE
        text = re.sub(r"draws_count = \d+", f"draws_count = {draws_count}", program.read_text())
        program.write_text(text, encoding="utf-8")
        run.load(folder, spreadsheets)
        print(f"records: {(folder / STORE_FILE).stat().st_size / 1e6:.0f} MB")
        told = [(time.perf_counter(), "")]
        result = run.report(
            folder,
            str(LAST_YEAR),
            progress=lambda step: told.append((time.perf_counter(), step)),
        )
        told.append((time.perf_counter(), ""))
    for (begun, step), (ended, _) in pairwise(told):
        print(f"{ended - begun:6.1f} s  {step or 'Opening'}")
    seconds = told[-1][0] - told[-2][0]
    count = len(list(result.register))
    print(f"{AREAS} areas, {LAST_YEAR - FIRST_YEAR + 1} years, {count:,} figures: {seconds:.1f} s")
    return seconds < LIMIT_SECONDS


if __name__ == "__main__":
    sys.exit(0 if main(*map(int, sys.argv[1:])) else 1)
