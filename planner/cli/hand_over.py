"""Places at hand-over days, their papers, and the rounds of delivery days."""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from planner import run
from planner.cli.options import (
    FromDay,
    ProgramFolder,
    UntilDay,
    asked_days,
    command,
    print_table,
    say,
    show,
    wording_of,
)

if TYPE_CHECKING:
    from planner.field.booking import Places
    from planner.field.delivering import Deliveries
    from planner.report.wording import Wording


def events(
    program: ProgramFolder = Path(),
    *,
    day: Annotated[
        str | None,
        typer.Option(
            "--day",
            metavar="EVENT_ID",
            help="Write the papers of this hand-over day: run sheet, door list, labels.",
            show_default=False,
        ),
    ] = None,
    words: Annotated[
        str | None,
        typer.Option(
            metavar="WORDS",
            help="Words that fix the draw, as numbers drawn in public that morning; those of "
            "program.toml and the day unless said.",
            show_default=False,
        ),
    ] = None,
    from_day: FromDay = None,
    until: UntilDay = None,
    dry_run: Annotated[
        bool, typer.Option("--dry-run", help="Say who would get a place and write nothing.")
    ] = False,
    force: Annotated[bool, typer.Option("--force", help="Write its files again.")] = False,
) -> None:
    """Give places at the hand-over days ahead, or write the papers of one day."""
    if day is not None:
        _print_papers(program, day, force=force, dry_run=dry_run)
        return
    first, last = asked_days(from_day, until)
    found = run.events(program, first, last, words, dry_run=dry_run, force=force, progress=say)
    _print_days(found, wording_of(program))
    _print_line(found)
    _print_next(found, program, first, dry_run=dry_run)


def _print_papers(program: Path, day: str, *, force: bool, dry_run: bool) -> None:
    papers = run.day_papers(program, day, force=force, dry_run=dry_run, progress=say)
    event_date = wording_of(program).day(papers.event_date)
    show(
        f"{papers.event_id}, {event_date}: {papers.places.height:,} households hold a "
        f"place, {papers.waiting_for_answer_count:,} of them have not answered yet."
    )
    if not papers.files:
        say("Nothing was written, as asked. Next: run it again without --dry-run.")
        return
    for path, what in papers.files:
        show(f"{path}: {what}")
    say("Next: print them. After the day fill in the sheet bookings of the run sheet, then")
    say(f"  {command('load', papers.files[0][0], program=program)}")


def _print_days(found: Places, wording: Wording) -> None:
    from rich.table import Table

    table = Table(box=None, pad_edge=True)
    table.add_column("day")
    table.add_column("where")
    for name in ("places", "held", "given now", "in all", "chance of too many"):
        table.add_column(name, justify="right")
    for row in found.days.iter_rows(named=True):
        where = row["venue"] or row["area_name"]
        kind = "delivery" if row["event_kind"] == "delivery" else where
        in_all = row["booked_count"] + row["given_count"]
        table.add_row(
            f"{row['event_id']}  {wording.day(row['event_date'])}",
            kind,
            f"{row['places_count']:,}",
            f"{row['booked_count']:,}",
            f"{row['given_count']:,}",
            f"{in_all:,}",
            wording.chance(row["beyond_chance"]),
        )
    print_table(table)


def _print_line(found: Places) -> None:
    law, ordered = found.law, found.line.ordered
    rests = (
        f"of your own days, {law.days_count} so far: {law.came_count:,} of "
        f"{law.booked_count:,} came"
        if law.days_count
        else "the share of program.toml; no day is recorded yet"
    )
    show(f"{law.expected_share:.0%} of those with a place are expected to come ({rests}).")
    waits = ordered.height - found.given.height
    show(
        f"{ordered.height:,} households were in line; {found.given.height:,} get a place, "
        f"{waits:,} go on waiting."
    )
    near = found.given.filter(offered_by="telephone").height
    if near:
        say(f"{near:,} places are for days so near that people must be telephoned.")
    if found.line.left_out.height:
        say(
            f"{found.line.left_out.height:,} households stayed away too often and are offered "
            "no place; ring them and ask whether they still want a bin."
        )
    if found.unnamed_count:
        say(f"{found.unnamed_count:,} have no contact in the records: their names stay empty.")


def _print_next(found: Places, program: Path, first: dt.date, *, dry_run: bool) -> None:
    if dry_run:
        say("Nothing was written, as asked. Next: run it again without --dry-run.")
        return
    _print_called_off(found)
    if not found.files:
        say("There was no place to give, or nobody to give one to: no invitation was written.")
        return
    private, to_load, audit, listed, *calendars = found.files
    show(f"{private}: the invitations. It holds personal details.")
    show(f"{to_load}: the places, to be loaded.")
    show(f"{audit} and {listed.name}: what another person needs to make the draw again.")
    if calendars:
        show(f"{calendars[0].parent}: {len(calendars)} calendar files to attach.")
    say(
        "Next: load the places and send the invitations. As answers come, write accepted or "
        "declined in its column state and load it again:"
    )
    say(f"  {command('load', to_load, program=program)}")


def _print_called_off(found: Places) -> None:
    if not found.called_off_files:
        return
    count = found.called_off.places.height
    say(f"{count:,} places are no longer held: called off, declined or moved. Tell them so.")
    show(f"{found.called_off_files[0]}: letters that say so. It holds personal details.")
    show(f"{found.called_off_files[-1].parent}: calendar files that take the day out of calendars.")


def routes(
    program: ProgramFolder = Path(),
    *,
    day: Annotated[
        str | None,
        typer.Option(
            "--day",
            metavar="EVENT_ID",
            help="Delivery day whose round is planned; the next with places unless said.",
            show_default=False,
        ),
    ] = None,
    distances: Annotated[
        Path | None,
        typer.Option(
            metavar="FILE",
            help="Distances that were measured, a CSV file with from_stop, to_stop, km; "
            "straight lines times road_factor unless given.",
            show_default=False,
        ),
    ] = None,
    dry_run: Annotated[
        bool, typer.Option("--dry-run", help="Say how the round would go and write nothing.")
    ] = False,
    force: Annotated[bool, typer.Option("--force", help="Write its file again.")] = False,
) -> None:
    """Plan the round of a delivery day and write the driver's papers."""
    found = run.routes(program, day, distances, dry_run=dry_run, force=force, progress=say)
    _print_round(found, wording_of(program))
    if found.file is None:
        say("Nothing was written, as asked. Next: run it again without --dry-run.")
        return
    show(f"{found.file}: the driver's papers. They hold personal details.")
    say("Next: print them. After the round fill in the sheet bookings, then")
    say(f"  {command('load', found.file, program=program)}")


def _counted(count: int, noun: str) -> str:
    return f"{count:,} {noun}{'' if count == 1 else 's'}"


def _print_round(found: Deliveries, wording: Wording) -> None:
    event_date = wording.day(found.day.event_date)
    show(
        f"{found.day.event_id}, {event_date}: {_counted(found.stops.height, 'stop')}, "
        f"{_counted(found.places.height, 'bin')}, {found.total_km:,.0f} km in all, "
        "ways back included."
    )
    trips = found.stops.group_by("vehicle", "trip", maintain_order=True)
    for (vehicle, trip), stops in trips:
        hours = f"{stops['arrives'][0]} to {stops['arrives'][-1]}"
        show(
            f"  Vehicle {vehicle}, load {trip}: {_counted(stops.height, 'stop')}, "
            f"{_counted(int(stops['bins_count'].sum()), 'bin')}, {hours}"
        )
    if not found.is_measured:
        say("Distances are straight lines times road_factor: times are rough.")
