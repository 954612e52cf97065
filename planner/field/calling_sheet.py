"""The workbook to call from: a sheet to fill in and load, and a sheet of what to say."""

from __future__ import annotations

from typing import TYPE_CHECKING

import polars as pl
from openpyxl.styles import Alignment, Border, Font, PatternFill, Side
from openpyxl.utils import get_column_letter
from openpyxl.worksheet.datavalidation import DataValidation

from planner.cells import put_record
from planner.field.calls_value import HAZARD_CUT
from planner.field.dropout import LEAST_STOPPED
from planner.intake.sheets import GUIDE_SHEET
from planner.tables import CALL_OUTCOMES
from planner.units import DAYS_PER_WEEK
from planner.workbooks import records_workbook, set_pages_across

if TYPE_CHECKING:
    from collections.abc import Iterator

    from openpyxl import Workbook
    from openpyxl.worksheet.worksheet import Worksheet

    from planner.field.calling import CallingList
    from planner.field.calls_value import CallsValue
    from planner.field.dropout import Dropout


NOTE = (
    "Call from the top. Choose what came of each call in call_outcome, then load this file: rows "
    "without an outcome are passed over. Personal details: keep it here, delete it once loaded."
)
WIDTHS = {
    "order": 7,
    "household_id": 13,
    "full_name": 20,
    "phone_or_mail": 24,
    "call_reason": 12,
    "why": 44,
    "call_date": 11,
    "call_outcome": 13,
    "note": 27,
}
_INK, _LEAF, _PAPER = "263238", "DDE5D3", "F6F4EF"
_THIN = Side("thin", color="B8B8B0")
_LINE_LENGTH, _LINE_HEIGHT = 36, 15.0


def calling_workbook(found: CallingList, contacts: pl.DataFrame) -> Workbook:
    """Make the workbook of a day's calls.

    Parameters
    ----------
    found
        Who is called, and why.
    contacts
        Frame of tables.Contacts; those that it lacks have empty names and numbers.
    """
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
            why=_why(),
            call_date=pl.lit(found.asked.on_date),
            call_outcome=pl.lit(None, pl.String),
            note=pl.lit(None, pl.String),
        )
    )
    book = records_workbook({"calls": rows}, note=NOTE)
    _dress(book["calls"], rows)
    _write_guide(book.create_sheet(GUIDE_SHEET), found)
    return book


