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
    show,
    wording_of,
)
from planner.cli.options import say as tell
from planner.field.calling_request import (
    AT_RISK_COUNT,
    CALLS_COUNT,
    REST_DAYS,
    RETRY_DAYS,
    TRIES,
    CallRequest,
)
from planner.messages import say, spoken

if TYPE_CHECKING:
    from planner.field.calling import CallingList
    from planner.report.wording import Wording
    from planner.run import CasesResult


def followup(
    program: ProgramFolder = Path(),
    *,
    day: OnDay = None,
    calls: Annotated[int, typer.Option(min=1, help="usage.followup.calls")] = CALLS_COUNT,
    at_risk: Annotated[
        int,
        typer.Option(min=0, help="usage.followup.at_risk"),
    ] = AT_RISK_COUNT,
    rest: Annotated[int, typer.Option(min=0, help="usage.followup.rest")] = REST_DAYS,
    retry: Annotated[int, typer.Option(min=1, help="usage.followup.retry")] = RETRY_DAYS,
    tries: Annotated[int, typer.Option(min=1, help="usage.followup.tries")] = TRIES,
    dry_run: Annotated[bool, typer.Option("--dry-run", help="usage.followup.dry_run")] = False,
    force: Annotated[bool, typer.Option("--force", help="usage.followup.force")] = False,
) -> None:
    """Find who is due a call, and write the workbook to call from."""
    asked = CallRequest(day_asked(day), calls, at_risk, rest, retry, tries)
    found = run.followup(program, asked, dry_run=dry_run, force=force)
    _print_reasons(found, wording_of(program))
    _print_barriers(found)
    _print_sureness(found)
    if not found.kept:
        tell(say("console.nothing_written"))
        return
    show(say("calling.file", found.called.height, path=str(found.file)))
    if found.unnamed_count:
        tell(say("calling.unnamed", found.unnamed_count))
    load = command("load", found.file, program=program)
    tell(say("calling.next", load=load))


def _print_reasons(found: CallingList, wording: Wording) -> None:
    from planner.field.due import PRIORITY

    day = wording.day(found.asked.on_date)
    show(say("calling.listed", found.called.height, day=day))
    for reason in PRIORITY:
        due = int(found.due["reasons"].list.contains(reason).sum())
        listed = int((found.called["call_reason"] == reason).sum())
        if due:
            words = say(f"calls.reason.{reason}")
            show(say("calling.reason", reason=words, due=due, listed=listed))


def _print_barriers(found: CallingList) -> None:
    barred = found.due["barrier"].drop_nulls().value_counts(sort=True)
    asked = found.asked
    for barrier, count in barred.iter_rows():
        days = asked.rest_days if barrier == "reached" else asked.retry_days
        why = say(f"barrier.{barrier}", days=days, tries=asked.tries)
        tell(say("calling.left_out", count=count, why=why))


def _print_sureness(found: CallingList) -> None:
    from planner.field.calling_sheet import how_sure_lines

    for line in how_sure_lines(found, spoken()):
        show(line)


def cases(
    program: ProgramFolder = Path(),
    *,
    day: OnDay = None,
    dry_run: Annotated[bool, typer.Option("--dry-run", help="usage.cases.dry_run")] = False,
    force: Annotated[bool, typer.Option("--force", help="usage.followup.force")] = False,
) -> None:
    """List open problems with advice, and models or worm deliveries that fail too often."""
    result = run.cases(program, day_asked(day), dry_run=dry_run, force=force)
    _print_open(result)
    _print_made_good(result)
    _print_lots(result)
    found = result.found
    if found.listed.is_empty():
        tell(say("caring.none_open"))
        return
    if not found.kept:
        tell(say("console.nothing_written"))
        return
    show(say("caring.file", found.listed.height, path=str(found.file)))
    tell(say("caring.counted_in"))
    load = command("load", found.file, program=program)
    tell(say("caring.next", load=load))


def _print_open(result: CasesResult) -> None:
    listed, wording = result.found.listed, result.wording
    answered_only_count = int(listed["is_from_answer"].sum())
    count, day = listed.height - answered_only_count, wording.day(result.found.on_date)
    show(say("caring.open", day=day, count=count, more=answered_only_count))
    for problem, count in listed["problem"].value_counts(sort=True).iter_rows():
        told = {"label": say(f"problem.{problem}.words"), "value": wording.number(count)}
        show(f"  {say('number.labelled', **told)}")


def _print_made_good(result: CasesResult) -> None:
    row, wording = result.found.made_good.row(0, named=True), result.wording
    show(
        say(
            "caring.made_good",
            replaced=row["replaced_count"],
            topped_up=row["topped_up_count"],
            mass=wording.number(row["topped_up_kg"], 1),
            amount=wording.money(row["booked_amount"]),
        )
    )


def _print_lots(result: CasesResult) -> None:
    from planner.field.failure_alert import lot_lines

    for line in lot_lines(result.found.lots):
        show(line)


def sites(program: ProgramFolder = Path(), *, year: ReportedYear = None) -> None:
    """Say what schools, flats and cafes feed their bins, and how many keep them."""
    from planner.field.shared_bins import site_lines

    label, found = run.sites(program, year)
    show(say("caring.sites", label=label))
    for line in site_lines(found):
        show(line)
    if found.sites["bins_count"].sum():
        tell(say("caring.sites_next"))


def workshops(
    program: ProgramFolder = Path(),
    *,
    day: OnDay = None,
) -> None:
    """Say who came to workshops, and whether they keep their bins longer."""
    from planner.field.workshop_effect import workshop_lines

    for line in workshop_lines(run.workshops(program, day_asked(day))):
        show(line)
    tell(say("caring.workshops_next"))
