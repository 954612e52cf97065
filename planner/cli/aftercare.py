"""After the hand-over: sheets and feed, calls, problems, shared bins and workshops."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from planner import run
from planner.cli.options import (
    Day,
    DryRun,
    File,
    Force,
    ProgramFolder,
    ReportedYear,
    command,
    day_asked,
    print_note,
    show,
    show_notes,
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
from planner.messages import officer_messages, say

if TYPE_CHECKING:
    from planner.field.calling import CallingList
    from planner.field.case_list import CaseList
    from planner.report.wording import Wording


def sheet(
    program: ProgramFolder = Path(),
    *,
    language: Annotated[str | None, typer.Option(metavar="LANGUAGE")] = None,
    model: str | None = None,
    letters: Annotated[bool, typer.Option("--letters")] = False,
    template: File = None,
    copy_template: File = None,
    force: Force = False,
) -> None:
    """Write the two-page starter sheet for households as a Word document and a web page."""
    if copy_template is not None:
        from planner.report.sheet.making import SHEET_TEMPLATE
        from planner.report.word.placeholders import copy_template as copy

        copy(copy_template, SHEET_TEMPLATE, force=force)
        typer.echo(str(copy_template))
        return
    from planner.report.sheet import SheetRequest

    asked = SheetRequest(model, language, template, letters, force)
    written = run.sheet(program, asked)
    for path in written.files:
        typer.echo(str(path))
    if written.private_file is not None:
        file, results = str(written.private_file), written.results_count
        show(say("sheets.letters", written.letters_count, path=file, results=results))
        if not written.results_count:
            report = command("report", program=program)
            print_note(say("sheets.to_tell", command=report))
    show_notes(written.notes, print_note)


def feed(
    fed: Annotated[list[str] | None, typer.Argument(metavar="MATERIAL=KG")] = None,
    program: ProgramFolder = Path(),
    *,
    household: str | None = None,
    site: str | None = None,
    model: str | None = None,
    weeks: Annotated[float | None, typer.Option(min=0.0)] = None,
    worms: Annotated[float | None, typer.Option(min=0.0)] = None,
    bins: Annotated[int, typer.Option(min=1)] = 1,
    temperature: Annotated[float | None, typer.Option(min=-60.0, max=60.0)] = None,
    bedding: list[str] | None = None,
) -> None:
    """Balance a week's feed: carbon, water and acid, bedding to add, what the worms can take."""
    from planner.field.feeding_of import FeedRequest, balance_lines

    asked = FeedRequest(
        fed_kg=_masses(fed or []),
        day=day_asked(None),
        household_id=household,
        site_id=site,
        model_id=model,
        weeks=weeks,
        starter_kg=worms,
        air_c=temperature,
        bins_count=bins,
        beddings=tuple(bedding or ()),
    )
    balance, factors = run.feed(program, asked)
    for line in balance_lines(balance, factors):
        show(line)


def _masses(words: list[str]) -> dict[str, float]:
    """Read each MATERIAL=KG; a decimal comma is taken too."""
    from planner.errors import ProgramError

    masses: dict[str, float] = {}
    for word in words:
        name, _, kilos = word.partition("=")
        try:
            mass = float(kilos.replace(",", "."))
        except ValueError:
            raise ProgramError(say("feeding.no_mass", found=word)) from None
        key = name.strip().casefold().replace(" ", "_")
        masses[key] = masses.get(key, 0.0) + mass
    return masses


def followup(
    program: ProgramFolder = Path(),
    *,
    day: Day = None,
    calls: Annotated[int, typer.Option(min=1)] = CALLS_COUNT,
    at_risk: Annotated[int, typer.Option(min=0)] = AT_RISK_COUNT,
    rest: Annotated[int, typer.Option(min=0)] = REST_DAYS,
    retry: Annotated[int, typer.Option(min=1)] = RETRY_DAYS,
    tries: Annotated[int, typer.Option(min=1)] = TRIES,
    dry_run: DryRun = False,
    force: Force = False,
) -> None:
    """Find who is due a call, and write the workbook to call from."""
    from planner.field.calling import how_sure_lines, list_calls

    asked = CallRequest(day_asked(day), calls, at_risk, rest, retry, tries)
    found = list_calls(program, asked, dry_run=dry_run, force=force)
    _print_reasons(found, wording_of(program))
    _print_barriers(found)
    for line in how_sure_lines(found, officer_messages()):
        show(line)
    if not found.is_written:
        print_note(say("console.nothing_written"))
        return
    show(say("calling.file", found.called.height, path=str(found.file)))
    if found.unnamed_count:
        print_note(say("calling.unnamed", found.unnamed_count))
    load = command("load", found.file, program=program)
    print_note(say("calling.next", load=load))


