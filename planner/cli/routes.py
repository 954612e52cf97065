"""planner routes: the stops of a delivery day in a short order, and the driver's papers."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from planner import run
from planner.cli.options import ProgramFolder, command, say

if TYPE_CHECKING:
    from planner.field.delivering import Deliveries


def routes(
    program: ProgramFolder = Path(),
    *,
    day: Annotated[
        str,
        typer.Option("--day", metavar="EVENT_ID", help="Delivery day whose round is planned."),
    ],
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
    _print_round(found)
    if found.file is None:
        say("Nothing was written, as asked. Next: run it again without --dry-run.")
        return
    typer.echo(f"{found.file}: the driver's papers. They hold personal details.")
    say("Next: print them. After the round fill in the sheet bookings, then")
    say(f"  {command('load', found.file, program=program)}")


def _print_round(found: Deliveries) -> None:
    typer.echo(
        f"{found.day.event_id}, {found.day.event_date}: {found.stops.height:,} stops, "
        f"{found.places.height:,} bins, {found.total_km:,.0f} km in all, ways back included."
    )
    trips = found.stops.group_by("vehicle", "trip", maintain_order=True)
    for (vehicle, trip), stops in trips:
        typer.echo(
            f"  Vehicle {vehicle}, load {trip}: {stops.height:,} stops, "
            f"{stops['bins_count'].sum():,} bins, {stops['arrives'][0]} to {stops['arrives'][-1]}"
        )
    if not found.is_measured:
        say("Distances are straight lines times road_factor: times are rough.")