def _why() -> pl.Expr:
    """All reasons of a call in words, the problem by its name, and the age of the bin."""
    words = pl.col("reasons").list.eval(
        pl.element().replace_strict(REASON_WORDS, return_dtype=pl.String)
    )
    problem = pl.format("Open problem: {}. ", pl.col("open_problem").str.replace_all("_", " "))
    others = words.list.set_difference([REASON_WORDS["problem"]]).list.join("; ")
    ended = pl.when(others == "").then(pl.lit("")).otherwise(others + ". ")
    weeks = pl.format("Bin {} weeks old.", pl.col("age_days") // DAYS_PER_WEEK)
    return pl.concat_str(problem.fill_null(""), ended, weeks)


def _dress(sheet: Worksheet, rows: pl.DataFrame) -> None:
    """Set widths, lines and the list of outcomes, so that it can be printed and filled in."""
    for place, name in enumerate(rows.columns, start=1):
        sheet.column_dimensions[get_column_letter(place)].width = WIDTHS[name]
        head = sheet.cell(2, place)
        head.fill = PatternFill("solid", start_color=_LEAF)
        head.alignment = Alignment(wrap_text=True, vertical="bottom")
    why = rows.columns.index("why") + 1
    for number in range(3, rows.height + 3):
        lines = -(-len(str(sheet.cell(number, why).value)) // _LINE_LENGTH)
        sheet.row_dimensions[number].height = max(2, lines) * _LINE_HEIGHT
        for place in range(1, rows.width + 1):
            cell = sheet.cell(number, place)
            cell.alignment = Alignment(horizontal="left", vertical="center", wrap_text=True)
            cell.border = Border(bottom=_THIN)
            cell.font = Font(size=12)
    last = max(3, rows.height + 2)
    outcome = get_column_letter(rows.columns.index("call_outcome") + 1)
    check = DataValidation("list", formula1=f'"{",".join(CALL_OUTCOMES)}"', allow_blank=True)
    check.error, check.showErrorMessage = "Choose one of the list.", True
    check.add(f"{outcome}3:{outcome}{last}")
    sheet.add_data_validation(check)
    set_pages_across(sheet)


def _write_guide(sheet: Worksheet, found: CallingList) -> None:
    """Write what to ask for each reason on the list, and how far to trust the list."""
    sheet.column_dimensions["A"].width = 24
    sheet.column_dimensions["B"].width = 96
    reasons = [name for name in WHAT_TO_ASK if name in set(found.called["call_reason"])]
    lines = [("What to ask", "")]
    lines += [(REASON_WORDS[name], WHAT_TO_ASK[name]) for name in reasons]
    lines += [("How far to trust it", "")]
    lines += [("", line) for line in how_sure_lines(found)]
    if found.dropout is not None:
        lines += [("", line) for line in _fifth_lines(found.dropout)]
    for number, (left, right) in enumerate(lines, start=1):
        put_record(sheet.cell(number, 1), left or None)
        put_record(sheet.cell(number, 2), right or None)
        is_head = bool(left) and not right
        for cell in sheet[number]:
            cell.alignment = Alignment(wrap_text=True, vertical="top")
            cell.font = Font(bold=is_head, size=13 if is_head else 11, color=_INK)
            if is_head:
                cell.fill = PatternFill("solid", start_color=_LEAF)
        rows = max(1, -(-len(right) // 90), -(-len(left) // 22))
        sheet.row_dimensions[number].height = rows * _LINE_HEIGHT + 3
    sheet.page_setup.orientation = "landscape"
    sheet.page_setup.paperSize = sheet.PAPERSIZE_A4
    sheet.page_setup.fitToHeight = 0
    sheet.sheet_properties.pageSetUpPr.fitToPage = True


REASON_WORDS = {
    "problem": "A problem is open",
    "more_worms": "May need more worms",
    "first_check": "First check",
    "may_stop": "May give up",
    "survey": "Has not answered the survey",
    "another_tray": "May be ready for another tray",
    "first_harvest": "May have castings to harvest",
}

WHAT_TO_ASK = {
    "problem": "Is the problem still there? What have they tried? Give the advice for it from "
    "`planner cases`, agree what happens next, and ask when to ring back.",
    "more_worms": "Can they see live worms when they lift the food? If there are few or none, ask "
    "what the bin looks and smells like first: worms added to a bad bin die too.",
    "first_check": "Are the worms under the food by now? Is it moist like a wrung-out cloth? Does "
    "it smell of earth? What do they feed, and how much? Feed little until the last meal is gone.",
    "may_stop": "How is it going? What is the hardest part? Listen first, offer one thing that "
    "makes it easier, and if they have stopped, ask when and offer to take the bin back.",
    "survey": "Ask the questions of the survey round, or when it suits them better.",
    "another_tray": "Is the food level with the rim of the tray, and has it sunk little for a "
    "week? Then add a tray on top with fresh bedding, and feed only there from now on.",
    "first_harvest": "Is the lowest tray dark and crumbly, with few worms? Tell them how to "
    "harvest: gloves, wet dust down, wash hands, lift full trays in pairs; liquid not on leaves "
    "that are eaten.",
}
"""In the order of urgency. Common practice, no source."""


def how_sure_lines(found: CallingList) -> Iterator[str]:
    """Say how the households that may give up were found, and what the calls are worth."""
    if found.dropout is None:
        yield (
            f"Answers report {found.stopped_count} bins that stopped; at least {LEAST_STOPPED} "
            "are needed before anyone can say who is likely to give up. Nobody is on this list "
            "for that reason yet. Load more survey rounds."
        )
        return
    yield from _trust(found.dropout)
    if found.value is not None:
        yield from _worth(found.value)


def _trust(dropout: Dropout) -> Iterator[str]:
    yield (
        f"Who may give up comes from {dropout.spells_count:,} times between two answers, "
        f"{dropout.stopped_count:,} of which ended with the bin out of use. The figures below are "
        "of households that the estimate had not seen."
    )
    yield (
        f"In all {dropout.expected_over_stopped:.2f} stops were expected for each one seen. "
        f"Calibration slope {dropout.slope:.2f}; 1 is right, less means that risks are spread "
        "too far."
    )
    spread = f"{dropout.lift:.2f} ({dropout.lift_low:.2f} to {dropout.lift_high:.2f})"
    if dropout.sorts:
        yield f"The riskiest fifth stopped {spread} times as often as its bins' age alone expects."
    else:
        yield (
            f"The riskiest fifth stopped {spread} times as often as its bins' age alone expects: "
            "no better than sorting by age. Treat the order as a guess; young bins come first."
        )


def _fifth_lines(dropout: Dropout) -> Iterator[str]:
    for row in dropout.groups.with_row_index("fifth", offset=1).iter_rows(named=True):
        yield (
            f"Fifth {row['fifth']} of 5 by rising risk: expected {row['expected_share']:.0%} to "
            f"stop, {row['stopped_share']:.0%} did (between {row['low']:.0%} and "
            f"{row['high']:.0%} but for chance; {row['spells_count']} times)."
        )


def _worth(value: CallsValue) -> Iterator[str]:
    low, likely, high = HAZARD_CUT
    yield (
        f"Worth of the calls: 100 calls to those likeliest to give up keep about "
        f"{_range(value.chosen)} bins in use a year on; 100 calls to anyone keep "
        f"{_range(value.at_random)}. {value.reached_share:.0%} of calls reach somebody."
    )
    yield (
        f"This rests on an assumed effect: a talk lowers the chance of stopping, month by month, "
        f"by {likely:.0%} ({low:.0%} to {high:.0%}). No trial of such calls was found. To learn "
        "your own effect, call half of those on the list, chosen by lot, and compare a year on."
    )


def _range(spread: tuple[float, float, float]) -> str:
    value, low, high = spread
    return f"{value:.1f} ({low:.1f} to {high:.1f})"
