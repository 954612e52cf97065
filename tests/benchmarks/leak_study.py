"""Try to find single households in what is given out: python -m tests.benchmarks.leak_study.

Arguments: [PROGRAMS [SEED [EDIT...]]]; 3 programs and every edit unless said. A program is an
invented council with a threshold of its own, whose report is issued. Then its records change a
little - a household added, taken out or moved, an area merged into another, a report of a day
later - and every command that writes for readers is run again. Somebody who keeps all the files
attacks them:

* every number of every new file is set against the issue, where but few households changed;
* so is every byte of every file of the report, be it a page, a paper, a workbook or a chart;
* plans and orders are read part by part for the words that keep them from readers;
* hidden counts, and small changes of counts, are bounded by integer programs from all sums;
* every product and ratio of two shown figures is held against every hidden total.

Nothing here shares code with the control. Prints a line an edit; ends with 1 at one recovery.
"""

from __future__ import annotations

import datetime as dt
import json
import shutil
import sys
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path

import duckdb
import numpy as np
import openpyxl

from planner import issuing, reporting, run
from planner.errors import PlannerError
from planner.loading import load_files
from planner.ordering.request import OrderRequest
from planner.paths import SAMPLE_PROGRAMS, STORE_FILE
from planner.pooling.exporting import give_out_export
from planner.report.plan.making import make_plan_of
from planner.reporting import write_pace
from planner.store.migrations import utc_now
from planner.store.undoing import withdraw_record
from planner.whole_programs import least_integer

TOWN, LABEL, START, END = "port_marrow", "2025-26", "2025-07", "2026-07"
LAST_DAY = dt.date(2026, 6, 30)
DRAWS, EDITS = 100, ("added", "taken out", "moved", "merged", "a day later")
FEW = ("added", "taken out", "moved")
"""Edits of one household."""

MANY = 1e6
"""Most that a hidden count is taken to be: far beyond every true one."""

REPRINTED = "As given out before"
EXACT = 1e-10
OFFICE, TO_SUPPLIERS = "in the office", "to its suppliers alone"
ORDERED = OrderRequest(dt.date(2026, 7, 1), dt.date(2026, 12, 31))

Counts = dict[tuple[str, str], float]


def main(programs: int, seed: int, edits: tuple[str, ...]) -> int:
    """Study so many programs and print what was found."""
    leaks = 0
    for place in range(programs):
        rng = np.random.default_rng([seed, place])
        with tempfile.TemporaryDirectory() as name:
            base = Path(name) / "base"
            threshold = make(base, rng)
            for edit in edits:
                began = time.process_time()
                folder = Path(shutil.copytree(base, Path(name) / edit.replace(" ", "_")))
                found = [*attacked(folder, edit, threshold, rng)]
                leaks += len(found)
                took = time.process_time() - began
                print(
                    f"program {place + 1}, threshold {threshold}, {edit:11}: "
                    f"{len(found)} recovered ({took:.0f} CPU s)",
                    flush=True,
                )
                for words in found:
                    print(f"    {words}", flush=True)
    print(f"{leaks} recovered")
    return int(leaks > 0)


def make(folder: Path, rng: np.random.Generator) -> int:
    """Make a council's folder, load it, issue its year; return its threshold."""
    shutil.copytree(SAMPLE_PROGRAMS / TOWN, folder)
    threshold = int(rng.integers(5, 50))
    program = folder / "program.toml"
    text = program.read_text("utf-8")
    text = text.replace("small_cell_threshold = 10", f"small_cell_threshold = {threshold}")
    assert f"= {threshold}" in text
    program.write_text(text.replace("draws_count = 1000", f"draws_count = {DRAWS}"), "utf-8")
    load_files(folder, sorted(folder.glob("*.xlsx")), day=LAST_DAY)
    issuing.issue(folder, LABEL, day=LAST_DAY)
    run.order(folder, ORDERED)
    return threshold


