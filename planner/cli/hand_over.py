"""Places at hand-over days, their papers, and the rounds of delivery days."""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from planner import run
from planner.cli.options import (
    Day,
    DryRun,
    File,
    Force,
    FromDay,
    ProgramFolder,
    advise,
    asked_days,
    print_note,
    print_table,
    show,
    start_table,
    wording_of,
)
from planner.messages import officer_messages, say

if TYPE_CHECKING:
    from planner.field.booking import Places
    from planner.field.delivering import Deliveries
    from planner.report.wording import Wording


def events(
    program: ProgramFolder = Path(),
    *,
    day: Annotated[str | None, typer.Option(metavar="EVENT_ID")] = None,
    words: Annotated[str | None, typer.Option(metavar="WORDS")] = None,
    from_day: FromDay = None,
    until: Day = None,
    dry_run: DryRun = False,
    force: Force = False,
) -> None:
    """Give places at the hand-over days ahead, or write the papers of one day."""
    if day is not None:
        _print_papers(program, day, force=force, dry_run=dry_run)
        return
    from planner.field.booking import PlacesRequest, book_places

    first, last = asked_days(from_day, until)
    asked = PlacesRequest(first, last, words)
    found = book_places(program, asked, dry_run=dry_run, force=force, progress=print_note)
    _print_days(found, wording_of(program))
    _print_line(found)
    _print_next(found, program, first, dry_run=dry_run)


def _print_papers(program: Path, day: str, *, force: bool, dry_run: bool) -> None:
    papers = run.day_papers(program, day, force=force, dry_run=dry_run, progress=print_note)
    event_date = wording_of(program).day(papers.event_date)
    waiting = papers.waiting_for_answer_count
    about = {"event": papers.event_id, "day": event_date}
    show(say("places.papers", papers.places.height, **about, waiting=waiting))
    if not papers.files:
        print_note(say("console.nothing_written"))
        return
    for path, what in papers.files:
        show(say("number.labelled", label=str(path), value=what))
    advise(say("places.print_next"), "load", papers.files[0][0], program=program)


def _print_days(found: Places, wording: Wording) -> None:
    names = ("day", "where", "places", "held", "given", "all", "chance")
    headings = [say(f"places.column.{name}") for name in names]
    table = start_table(headings[:2], headings[2:], pad_edge=True)
    for row in found.days.iter_rows(named=True):
        where = row["venue"] or row["area_name"]
        kind = say("places.delivery") if row["event_kind"] == "delivery" else where
        places, held, given = (row[f"{name}_count"] for name in ("places", "booked", "given"))
        counts = (places, held, given, held + given)
        table.add_row(
            f"{row['event_id']}  {wording.day(row['event_date'])}",
            kind,
            *(officer_messages().decimal(count, "#,##0") for count in counts),
            wording.chance(row["beyond_chance"]),
        )
    print_table(table)


def _print_line(found: Places) -> None:
    law, ordered = found.law, found.line.ordered
    counts = {"days": law.days_count, "came": law.came_count, "booked": law.booked_count}
    rests_on = "places.rests_on_days" if law.days_count else "places.rests_on_program"
    share = officer_messages().share(law.expected_share)
    show(say("places.expected", share=share, rests=say(rests_on, **counts)))
    waits = ordered.height - found.given.height
    show(say("places.line", ordered.height, given=found.given.height, waits=waits))
    near = found.given.filter(offered_by="telephone").height
    if near:
        print_note(say("places.near", near))
    if found.line.left_out.height:
        print_note(say("places.stayed_away", found.line.left_out.height))
    if found.unnamed_count:
        print_note(say("places.unnamed", found.unnamed_count))


def _print_next(found: Places, program: Path, first: dt.date, *, dry_run: bool) -> None:
    if dry_run:
        print_note(say("console.nothing_written"))
        return
    _print_called_off(found)
    if not found.files:
        print_note(say("places.none"))
        return
    private, to_load, audit, listed, *calendars = found.files
    show(say("places.invitations", path=str(private)))
    show(say("places.to_load", path=str(to_load)))
    show(say("places.audit", path=str(audit), other=listed.name))
    if calendars:
        show(say("places.calendars", len(calendars), path=str(calendars[0].parent)))
    advise(say("places.next"), "load", to_load, program=program)


def _print_called_off(found: Places) -> None:
    if not found.called_off_files:
        return
    count = found.called_off.places.height
    print_note(say("places.called_off", count))
    show(say("places.called_off_letters", path=str(found.called_off_files[0])))
    calendars = found.called_off_files[-1].parent
    show(say("places.called_off_calendars", path=str(calendars)))


def routes(
    program: ProgramFolder = Path(),
    *,
    day: Annotated[str | None, typer.Option(metavar="EVENT_ID")] = None,
    distances: File = None,
    dry_run: DryRun = False,
    force: Force = False,
) -> None:
    """Plan the round of a delivery day and write the driver's papers."""
    found = run.routes(program, day, distances, dry_run=dry_run, force=force, progress=print_note)
    _print_round(found, wording_of(program))
    if found.file is None:
        print_note(say("console.nothing_written"))
        return
    show(say("driving.papers", path=str(found.file)))
    advise(say("driving.next"), "load", found.file, program=program)


def _print_round(found: Deliveries, wording: Wording) -> None:
    event_date = wording.day(found.day.event_date)
    whole = {
        "event": found.day.event_id,
        "day": event_date,
        "stops": say("driving.stops", found.stops.height),
        "bins": say("driving.bins", found.places.height),
        "km": wording.number(found.total_km),
    }
    show(say("driving.round", **whole))
    trips = found.stops.group_by("vehicle", "trip", maintain_order=True)
    for (vehicle, trip), stops in trips:
        of_load = {
            "vehicle": str(vehicle),
            "trip": str(trip),
            "stops": say("driving.stops", stops.height),
            "bins": say("driving.bins", int(stops["bins_count"].sum())),
            "first": str(stops["arrives"][0]),
            "last": str(stops["arrives"][-1]),
        }
        show(say("driving.load", **of_load))
    if not found.is_measured:
        print_note(say("driving.rough"))
