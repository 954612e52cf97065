"""Cases that are open or that answers tell of, alerts, and what cases took from the store."""

from __future__ import annotations

import datetime as dt
import io
from dataclasses import dataclass
from typing import TYPE_CHECKING

import polars as pl

from planner.field.case_sheet import case_workbook
from planner.field.failure_alert import find_alerts
from planner.paths import PRIVATE_FOLDER
from planner.store import open_store
from planner.store.files import check_free, write_owned

if TYPE_CHECKING:
    from pathlib import Path

    from planner.program import Program

RECENT_DAYS = 90
"""A problem told in an answer longer ago has run its course."""

WATCHED_DAYS = 90
"""Bins are watched so long after the hand-over: failures of a model or of worms show by then."""

LOOKED_BACK_DAYS = 730
"""Lots of two years are set against each other."""


@dataclass(frozen=True)
class CaseList:
    """Open cases of a day, and models and deliveries set against each other.

    Parameters
    ----------
    on_date
        The day.
    listed
        Rows of the query open_cases.
    lots
        Frame of `failure_alert.find_alerts`.
    made_good
        One row: topped_up_count, topped_up_kg, replaced_count of the cases of two years, and
        booked_amount on the ledger lines that they name.
    file, kept
        The workbook; False for a dry run, which writes nothing.
    """

    on_date: dt.date
    listed: pl.DataFrame
    lots: pl.DataFrame
    made_good: pl.DataFrame
    file: Path
    kept: bool

    @property
    def alerts(self) -> pl.DataFrame:
        """Lots with more failures than chance allows."""
        return self.lots.filter("is_alert") if self.lots.height else self.lots


def list_cases(
    folder: Path, program: Program, on_date: dt.date, *, dry_run: bool = False, force: bool = False
) -> CaseList:
    """List the open cases of a day with advice, and test models and deliveries for failures.

    Parameters
    ----------
    folder, program
        Program folder, and its program file as read.
    on_date
        Day of the list; records of later days do not count.
    dry_run
        List them and write nothing.
    force
        Write over a workbook that is there.

    Raises
    ------
    ProgramError
        The workbook of the day is there already.
    StoreError
        The records cannot be read, or the workbook cannot be written.
    """
    file = folder / PRIVATE_FOLDER / f"cases_{on_date}.xlsx"
    check_free(file, "actions", forced=force or dry_run)
    since = on_date - dt.timedelta(days=LOOKED_BACK_DAYS)
    with open_store(folder, read_only=True) as store:
        listed = store.query("open_cases", on_date=on_date, recent_days=RECENT_DAYS)
        lots = store.query(
            "failures_by_lot", as_of=on_date, from_date=since, watched_days=WATCHED_DAYS
        )
        made_good = store.query("made_good", from_date=since, as_of=on_date)
        contacts = store.records("contacts")
    names = {model.model_id: model.model_name for model in program.bin_models}
    judged = find_alerts(lots).with_columns(lot_name=pl.col("lot_id").replace(names))
    found = CaseList(on_date, listed, judged, made_good, file, not dry_run)
    if not dry_run:
        content = io.BytesIO()
        case_workbook(listed, contacts).save(content)
        write_owned(file, content.getvalue())
    return found
