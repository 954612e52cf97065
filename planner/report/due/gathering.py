"""Everything that is due; of the desk: reports, refused rows, backups, details kept long enough."""

from __future__ import annotations

import datetime as dt
import shlex
from collections.abc import Iterator
from pathlib import Path

import polars as pl

from planner.errors import StoreError
from planner.factors import read_factors, with_own
from planner.messages import say
from planner.paths import STORE_FILE, copy_of_refused
from planner.program import Program
from planner.report.due import (
    BACKUP_DAYS,
    DAYS_AHEAD,
    DAYS_OF_A_YEAR,
    Due,
    DueItem,
    Window,
    field_days,
)
from planner.report.issues import read_issues
from planner.report.wording import Wording
from planner.store.backup_list import known_backups
from planner.store.backups import time_of_backup
from planner.store.opening import Store, open_store


def gather_due(folder: Path, program: Program, day: dt.date, days: int = DAYS_AHEAD) -> Due:
    """Find out what is due."""
    wording = Wording.for_officer(program)
    window = Window.ahead(day, days, wording)
    if not (folder / STORE_FILE).exists():
        first = DueItem(day, say("due.first"), "look FILES", "first")
        return Due(window, (first,), (first,), None, None, "", has_records=False)
    with open_store(folder, read_only=True) as store:
        items = _items(folder, store, program, window)
        a_year = Window.ahead(day, max(days, DAYS_OF_A_YEAR), wording)
        year = _items(folder, store, program, a_year)
        refused = open_refusals(store)
        identity = store.identity()
    backup = newest_backup(folder)
    return Due(window, items, year, refused, backup, identity, has_records=True)


def _items(folder: Path, store: Store, program: Program, window: Window) -> tuple[DueItem, ...]:
    factors = with_own(read_factors(), program.factors, program.council.name)
    found = [
        *refused_rows(store, window),
        *backups(folder, store, window),
        *retention(store, program, window),
        *reports(folder, store, program, window),
        *field_days.order_days(store, program, window),
        *field_days.deliveries(store, window),
        *field_days.hand_over_days(store, window),
        *field_days.calls(store, program, factors, window),
        *field_days.rounds(store, window),
    ]
    return tuple(sorted(found, key=lambda item: (not item.is_late, item.day, item.name)))


def reports(folder: Path, store: Store, program: Program, window: Window) -> Iterator[DueItem]:
    """List ends of reporting years whose report was not given out for the whole, and a new year."""
    newest = store.query("latest_record").item()
    if added := program.year_to_add(newest):
        what = say("due.year", label=added)
        yield DueItem(window.first, what, "", f"year-{added}", is_late=True)
    whole = {one.reporting_year for one in read_issues(folder) if not one.through_date}
    for year in program.reporting_years:
        label = year.reporting_year
        begins, ends = program.months(label)
        # a year of which nothing is recorded has no report to give
        if label in whole or newest is None or newest < begins or ends > window.last:
            continue
        yield DueItem(
            ends,
            say("due.report", label=label),
            f"issue --year {label}",
            f"report-{label}",
            ends < window.first,
        )


def refused_rows(store: Store, window: Window) -> Iterator[DueItem]:
    """List files of which rows are refused and not fixed yet."""
    files = (
        open_refusals(store)
        .group_by("load_id", "file", maintain_order=True)
        .agg(pl.col("rows_count").sum(), pl.col("table_name").str.join(", "))
    )
    for load_id, file, rows, tables in files.iter_rows():
        yield DueItem(
            window.first,
            say("due.refused", rows, file=file, tables=tables),
            f"load {shlex.quote(str(copy_of_refused(load_id, file)))}",
            f"refused-{load_id}",
            is_late=True,
        )


def open_refusals(store: Store) -> pl.DataFrame:
    """Count the rows that are refused and not fixed, by load, file and table."""
    refusals = store.query("refusals").filter(pl.col("resolved_by_load_id").is_null())
    return (
        refusals.group_by("load_id", "file", "table_name")
        .agg(pl.struct("sheet", "row_number").n_unique().cast(pl.Int64).alias("rows_count"))
        .sort("load_id", "table_name")
    )


def backups(folder: Path, store: Store, window: Window) -> Iterator[DueItem]:
    """Say when the next backup is due: after every load, and never older than a month."""
    newest = newest_backup(folder)
    loads = store.query("listed_loads").filter(pl.col("undone_at").is_null())["loaded_at"]
    if not loads.len():
        return
    if newest is None:
        yield DueItem(window.first, say("due.no_backup"), "backup", "backup", is_late=True)
        return
    made_at = newest[1].replace(tzinfo=None)
    if (loads > made_at).any():
        what = say("due.backup_behind", day=window.say(made_at.date()))
        yield DueItem(window.first, what, "backup", "backup", is_late=True)
        return
    day = made_at.date() + dt.timedelta(days=BACKUP_DAYS)
    if day <= window.last:
        what = say("due.backup_old", day=window.say(made_at.date()), days=BACKUP_DAYS)
        yield DueItem(day, what, "backup", "backup", day < window.first)


def newest_backup(folder: Path) -> tuple[Path, dt.datetime] | None:
    """Find the newest backup that is there and can be read, and when it was made."""
    found = []
    for path in known_backups(folder):
        try:
            found.append((path, time_of_backup(path)))
        except StoreError:
            continue
    return max(found, key=lambda one: one[1], default=None)


def retention(store: Store, program: Program, window: Window) -> Iterator[DueItem]:
    """List months in which personal details have been kept long enough."""
    months = program.privacy.contacts_retention_months
    if months is None:
        return
    kept = store.keys("contacts").join(store.query("last_seen"), on="household_id")
    ends = kept.select(pl.col("seen_date").dt.offset_by(f"{months}mo").alias("day"))
    past = ends.filter(pl.col("day") < window.first).height
    if past:
        what = say("due.kept_long", past, months=months)
        yield DueItem(window.first, what, "retain", "retain", is_late=True)
    ahead = (
        ends.filter(pl.col("day").is_between(window.first, window.last))
        .group_by(pl.col("day").dt.truncate("1mo").alias("month"))
        .agg(pl.col("day").max(), pl.len())
        .sort("month")
    )
    for month, day, count in ahead.iter_rows():
        what = say("due.kept_long_soon", count, months=months)
        yield DueItem(day + dt.timedelta(days=1), what, "retain", f"retain-{month:%Y-%m}")
