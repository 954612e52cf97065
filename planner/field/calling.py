"""Find who is due a call, and write the calling workbook of a day."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import polars as pl
from openpyxl.styles import Alignment, Font, PatternFill

from planner.cells import put_record
from planner.factors import read_factors, with_own
from planner.field.dropout import LEAST_STOPPED, fit_dropout
from planner.field.due import NO_RISK, PRIORITY, call_list, find_due, rules_for
from planner.field.stopping import HAZARD_CUT, value_of_calls
from planner.intake.sheets import GUIDE_SHEETS
from planner.intake.wording import said
from planner.messages import messages_for
from planner.paths import PRIVATE_FOLDER, PROGRAM_FILE
from planner.program import open_program
from planner.rounding import places_of_half_width
from planner.store.files import check_free, write_owned
from planner.store.opening import open_store
from planner.survey.streams import random_stream
from planner.tables import CALL_OUTCOMES, PROBLEMS
from planner.units import DAYS_PER_WEEK
from planner.workbooks import (
    INK,
    LEAF,
    dress_list,
    file_bytes,
    offer,
    records_workbook,
    set_landscape,
)

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from openpyxl import Workbook
    from openpyxl.worksheet.worksheet import Worksheet

    from planner.field.calling_request import CallRequest
    from planner.field.dropout import Dropout
    from planner.field.stopping import CallsValue
    from planner.messages import Messages
    from planner.program import Program


WIDTHS = {
    "order": 7,
    "household_id": 13,
    "full_name": 20,
    "phone_or_mail": 24,
    "call_reason": 16,
    "why": 44,
    "call_date": 11,
    "call_outcome": 13,
    "note": 23,
}
_LINE_HEIGHT = 15.0


def calling_workbook(found: CallingList, contacts: pl.DataFrame, program: Program) -> Workbook:
    """Make the workbook of a day's calls."""
    words = messages_for(program.council.country_locale)
    # whoever gave no telephone number is written to
    details = contacts.select(
        "household_id", "full_name", phone_or_mail=pl.coalesce("phone", "email")
    )
    rows = (
        found.called.join(details, on="household_id", how="left", maintain_order="left")
        .with_row_index("order", offset=1)
        .select(
            pl.col("order").cast(pl.Int64),
            "household_id",
            "full_name",
            "phone_or_mail",
            "call_reason",
            why=_why(words),
            call_date=pl.lit(found.request.on_date),
            call_outcome=pl.lit(None, pl.String),
            note=pl.lit(None, pl.String),
        )
    )
    book = records_workbook({"calls": rows}, note=words.say("calls.note"))
    sheet, below = book["calls"], range(3, rows.height + 3)
    dress_list(sheet, WIDTHS, "why", rows.height)
    place = rows.columns.index("call_outcome") + 1
    offer(sheet, place, below, CALL_OUTCOMES, words.say("run_sheet.choose"))
    _write_guide(book.create_sheet(GUIDE_SHEETS[words.language]), found, words)
    return book


def _why(words: Messages) -> pl.Expr:
    """All reasons of a call in words, the problem by its name, and the age of the bin."""
    say = words.say
    reasons = {name: say(f"calls.reason.{name}") for name in PRIORITY}
    in_words = pl.col("reasons").list.eval(
        pl.element().replace_strict(reasons, return_dtype=pl.String)
    )
    others = in_words.list.set_difference([reasons["problem"]]).list.join("; ")
    ended = pl.when(others == "").then(pl.lit("")).otherwise(others + ". ")
    age = pl.col("age_days") // DAYS_PER_WEEK
    rest = pl.concat_str(ended, said("calls.weeks", words, weeks=age))
    problems = {code: say(f"problem.{code}.words") for code in PROBLEMS if code != "none"}
    problem = pl.col("open_problem").cast(pl.String).replace_strict(problems, default=None)
    return pl.coalesce(said("calls.problem", words, problem=problem, rest=rest), rest)


