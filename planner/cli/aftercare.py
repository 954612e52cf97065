"""After the hand-over: calls, problems, shared bins and workshops."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from planner import run
from planner.cli.options import (
    OnDay,
    ProgramFolder,
    ReportedYear,
    command,
    day_asked,
    say,
    show,
    wording_of,
)
from planner.field.calling_request import (
    AT_RISK_COUNT,
    CALLS_COUNT,
    REST_DAYS,
    RETRY_DAYS,
    TRIES,
    CallRequest,
)

if TYPE_CHECKING:
    from planner.field.calling import CallingList
    from planner.report.wording import Wording
    from planner.run import CasesResult


def followup(
    program: ProgramFolder = Path(),
    *,
    day: OnDay = None,
    calls: Annotated[int, typer.Option(min=1, help="Most calls of the list.")] = CALLS_COUNT,
    at_risk: Annotated[
        int,
        typer.Option(min=0, help="Most calls made only because a household may give up."),
    ] = AT_RISK_COUNT,
    rest: Annotated[
        int, typer.Option(min=0, help="Days in which nobody who was reached is called again.")
    ] = REST_DAYS,
    retry: Annotated[int, typer.Option(min=1, help="Days between two attempts.")] = RETRY_DAYS,
    tries: Annotated[
        int, typer.Option(min=1, help="Attempts without an answer after which calls end.")
    ] = TRIES,
    dry_run: Annotated[
        bool, typer.Option("--dry-run", help="Say who is due and write nothing.")
    ] = False,
    force: Annotated[bool, typer.Option("--force", help="Write the day's workbook again.")] = False,
) -> None:
    """Find who is due a call, and write the workbook to call from."""
    asked = CallRequest(day_asked(day), calls, at_risk, rest, retry, tries)
    found = run.followup(program, asked, dry_run=dry_run, force=force)
    _print_reasons(found, wording_of(program))
    _print_barriers(found)
    _print_sureness(found)
    if not found.kept:
        say("Nothing was written, as asked. Next: run it again without --dry-run.")
        return
    show(f"{found.file}: {found.called.height} calls. It holds personal details.")
    if found.unnamed_count:
        say(f"{found.unnamed_count:,} of them have no contact in the records: names stay empty.")
    load = command("load", found.file, program=program)
    say(f"Next: call, note what came of each, then `{load}` and delete the file.")


def _print_reasons(found: CallingList, wording: Wording) -> None:
    from planner.field.due import PRIORITY
    from planner.messages import in_english

    show(f"Calls on {wording.day(found.asked.on_date)}: {found.called.height:,} on the list.")
    for reason in PRIORITY:
        due = int(found.due["reasons"].list.contains(reason).sum())
        listed = int((found.called["call_reason"] == reason).sum())
        if due:
            words = in_english(f"calls.reason.{reason}")
            show(f"  {words}: {due:,} due, {listed:,} on the list for it")


def _print_barriers(found: CallingList) -> None:
    barred = found.due["barrier"].drop_nulls().value_counts(sort=True)
    for words, count in barred.iter_rows():
        say(f"Left out: {count:,} due. Why: {words}.")


def _print_sureness(found: CallingList) -> None:
    from planner.field.calling_sheet import how_sure_lines
    from planner.messages import FIRST_LANGUAGE, messages_for

    for line in how_sure_lines(found, messages_for(FIRST_LANGUAGE)):
        show(line)


def cases(
    program: ProgramFolder = Path(),
    *,
    day: OnDay = None,
    dry_run: Annotated[
        bool, typer.Option("--dry-run", help="Say what is open and write nothing.")
    ] = False,
    force: Annotated[bool, typer.Option("--force", help="Write the day's workbook again.")] = False,
) -> None:
    """List open problems with advice, and models or worm deliveries that fail too often."""
    result = run.cases(program, day_asked(day), dry_run=dry_run, force=force)
    _print_open(result)
    _print_made_good(result)
    _print_lots(result)
    found = result.found
    if found.listed.is_empty():
        say("No case is open, so no workbook was written.")
        return
    if not found.kept:
        say("Nothing was written, as asked. Next: run it again without --dry-run.")
        return
    show(f"{found.file}: {found.listed.height} cases with advice. It holds personal details.")
    say(
        "`planner order` counts in what cases promise: bin_replaced without a new bin yet, and "
        "worms_topped_up without worms_kg yet."
    )
    load = command("load", found.file, program=program)
    say(f"Next: act, note what was done, then `{load}` and delete the file.")


def _print_open(result: CasesResult) -> None:
    from planner.messages import in_english

    listed, wording = result.found.listed, result.wording
    answered_only_count = int(listed["is_from_answer"].sum())
    show(
        f"Cases open on {wording.day(result.found.on_date)}: "
        f"{listed.height - answered_only_count:,}; "
        f"answers of the last three months tell of {answered_only_count:,} more."
    )
    for problem, count in listed["problem"].value_counts(sort=True).iter_rows():
        show(f"  {in_english(f'problem.{problem}.words')}: {count:,}")


def _print_made_good(result: CasesResult) -> None:
    row, wording = result.found.made_good.row(0, named=True), result.wording
    show(
        f"In two years {row['replaced_count']:,} bins were replaced and {row['topped_up_count']:,} "
        f"topped up with {wording.number(row['topped_up_kg'], 1)} kg of worms; the ledger lines "
        f"that cases name come to {wording.money(row['booked_amount'])}."
    )


def _print_lots(result: CasesResult) -> None:
    from planner.field.failure_alert import lot_lines

    for line in lot_lines(result.found.lots):
        show(line)


def sites(program: ProgramFolder = Path(), *, year: ReportedYear = None) -> None:
    """Say what schools, flats and cafes feed their bins, and how many keep them."""
    from planner.field.shared_bins import site_lines

    label, found = run.sites(program, year)
    show(f"Schools, flats, cafes and other sites, {label}")
    for line in site_lines(found):
        show(line)
    if found.sites["bins_count"].sum():
        say("Next: ask sites that have not weighed for one weighed week a month, and load it.")


def workshops(
    program: ProgramFolder = Path(),
    *,
    day: OnDay = None,
) -> None:
    """Say who came to workshops, and whether they keep their bins longer."""
    from planner.field.workshop_effect import workshop_lines

    for line in workshop_lines(run.workshops(program, day_asked(day))):
        show(line)
    say("Next: `planner followup` lists who needs a call, whether they came or not.")
