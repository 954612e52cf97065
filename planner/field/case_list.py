"""Cases that are open or that answers tell of, alerts, and what cases took from the store."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from typing import TYPE_CHECKING

import polars as pl
from openpyxl.utils import get_column_letter

from planner.field.failure_alert import find_alerts
from planner.messages import messages_for
from planner.paths import PRIVATE_FOLDER, PROGRAM_FILE
from planner.program import open_program
from planner.store import open_store
from planner.store.files import check_free, write_owned
from planner.tables import CASE_ACTIONS, PROBLEMS, TABLES
from planner.workbooks import dress_list, file_bytes, offer, records_workbook

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from openpyxl import Workbook

    from planner.program import Program


RECENT_DAYS = 90
"""A problem told in an answer longer ago has run its course."""

WATCHED_DAYS = 90
"""Bins are watched so long after the hand-over: failures of a model or of worms show by then."""

LOOKED_BACK_DAYS = 730
"""Lots of two years are set against each other."""


@dataclass(frozen=True)
class CaseList:
    """Open cases of a day, and models and deliveries set against each other."""

    on_date: dt.date
    listed: pl.DataFrame  # rows of the query open_cases
    lots: pl.DataFrame  # frame of `failure_alert.find_alerts`
    # one row: topped_up_count, topped_up_kg, replaced_count of the cases of two years, and
    # booked_amount on the ledger lines that they name
    remedies: pl.DataFrame
    file: Path  # the workbook
    is_written: bool  # False for a dry run, which writes nothing


def list_cases(
    folder: Path, on_date: dt.date, *, dry_run: bool = False, force: bool = False
) -> CaseList:
    """List the open cases of a day with advice, and test models and deliveries for failures.

    Parameters
    ----------
    on_date
        Day of the list; records of later days do not count.

    Raises
    ------
    ProgramError
        The workbook of the day is there already.
    StoreError
        The records cannot be read, or the workbook cannot be written.
    """
    program = open_program(folder / PROGRAM_FILE)
    file = folder / PRIVATE_FOLDER / f"cases_{on_date}.xlsx"
    check_free(file, "actions", forced=force or dry_run)
    since = on_date - dt.timedelta(days=LOOKED_BACK_DAYS)
    with open_store(folder, read_only=True) as store:
        listed = store.query("open_cases", on_date=on_date, recent_days=RECENT_DAYS)
        lots = store.query(
            "failures_by_lot", as_of=on_date, from_date=since, watched_days=WATCHED_DAYS
        )
        remedies = store.query("made_good", from_date=since, as_of=on_date)
        contacts = store.records("contacts")
    names = {model.model_id: model.model_name for model in program.bin_models}
    judged = find_alerts(lots).with_columns(lot_name=pl.col("lot_id").replace(names))
    is_written = not dry_run and not listed.is_empty()
    found = CaseList(on_date, listed, judged, remedies, file, is_written)
    if is_written:
        write_owned(file, file_bytes(case_workbook(listed, contacts, program)))
    return found


WIDTHS = {
    "full_name": 19,
    "phone": 15,
    "advice": 62,
    "case_id": 17,
    "problem": 15,
    "household_id": 12,
    "case_action": 16,
    "worms_kg": 9,
    "cost_id": 10,
    "replacement_handover_id": 16,
}
NO_PROBLEM, UNNAMED_PROBLEM = "none", "other"
_WIDTH = 12


def case_workbook(listed: pl.DataFrame, contacts: pl.DataFrame, program: Program) -> Workbook:
    """Make the workbook of open cases.

    Parameters
    ----------
    listed
        Rows of the query open_cases.
    contacts
        Frame of tables.Contacts; those that may not be contacted stay without a name.
    """
    say = messages_for(program.council.country_locale).say
    words = {code: _advice(code, say) for code in PROBLEMS if code != NO_PROBLEM}
    details = contacts.join(listed.filter("may_contact"), on="household_id", how="semi")
    rows = listed.join(
        details.select("household_id", "full_name", "phone"),
        on="household_id",
        how="left",
        maintain_order="left",
    ).with_columns(
        advice=pl.col("problem").replace_strict(words, return_dtype=pl.String),
        closed_date=pl.lit(None, pl.Date),
    )
    columns = TABLES["cases"].column_names()
    first = [name for name in ("case_id", "household_id") if name in columns]
    others = [name for name in columns if name not in first]
    ordered = [*first, "full_name", "phone", *others[1:3], "advice", *others[3:], others[0]]
    book = records_workbook({"cases": rows.select(ordered)}, note=say("cases.note"))
    sheet, below = book["cases"], range(3, rows.height + 3)
    widths = {name: WIDTHS.get(name, _WIDTH) for name in ordered}
    dress_list(sheet, widths, "advice", rows.height)
    # loaded as it stands, and nothing to those who act
    sheet.column_dimensions[get_column_letter(ordered.index("handover_id") + 1)].hidden = True
    place = ordered.index("case_action") + 1
    offer(sheet, place, below, CASE_ACTIONS, say("run_sheet.choose"))
    return book


def _advice(code: str, say: Callable[..., str]) -> str:
    """Say what a problem is likely to come from and what to do; common practice, no source."""
    advice = say(f"problem.{code}.advice")
    if code == UNNAMED_PROBLEM:
        return advice
    return say("cases.likely", causes=say(f"problem.{code}.causes"), advice=advice)