def attacked(folder: Path, edit: str, threshold: int, rng: np.random.Generator) -> Iterator[str]:
    """Change the records, run every command, and give what an attacker recovers."""
    before, issue = truth(folder), next(iter(registers(folder / "issued")))
    change(folder, edit, rng)
    after, refused = truth(folder), written(folder, edit)
    for path in (folder / "report", folder / "progress", folder / "sizing"):
        for name, new in zip([path.name] * 9, registers(path), strict=False):
            if name == "sizing":
                yield from unmarked(path / "size.xlsx", edit)
                continue
            if edit in FEW:
                yield from (f"{name}: {one} differs" for one in differing(issue, new))
            if new != issue:
                yield from by_month(issue, new, threshold)
            if new != issue and new["bins_given"]["label"] == issue["bins_given"]["label"]:
                yield from bounded(issue, new, before, after, edit, threshold)
                yield from formulas(new, after, name)
    if edit in FEW:
        yield from reprinted(folder, edit, refused)


def reprinted(folder: Path, edit: str, refused: set[str]) -> Iterator[str]:
    """Name what was written after one changed household and tells of it.

    These are files of the report that are not, byte for byte, those of the issue, an export, and
    an order that does not say who may see it.
    """
    if "export" not in refused:
        yield "export: written after one household changed"
    for book in sorted(folder.glob("orders/*/order.xlsx")):
        yield from unmarked(book, edit, TO_SUPPLIERS)
    (issued,) = folder.glob("issued/0*")
    for path in sorted(path for path in (folder / "report").rglob("*") if path.is_file()):
        twin = issued / path.relative_to(folder / "report")
        if not path.name.startswith(".") and (
            not twin.exists() or twin.read_bytes() != path.read_bytes()
        ):
            yield f"report/{path.name}: is not that of the issue"


def change(folder: Path, edit: str, rng: np.random.Generator) -> None:
    """Change the records as an officer would."""
    with duckdb.connect(str(folder / STORE_FILE), read_only=True) as store:
        given = store.execute(
            "select handover_id, household_id, area_id, dwelling, people_count, registered_date "
            "from handovers join households using (household_id) "
            "where handover_date >= date '2025-07-01' order by handover_id"
        ).fetchall()
    handover, household, area, dwelling, people, day = given[rng.integers(len(given))]
    areas = sorted({row[2] for row in given})
    other = areas[(areas.index(area) + 1) % len(areas)]
    head = "household_id,area_id,dwelling,people_count,registered_date,channel,may_contact\n"
    if edit == "taken out":
        withdraw_record(folder, "handovers", [handover], utc_now())
        return
    if edit == "a day later":
        return
    if edit == "merged":
        moved = {row[1]: row for row in given if row[2] == area}
        lines = [f"{h},{other},{r[3]},{r[4]},{r[5]},online,yes\n" for h, r in moved.items()]
    elif edit == "moved":
        lines = [f"{household},{other},{dwelling},{people},{day},online,yes\n"]
    else:
        lines = [f"NEW-1,{area},house,3,2025-09-01,online,yes\n"]
    (folder / "households.csv").write_text(head + "".join(lines), "utf-8")
    files = [folder / "households.csv"]
    if edit == "added":
        files.append(folder / "handovers.csv")
        files[1].write_text(
            "handover_id,household_id,event_id,model_id,handover_date,worms_kg,bedding_kg,"
            "copayment,serial\nNEW-B1,NEW-1,,two_tray,2025-10-10,0.25,1.3,20,\n",
            "utf-8",
        )
    load_files(folder, files)