def _print_reasons(found: CallingList, wording: Wording) -> None:
    from planner.field.due import PRIORITY

    day = wording.day(found.request.on_date)
    show(say("calling.listed", found.called.height, day=day))
    for reason in PRIORITY:
        due = int(found.due["reasons"].list.contains(reason).sum())
        listed = int((found.called["call_reason"] == reason).sum())
        if due:
            words = say(f"calls.reason.{reason}")
            show(say("calling.reason", reason=words, due=due, listed=listed))


def _print_barriers(found: CallingList) -> None:
    barred = found.due["barrier"].drop_nulls().value_counts(sort=True)
    request = found.request
    for barrier, count in barred.iter_rows():
        days = request.rest_days if barrier == "reached" else request.retry_days
        why = say(f"barrier.{barrier}", days=days, tries=request.tries)
        print_note(say("calling.left_out", count=count, why=why))


def cases(
    program: ProgramFolder = Path(),
    *,
    day: Day = None,
    dry_run: DryRun = False,
    force: Annotated[bool, typer.Option("--force", help="usage.followup.force")] = False,
) -> None:
    """List open problems with advice, and models or worm deliveries that fail too often."""
    from planner.field.case_list import list_cases, lot_lines

    found = list_cases(program, day_asked(day), dry_run=dry_run, force=force)
    wording = wording_of(program)
    _print_open(found, wording)
    _print_made_good(found, wording)
    for line in lot_lines(found.lots):
        show(line)
    if found.listed.is_empty():
        print_note(say("caring.none_open"))
        return
    if not found.is_written:
        print_note(say("console.nothing_written"))
        return
    show(say("caring.file", found.listed.height, path=str(found.file)))
    print_note(say("caring.counted_in"))
    load = command("load", found.file, program=program)
    print_note(say("caring.next", load=load))


def _print_open(found: CaseList, wording: Wording) -> None:
    listed = found.listed
    answered_only_count = int(listed["is_from_answer"].sum())
    count, day = listed.height - answered_only_count, wording.day(found.on_date)
    show(say("caring.open", day=day, count=count, more=answered_only_count))
    for problem, count in listed["problem"].value_counts(sort=True).iter_rows():
        told = {"label": say(f"problem.{problem}.words"), "value": wording.number(count)}
        show(f"  {say('number.labelled', **told)}")


def _print_made_good(found: CaseList, wording: Wording) -> None:
    row = found.remedies.row(0, named=True)
    replaced, topped_up = row["replaced_count"], row["topped_up_count"]
    if not (replaced or topped_up or row["booked_amount"]):
        return
    mass, amount = wording.number(row["topped_up_kg"], 1), wording.money(row["booked_amount"])
    made_good = {"replaced": replaced, "topped_up": topped_up, "mass": mass, "amount": amount}
    show(say("caring.made_good", **made_good))


def sites(program: ProgramFolder = Path(), *, year: ReportedYear = None) -> None:
    """Say what schools, flats and cafes feed their bins, and how many keep them."""
    from planner.field.shared_bins import site_lines

    label, found = run.sites(program, year)
    show(say("caring.sites", label=label))
    for line in site_lines(found):
        show(line)
    if found.sites["bins_count"].sum():
        print_note(say("caring.sites_next"))


def workshops(program: ProgramFolder = Path(), *, day: Day = None) -> None:
    """Say who came to workshops, and whether they keep their bins longer."""
    from planner.field.workshop_effect import read_workshop_effect, workshop_lines

    for line in workshop_lines(read_workshop_effect(program, day_asked(day))):
        show(line)
    print_note(say("caring.workshops_next"))
