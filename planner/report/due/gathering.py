"""Everything that is due, from records, program file, backups and issued reports."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from planner.factors import read_factors, with_own
from planner.messages import say
from planner.paths import STORE_FILE
from planner.report.due import field_days, keeping
from planner.report.due.item import DAYS_AHEAD, DAYS_OF_A_YEAR, DueItem, Window
from planner.report.wording import Wording
from planner.store import open_store

if TYPE_CHECKING:
    import datetime as dt
    from pathlib import Path

    import polars as pl

    from planner.program import Program
    from planner.store import Store


@dataclass(frozen=True)
class Due:
    """What is due in a program.

    Parameters
    ----------
    window
        Days that were looked at.
    items
        What is late first, then by day.
    year
        The same for a year ahead.
    refused
        Open refused rows: file, table_name, rows_count.
    backup
        The newest backup and when it was made; None where there is none.
    store_id
        Mark of the store, which makes names in calendars its own.
    has_records
        Whether anything was loaded yet.
    """

    window: Window
    items: tuple[DueItem, ...]
    year: tuple[DueItem, ...]
    refused: pl.DataFrame | None
    backup: tuple[Path, dt.datetime] | None
    store_id: str
    has_records: bool


def gather_due(folder: Path, program: Program, day: dt.date, days: int = DAYS_AHEAD) -> Due:
    """Find out what is due.

    Parameters
    ----------
    folder, program
        Program folder, and its program file as read.
    day
        The day of asking.
    days
        How many days are looked ahead.

    Raises
    ------
    StoreError, ReportError
        The records or the issued reports cannot be read.
    """
    wording = Wording.for_officer(program)
    window = Window.ahead(day, days, wording)
    if not (folder / STORE_FILE).exists():
        first = DueItem(day, say("due.first"), "look FILES", "first")
        return Due(window, (first,), (first,), None, None, "", has_records=False)
    with open_store(folder, read_only=True) as store:
        items = _items(folder, store, program, window)
        a_year = Window.ahead(day, max(days, DAYS_OF_A_YEAR), wording)
        year = _items(folder, store, program, a_year)
        refused = keeping.open_refusals(store)
        identity = store.identity()
    backup = keeping.newest_backup(folder)
    return Due(window, items, year, refused, backup, identity, has_records=True)


def _items(folder: Path, store: Store, program: Program, window: Window) -> tuple[DueItem, ...]:
    factors = with_own(read_factors(), program.factors, program.council.name)
    found = [
        *keeping.refused_rows(store, window),
        *keeping.backups(folder, store, window),
        *keeping.retention(store, program, window),
        *keeping.reports(folder, store, program, window),
        *field_days.order_days(store, program, window),
        *field_days.deliveries(store, window),
        *field_days.hand_over_days(store, window),
        *field_days.calls(store, program, factors, window),
        *field_days.rounds(store, window),
    ]
    return tuple(sorted(found, key=lambda item: (not item.is_late, item.day, item.name)))