def written(folder: Path, edit: str) -> set[str]:
    """Run every command that writes figures for readers; return those that refused."""
    later = LAST_DAY + dt.timedelta(days=1) if edit == "a day later" else None
    commands = {
        "report": lambda: reporting.report(folder, LABEL, as_of=later),
        "progress": lambda: write_pace(folder, LABEL, as_of=dt.date(2026, 1, 31)),
        "size": lambda: make_plan_of(folder),
        "export": lambda: give_out_export(folder, LABEL, as_of=later),
        "order": lambda: run.order(folder, ORDERED, force=True),
    }
    refused = set()
    for name, command in commands.items():
        try:
            command()
        except PlannerError:
            refused.add(name)
    return refused


def registers(folder: Path) -> Iterator[dict[str, dict]]:
    """Read every file of figures below a folder, by id."""
    for path in sorted(folder.rglob("figures.json")):
        figures = json.loads(path.read_text("utf-8"))["figures"]
        yield {figure["id"]: figure for figure in figures}


def truth(folder: Path) -> Counts:
    """Count bins by area and month of the year, and by month before it, from the records."""
    with duckdb.connect(str(folder / STORE_FILE), read_only=True) as store:
        rows = store.execute(
            "select area_id, strftime(handover_date, '%Y-%m'), count(*) "
            "from handovers join households using (household_id) group by all"
        ).fetchall()
    found: Counts = {("year", ""): 0.0, ("to date", ""): 0.0}
    for area, month, count in rows:
        found["month", month] = found.get(("month", month), 0.0) + count
        found["to date", ""] += count
        if START <= month < END:
            found["area", area] = found.get(("area", area), 0.0) + count
            found["year", ""] += count
    return found


def cell(figure_id: str) -> tuple[str, str] | None:
    """Name the count of a figure, if it is one of bins given."""
    name, _, part = figure_id.removesuffix("]").partition("[")
    kinds = {"bins_given": "area" if part else "year", "bins_given_in_month": "month"}
    kinds["bins_given_to_date"] = "to date"
    return (kinds[name], part) if name in kinds else None


def differing(issue: dict[str, dict], new: dict[str, dict]) -> list[str]:
    """List the figures of the same year and time that read otherwise."""
    if new["bins_given"]["label"] != issue["bins_given"]["label"]:
        return []
    shown = [one for one, figure in new.items() if figure["value"] is not None and one in issue]
    return [one for one in shown if new[one]["value"] != issue[one]["value"]]


def by_month(issue: dict[str, dict], new: dict[str, dict], threshold: int) -> Iterator[str]:
    """Find months that two outputs of any periods show and that a few bins part."""
    for one in [one for one in new if (cell(one) or ("",))[0] == "month" and one in issue]:
        was, now = issue[one]["value"], new[one]["value"]
        if was is not None and now is not None and 0 < abs(now - was) < threshold:
            yield f"{one}: {was:.0f} became {now:.0f}"
    yield from by_sum(issue, new, threshold)


def by_sum(issue: dict[str, dict], new: dict[str, dict], threshold: int) -> Iterator[str]:
    """Set a sum of a page of progress, against an issue's months."""
    months = [one for one in new if (cell(one) or ("",))[0] == "month" and one in issue]
    for name in ("bins_given", "bins_given_to_date"):
        now = new[name]["value"] if name in new else None
        known = [
            issue[one]["value"]
            for one in months
            if name != "bins_given" or START <= cell(one)[1] < END
        ]
        if (
            now is None
            or None in known
            or new["bins_given"]["label"] == issue["bins_given"]["label"]
        ):
            continue
        if 0 < abs(now - sum(known)) < threshold:
            yield f"{name}: the issue's months make {sum(known):.0f}, shown is {now:.0f}"


def unmarked(path: Path, edit: str, words: str = OFFICE) -> Iterator[str]:
    """Say that a plan or order after one changed household does not say who may see it."""
    sheets = openpyxl.load_workbook(path, read_only=True).worksheets
    said = any(
        words in str(value) for sheet in sheets for row in sheet.values for value in row if value
    )
    if edit in FEW and not said:
        yield f"{path.name}: does not say {words}"