def _write_guide(sheet: Worksheet, found: CallingList, words: Messages) -> None:
    """Write what to ask for each reason on the list, and how far to trust the list."""
    sheet.column_dimensions["A"].width = 24
    sheet.column_dimensions["B"].width = 96
    say = words.say
    reasons = [name for name in PRIORITY if name in set(found.called["call_reason"])]
    lines = [(say("calls.what_to_ask"), "")]
    lines += [(say(f"calls.reason.{name}"), say(f"calls.ask.{name}")) for name in reasons]
    lines += [(say("calls.how_far"), "")]
    lines += [("", line) for line in how_sure_lines(found, words)]
    if found.dropout is not None:
        lines += [("", line) for line in _fifth_lines(found.dropout, words)]
    for number, (left, right) in enumerate(lines, start=1):
        put_record(sheet.cell(number, 1), left or None)
        put_record(sheet.cell(number, 2), right or None)
        is_head = bool(left) and not right
        for cell in sheet[number]:
            cell.alignment = Alignment(wrap_text=True, vertical="top")
            cell.font = Font(bold=is_head, size=13 if is_head else 11, color=INK)
            if is_head:
                cell.fill = PatternFill("solid", start_color=LEAF)
        rows = max(1, -(-len(right) // 90), -(-len(left) // 22))
        sheet.row_dimensions[number].height = rows * _LINE_HEIGHT + 3
    set_landscape(sheet, 1)


def how_sure_lines(found: CallingList, words: Messages) -> Iterator[str]:
    """Say how the households that may give up were found, and what the calls are worth."""
    if found.dropout is None:
        yield words.say("calls.too_few", count=found.stopped_count, least=LEAST_STOPPED)
        return
    yield from _trust(found.dropout, words)
    if found.value is not None:
        yield from _worth(found.value, words)


def _trust(dropout: Dropout, words: Messages) -> Iterator[str]:
    spells = {"spells": dropout.spells_count, "stopped": dropout.stopped_count}
    yield words.say("calls.rests_on", **spells)
    expected, slope = words.decimal(dropout.expected_over_stopped), words.decimal(dropout.slope)
    yield words.say("calls.calibration", expected=expected, slope=slope)
    spread = _range((dropout.lift, dropout.lift_low, dropout.lift_high), words)
    yield words.say("calls.sorts" if dropout.sorts else "calls.does_not_sort", spread=spread)


def _fifth_lines(dropout: Dropout, words: Messages) -> Iterator[str]:
    for row in dropout.groups.with_row_index("fifth", offset=1).iter_rows(named=True):
        shares = {
            "expected": row["expected_share"],
            "stopped": row["stopped_share"],
            "low": row["low"],
            "high": row["high"],
        }
        written = {name: words.share(share) for name, share in shares.items()}
        counts = {"fifth": row["fifth"], "spells": row["spells_count"]}
        yield words.say("calls.fifth", **written, **counts)


def _worth(value: CallsValue, words: Messages) -> Iterator[str]:
    yield words.say(
        "calls.worth",
        chosen=_range(value.chosen, words),
        random=_range(value.at_random, words),
        reached=words.share(value.reached_share),
    )
    low, likely, high = (words.share(cut) for cut in HAZARD_CUT)
    yield words.say("calls.assumed", likely=likely, low=low, high=high)


def _range(spread: tuple[float, float, float], words: Messages) -> str:
    half_width = (spread[2] - spread[1]) / 2.0
    places = max(0, places_of_half_width(half_width)) if half_width > 0.0 else 0
    form = f"0.{'0' * places}" if places else "0"
    value, low, high = (words.decimal(number, form) for number in spread)
    return words.say("calls.range", value=value, low=low, high=high)


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
    program, day = open_program(folder / PROGRAM_FILE), request.on_date
    file = folder / PRIVATE_FOLDER / f"calls_{day}.xlsx"
    check_free(file, "calls", forced=force or dry_run)
    rules = rules_for(request, with_own(read_factors(), program.factors, program.council.name))
    with open_store(folder, read_only=True) as store:
        register = store.query("followup_register", on_date=day)
        spells = store.query("stopping_spells", on_date=day, kg_per_litre=rules.kg_per_litre)
        made = store.records("calls").filter(pl.col("call_date") <= day)
        contacts = store.records("contacts")
    dropout = fit_dropout(spells, random_stream(program.method.seed, "dropout"))
    risk = NO_RISK if dropout is None else dropout.risk.select(NO_RISK.columns)
    trays = {one.model_id: (one.trays_count, one.tray_area_m2) for one in program.bin_models}
    due = find_due(register, risk, trays, rules)
    called = call_list(due, request.calls_count, request.at_risk_count)
    value = None
    if dropout is not None and called.height:
        may = dropout.risk.join(register.filter("may_contact"), on="household_id", how="semi")
        reached = int((made["call_outcome"] == "reached").sum())
        stream = random_stream(program.method.seed, "value of calls")
        value = value_of_calls(may, called.height, (reached, made.height - reached), stream)
    stopped, unnamed = spells["has_stopped"].sum(), called.join(contacts, "household_id", "anti")
    found = CallingList(
        request, called, due, dropout, int(stopped or 0), value, file, not dry_run, unnamed.height
    )
    if not dry_run:
        write_owned(file, file_bytes(calling_workbook(found, contacts, program)))
    return found
