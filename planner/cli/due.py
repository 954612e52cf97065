"""planner due: what is due in the next days, a calendar of the year, a pack for a successor."""

from __future__ import annotations

import datetime as dt
from collections import Counter
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from planner import run
from planner.cli.options import ProgramFolder, show
from planner.cli.options import say as tell
from planner.messages import say

if TYPE_CHECKING:
    from planner.report.due import Due, DueItem
    from planner.report.wording import Wording

DAYS_AHEAD = 90
SHOWN_OF_A_KIND = 3


def due(
    program: ProgramFolder = Path(),
    *,
    days: Annotated[int, typer.Option(min=1, max=730, help="usage.due.days")] = DAYS_AHEAD,
    as_of: Annotated[
        dt.datetime | None,
        typer.Option(
            "--as-of",
            formats=["%Y-%m-%d"],
            metavar="DAY",
            help="usage.due.as_of",
            show_default=False,
        ),
    ] = None,
    calendar: Annotated[
        Path | None,
        typer.Option(metavar="FILE", help="usage.due.calendar"),
    ] = None,
    successor: Annotated[
        Path | None,
        typer.Option(metavar="DIR", help="usage.due.successor"),
    ] = None,
) -> None:
    """Say what is due: field days, orders, calls, survey rounds, reports, backups, deletions."""
    found, wording, files = run.due(
        program, as_of.date() if as_of else None, days, calendar=calendar, successor=successor
    )
    print_due(found, wording)
    for path in files:
        typer.echo(str(path))


def print_due(found: Due, wording: Wording) -> None:
    """Print what is late and what is due, each with the command that does it."""
    late = [item for item in found.items if item.is_late]
    ahead = [item for item in found.items if not item.is_late]
    if late:
        show(say("ahead.late"))
        _print_items(late, wording)
    if ahead:
        show(say("ahead.until", day=wording.day(found.window.last)))
        _print_items(ahead, wording)
    if not found.items:
        show(say("ahead.none", day=wording.day(found.window.last)))
    if not found.has_records:
        tell(say("ahead.lists"))


def _print_items(items: list[DueItem], wording: Wording) -> None:
    """Print the first few of each kind, so that a season of hand-over days fits a screen."""
    width = max(len(wording.day(item.day)) for item in items)
    seen: Counter[str] = Counter()
    for item in items:
        seen[item.kind] += 1
        if seen[item.kind] > SHOWN_OF_A_KIND:
            continue
        show(f"  {wording.day(item.day):<{width}}  {item.what}")
        if item.command:
            show(f"  {'':<{width}}    planner {item.command}")
    left_out = sum(max(0, count - SHOWN_OF_A_KIND) for count in seen.values())
    if left_out:
        show(say("ahead.more", count=left_out))