def bounded(
    issue: dict[str, dict],
    new: dict[str, dict],
    before: Counts,
    after: Counts,
    edit: str,
    threshold: int,
) -> Iterator[str]:
    """Bound small hidden counts and small changes by integer programs over both outputs."""
    names = sorted({cell(one) for register in (issue, new) for one in register} - {None})
    size, columns = len(names), {name: place for place, name in enumerate(names)}
    halves = [_known(issue, before, columns, edit), _known(new, after, columns, edit)]
    low, high = (np.concatenate(ends) for ends in zip(*halves, strict=True))
    limits: list[tuple] = [(np.kron(np.eye(2), _sums(names)), 0.0, 0.0)]
    if edit in ("added", "taken out"):
        grown = np.hstack([-np.eye(size), np.eye(size)]) * (1.0 if edit == "added" else -1.0)
        limits.append((grown, 0.0, np.inf))
    for name in names:
        was, now = before.get(name, 0.0), after.get(name, 0.0)
        one = np.eye(2 * size)[[columns[name], size + columns[name]]]
        for aim, true in ((one[0], was), (one[1], now), (one[1] - one[0], abs(now - was))):
            if 0 < true < threshold and _width(aim, low, high, limits) < threshold - 1:
                yield f"{name}: {true:.0f} is bounded too closely"


def _known(
    register: dict[str, dict], true: Counts, columns: dict[tuple[str, str], int], edit: str
) -> tuple[np.ndarray, np.ndarray]:
    """Least and most of every count by what one output says of it alone."""
    low, high = np.zeros(len(columns)), np.full(len(columns), MANY)
    for one, figure in register.items():
        name = cell(one)
        if name and figure["value"] is not None and REPRINTED not in figure["method"]:
            assert figure["value"] == true.get(name, 0.0), (edit, one, figure["value"])
            low[columns[name]] = high[columns[name]] = figure["value"]
    return low, high


def _sums(names: list[tuple[str, str]]) -> np.ndarray:
    """Write the sums that hold in every output: areas and months of the year, all months."""
    of_areas = [place for place, name in enumerate(names) if name[0] == "area"]
    months = [place for place, name in enumerate(names) if name[0] == "month"]
    of_year = [place for place in months if START <= names[place][1] < END]
    rows = np.zeros((3, len(names)))
    for row, parts, whole in zip(
        rows, (of_areas, of_year, months), ("year", "year", "to date"), strict=True
    ):
        row[parts], row[names.index((whole, ""))] = 1.0, -1.0
    return rows


def _width(aim: np.ndarray, low: np.ndarray, high: np.ndarray, limits: list[tuple]) -> float:
    """Room that all sums leave for a count or a change; none where it is printed."""
    ends = [least_integer(sign * aim, limits, low, high, 1) for sign in (1.0, -1.0)]
    least, most = (float(aim @ found.values) for found in ends)
    return most - least


def formulas(new: dict[str, dict], after: Counts, name: str) -> Iterator[str]:
    """Find ratios and products of two shown figures that are a hidden total to ten digits."""
    hidden = {
        true
        for one, figure in new.items()
        if figure["value"] is None and (cell(one) or ("",))[0] in ("year", "to date")
        for true in [after[cell(one)]]
    }
    shown = {one: figure["value"] for one, figure in new.items() if figure["value"]}
    exact = {one: value for one, value in shown.items() if value != round(value)}
    values = np.array(list(exact.values()))
    for true in hidden - {0.0}:
        for first, value in shown.items():
            for found in (value / values, value * values):
                hit = np.flatnonzero(np.abs(found / true - 1.0) < EXACT)
                yield from (f"{name}: {first} with {list(exact)[n]} gives {true}" for n in hit)


if __name__ == "__main__":
    given = [int(word) for word in sys.argv[1:3]]
    sys.exit(main(*given, *(3, 20261129)[len(given) :], tuple(sys.argv[3:]) or EDITS))
