"""Time to say 200 areas and ten years: `python -m tests.benchmarks.report_speed`.

The figures of a sample program are copied until there are 200 areas and 120 months of them;
what is timed is everything from the register on: figures, workbook, charts, Word document,
page, and putting them in their place. Ends with code 1 where that takes longer than it may.
"""

from __future__ import annotations

import dataclasses
import datetime as dt
import re
import sys
import tempfile
import time
from pathlib import Path

from planner import run
from planner.factors import read_factors
from planner.figures import FigureRegister
from planner.report.document.contents import Contents
from planner.report.folder import write_report
from tests.unit.report import synthetic

TOWN = "thornquay"
AREAS, MONTHS = 200, 120
LIMIT_SECONDS = 30.0
_MONTH = re.compile(r"\d{4}-(0[1-9]|1[0-2])")


def copied(register: FigureRegister, area_ids: list[str]) -> FigureRegister:
    """Copy the figures of areas and months until there are enough of both."""
    names = [f"A{n:03d}" for n in range(AREAS)]
    made = dataclasses.replace(register, _figures={})
    for figure in register:
        if figure.part in area_ids:
            continue
        if _MONTH.fullmatch(figure.part) and f"{figure.id.partition('[')[0]}" not in done(made):
            add_months(made, register, figure.id.partition("[")[0])
        elif not _MONTH.fullmatch(figure.part):
            made.add(figure)
            for n, name in enumerate(names):
                of_area = f"{figure.id}[{area_ids[n % len(area_ids)]}]"
                if of_area in register:
                    part = dataclasses.replace(register[of_area], id=f"{figure.id}[{name}]")
                    made.add(part)
    return made


def done(register: FigureRegister) -> set[str]:
    """Name the figures whose months are there."""
    return {f.id.partition("[")[0] for f in register if _MONTH.fullmatch(f.part)}


def add_months(made: FigureRegister, register: FigureRegister, name: str) -> None:
    """Add a figure's months; those before the first month are copies of it."""
    parts = register.parts(name)
    first, last = dt.date.fromisoformat(f"{min(parts)}-01"), max(parts)
    end = int(last[:4]) * 12 + int(last[5:]) - 1
    for n in range(end - MONTHS + 1, end + 1):
        month = f"{n // 12}-{n % 12 + 1:02d}"
        source = parts.get(month, parts[f"{first:%Y-%m}"])
        made.add(dataclasses.replace(source, id=f"{name}[{month}]"))


def main() -> bool:
    """Report the sample, copy its figures, write them and say how long that took."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name) / "sample"
        result = run.demo(folder, TOWN)
    areas = list(result.register.parts("kept_out_of_landfill_t"))
    register = copied(result.register, areas)
    area_names = {f"A{n:03d}": f"Area {n}" for n in range(AREAS)}
    print(f"{AREAS} areas, {MONTHS} months: {len(list(register)):,} figures")
    with tempfile.TemporaryDirectory() as name:
        begun, worked = time.perf_counter(), time.process_time()
        told = register, result.program, read_factors(), area_names, synthetic.quality()
        files, _ = write_report(Path(name), Contents(*told))
        seconds, of_work = time.perf_counter() - begun, time.process_time() - worked
        size = sum(path.stat().st_size for path in files)
    print(f"{len(files)} files, {size / 1e6:.1f} MB")
    print(f"{seconds:.1f} s, of which {of_work:.1f} s of work")
    return seconds < LIMIT_SECONDS


if __name__ == "__main__":
    sys.exit(0 if main() else 1)
