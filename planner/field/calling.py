"""Find who is due a call, and write the calling workbook of a day."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import polars as pl

from planner.factors import read_factors, with_own
from planner.field.calling_sheet import calling_workbook
from planner.field.dropout import fit_dropout
from planner.field.due import NO_RISK, call_list, find_due, rules_for
from planner.field.stopping import value_of_calls
from planner.paths import PRIVATE_FOLDER, PROGRAM_FILE
from planner.program import open_program
from planner.store import open_store
from planner.store.files import check_free, write_owned
from planner.survey.streams import random_stream
from planner.workbooks import file_bytes

if TYPE_CHECKING:
    import datetime as dt
    from pathlib import Path

    from planner.field.calling_request import CallRequest
    from planner.field.dropout import Dropout
    from planner.field.due import Rules
    from planner.field.stopping import CallsValue
    from planner.program import Program
    from planner.store import Store


@dataclass(frozen=True)
class CallingList:
    """Who is called on a day, and what that rests on."""

    request: CallRequest  # day and limits
    called: pl.DataFrame  # frame of `due.call_list`, in order
    # frame of `due.find_due`: everyone with a reason, those who may not be called as well
    due: pl.DataFrame
    dropout: Dropout | None  # the fitted hazard of stopping; None where answers are too few
    stopped_count: int
    value: CallsValue | None  # what the calls are worth; None without a fit, or without calls
    file: Path  # the workbook
    is_written: bool  # False for a dry run, which writes nothing
    unnamed_count: int  # households on the list of which the records hold no personal details


def list_calls(
    folder: Path, request: CallRequest, *, dry_run: bool = False, force: bool = False
) -> CallingList:
    """Find who is due a call on a day and write the workbook to call from.

    Raises
    ------
    ProgramError
        The workbook of the day is there already.
    StoreError
        The records cannot be read, or the workbook cannot be written.
    """
    program = open_program(folder / PROGRAM_FILE)
    file = folder / PRIVATE_FOLDER / f"calls_{request.on_date}.xlsx"
    check_free(file, "calls", forced=force or dry_run)
    records = _read(folder, program, request)
    found = _listed(program, request, records, file, is_written=not dry_run)
    if not dry_run:
        write_owned(file, file_bytes(calling_workbook(found, records.contacts, program)))
    return found


@dataclass(frozen=True)
class _Records:
    """What a list rests on: rules, register, spells, calls that reached and not, contacts."""

    rules: Rules
    register: pl.DataFrame
    spells: pl.DataFrame
    outcomes: tuple[int, int]
    contacts: pl.DataFrame


def _read(folder: Path, program: Program, request: CallRequest) -> _Records:
    rules = rules_for(request, with_own(read_factors(), program.factors, program.council.name))
    with open_store(folder, read_only=True) as store:
        return _Records(
            rules,
            store.query("followup_register", on_date=request.on_date),
            store.query(
                "stopping_spells", on_date=request.on_date, kg_per_litre=rules.kg_per_litre
            ),
            _outcomes(store, request.on_date),
            store.records("contacts"),
        )


def _listed(
    program: Program, request: CallRequest, records: _Records, file: Path, *, is_written: bool
) -> CallingList:
    """Find who is due, who is called, and what the calls are worth."""
    seed, register = program.method.seed, records.register
    dropout = fit_dropout(records.spells, random_stream(seed, "dropout"))
    risk = NO_RISK if dropout is None else dropout.risk.select(NO_RISK.columns)
    trays = {one.model_id: (one.trays_count, one.tray_area_m2) for one in program.bin_models}
    due = find_due(register, risk, trays, records.rules)
    called = call_list(due, request.calls_count, request.at_risk_count)
    value = None
    if dropout is not None and called.height:
        may = dropout.risk.join(register.filter("may_contact"), on="household_id", how="semi")
        stream = random_stream(seed, "value of calls")
        value = value_of_calls(may, called.height, records.outcomes, stream)
    return CallingList(
        request,
        called,
        due,
        dropout,
        int(records.spells["has_stopped"].sum() or 0),
        value,
        file,
        is_written,
        called.join(records.contacts, on="household_id", how="anti").height,
    )


def _outcomes(store: Store, on_date: dt.date) -> tuple[int, int]:
    """Count the calls so far that reached somebody, and that did not."""
    made = store.records("calls").filter(pl.col("call_date") <= on_date)
    reached = int((made["call_outcome"] == "reached").sum())
    return reached, made.height - reached
