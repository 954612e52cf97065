"""Time and peak memory of loading a state's households from .xlsx and from .csv.

Run: python -m tests.benchmarks.load_speed --rows 1000000

Each load runs in a process of its own, into a new store, through every check. Peak memory
is that process's high-water mark (VmHWM of /proc/self/status, so Linux alone). Beside it
stands the plain reading of the same workbook by openpyxl with read_only=True, a general
reader, for a ratio of times taken in the same run.
"""

from __future__ import annotations

import argparse
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import openpyxl
import polars as pl

from planner.loading import load_files
from planner.paths import PROGRAM_FILE, TEMPLATES
from planner.program import read_program
from planner.store import open_store

AREAS = (
    "area_id,area_name,houses_count,townhouses_count,apartments_count,residents_count,"
    "kerbside_service,is_priority\n"
)
AREA = "A{0},Area {0},90000,9000,900,250000,residual_only,no\n"
AREAS_COUNT = 20


def invented_households(rows: int) -> pl.DataFrame:
    """Make households of an invented state, as a register would export them."""
    number = pl.int_range(rows)
    return pl.select(
        pl.format("H{}", number).alias("household_id"),
        pl.format("A{}", number % AREAS_COUNT).alias("area_id"),
        (number % 3).replace_strict({0: "house", 1: "townhouse", 2: "flat"}).alias("dwelling"),
        (number % 6 + 1).alias("people_count"),
        (pl.date(2025, 1, 1) + pl.duration(days=number % 365)).alias("registered_date"),
        pl.lit("online").alias("channel"),
        pl.when(number % 2 == 0).then(pl.lit("yes")).otherwise(pl.lit("no")).alias("may_contact"),
    )


def write_workbook(path: Path, households: pl.DataFrame) -> None:
    """Write the register as a workbook, row by row as a register's export does."""
    book = openpyxl.Workbook(write_only=True)
    sheet = book.create_sheet("households")
    sheet.append(households.columns)
    for row in households.iter_rows():
        sheet.append(row)
    book.save(path)


def load_one(path: Path) -> None:
    """Load the areas and one file into a new store and print what it took."""
    program = read_program(TEMPLATES / PROGRAM_FILE)
    with tempfile.TemporaryDirectory() as place:
        folder = Path(place)
        areas = folder / "areas.csv"
        areas.write_text(AREAS + "".join(AREA.format(n) for n in range(AREAS_COUNT)), "utf-8")
        began = time.monotonic()
        result = load_files(folder, program, [areas, path], dry_run=False, progress=lambda _: None)
        took = time.monotonic() - began
        with open_store(folder, read_only=True) as store:
            stored = store.keys("households").height
    new = int(result.files[1].counts["new_count"].sum())
    peak = Path("/proc/self/status").read_text(encoding="ascii").split("VmHWM:")[1].split()[0]
    mib = int(peak) / 1024
    sys.stdout.write(
        f"{path.name}: {path.stat().st_size / 1024**2:.0f} MiB, {new:,} new, {stored:,} stored, "
        f"{took:.1f} s, peak {mib:,.0f} MiB\n"
    )


def read_plainly(path: Path) -> None:
    """Read every cell of the workbook with a general reader and print the time."""
    began = time.monotonic()
    book = openpyxl.load_workbook(path, read_only=True)
    rows = sum(1 for _ in book["households"].iter_rows(values_only=True))
    took = time.monotonic() - began
    sys.stdout.write(f"openpyxl, reading alone: {rows:,} rows, {took:.1f} s\n")


def main() -> None:
    """Make the files and load each in a process of its own."""
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--rows", type=int, default=1_000_000)
    asked.add_argument("--load", type=Path)
    asked.add_argument("--plain", type=Path)
    given = asked.parse_args()
    if given.load:
        load_one(given.load)
    elif given.plain:
        read_plainly(given.plain)
    else:
        with tempfile.TemporaryDirectory() as place:
            households = invented_households(given.rows)
            text, book = Path(place) / "households.csv", Path(place) / "households.xlsx"
            households.write_csv(text, date_format="%d/%m/%Y")
            write_workbook(book, households)
            for words in (["--load", text], ["--load", book], ["--plain", book]):
                command = [sys.executable, "-m", "tests.benchmarks.load_speed", *map(str, words)]
                subprocess.run(command, check=True)


if __name__ == "__main__":
    main()
