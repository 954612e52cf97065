"""Which year is reported, and what the officer should know of a report before sending it."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from typing import TYPE_CHECKING

import polars as pl

from planner.errors import ProgramError, ReportError
from planner.messages import said, say
from planner.paths import PROGRAM_FILE, TEMPLATES
from planner.program import Program, read_program
from planner.report.figures.comparison import is_restated
from planner.report.wording import listing
from planner.report.year import CountedYear, Year, recorded_whole_before, usable_rounds
from planner.survey.asked_rounds import LEAST_ANSWERS
from planner.units import DAYS_PER_MONTH

if TYPE_CHECKING:
    from planner.report.document.contents import Contents
    from planner.store.opening import Store


LEAST_SHIPPED = 2
"""Settings that must still be those of the shipped file before a report says so."""

MUCH_BEYOND_MONTHS = 3.0
"""A curve carried on for less than this is not worth a note."""


def choose_year(
    store: Store, program: Program, label: str | None, as_of: dt.date | None = None
) -> str:
    """Name the reporting year asked for, or the newest of which a month is recorded whole.

    Raises
    ------
    ProgramError
        The program file has no such year.
    ReportError
        Nothing is recorded yet, or nothing in any year of the program file.
    """
    labels = [year.reporting_year for year in program.reporting_years]
    known = ", ".join(labels)
    if label is not None:
        written = label.replace("/", "-")
        if written not in labels:
            raise ProgramError(say("note.no_such_year", found=label, known=known))
        return written
    latest = as_of or store.query("latest_record").item()
    if not isinstance(latest, dt.date):
        raise ReportError(say("note.nothing_recorded"))
    covered = recorded_whole_before(latest)
    begun = [name for name in labels if program.months(name)[0] < covered]
    if not begun:
        message = say("note.before_every_year", day=latest, known=known)
        raise ReportError(message)
    return max(begun, key=lambda name: program.months(name)[0])


def report_notes(
    year: CountedYear, contents: Contents, left_out: Sequence[str] = ()
) -> tuple[str, ...]:
    """Say what is missing or doubtful in the records behind a report, and in the report.

    `left_out` are headings for which the Word template has no place.
    """
    notes, quality, wording = [], contents.quality, contents.saying.wording
    if left_out:
        notes.append(say("note.left_out", names=listing(left_out, len(left_out))))
    if is_restated(contents.register):
        notes.append(say("note.replaced", year=contents.label))
    counts = year.counts
    if counts.is_running:
        through = wording.day(dt.date.fromisoformat(counts.through_date))
        # nothing tells whether nothing happened since, or nobody has written it down
        _, last_day = contents.months
        is_over = dt.date.today() > last_day
        ended = {"ended": wording.day(last_day), "as_of": f"{last_day:%Y-%m-%d}"} if is_over else {}
        notes.append(say("note.ended" if is_over else "note.running", day=through, **ended))
    refused = quality.refusals["rows_count"].sum() if quality.refusals.height else 0
    if refused:
        notes.append(say("note.refused", int(refused)))
    wrong = quality.checks.filter(pl.col("severity") == "wrong")["rows_count"].sum()
    if wrong:
        notes.append(say("note.wrong", int(wrong)))
    usable = usable_rounds(counts.frames)
    rounds = counts.frames["wave_id"].unique(maintain_order=True)
    waiting = [wave_id for wave_id in rounds if wave_id not in usable]
    if waiting:
        notes.append(say("note.waiting", least=LEAST_ANSWERS, rounds=", ".join(waiting)))
    if year.cost.lines_count == 0:
        notes.append(say("note.no_ledger"))
    return (*notes, *(_beyond(year) if isinstance(year, Year) else ()))


def as_shipped(program: Program, label: str) -> tuple[str, ...]:
    """Name the settings that a report rests on and nobody has changed since the file began.

    One alone may be the council's own number by chance; nothing is said of it.
    """
    shipped = read_program(TEMPLATES / PROGRAM_FILE)
    year, example = program.year(label), shipped.reporting_years[0]
    models = {model.unit_price for model in program.bin_models}
    same = {
        "name": program.council.name == shipped.council.name,
        "budget": year.budget == example.budget,
        "levy": year.landfill_levy_per_t == example.landfill_levy_per_t,
        "gate_fee": year.gate_fee_per_t == example.gate_fee_per_t,
        "unit_price": models == {shipped.bin_models[0].unit_price},
        "landfill": program.landfill == shipped.landfill,
        "temperatures": program.climate == shipped.climate,
    }
    named = [say(f"note.shipped.{name}") for name, is_same in same.items() if is_same]
    if len(named) < LEAST_SHIPPED:
        return ()
    return (say("note.as_shipped", settings=listing(named, len(named))),)


def temperatures_as_shipped(program: Program) -> tuple[str, ...]:
    """Tell that months are as warm as in the example, on which the travel of worms rests."""
    if program.climate != read_program(TEMPLATES / PROGRAM_FILE).climate:
        return ()
    return (said("note.as_shipped", settings=said("note.shipped.temperatures")),)


def _beyond(year: Year) -> list[str]:
    oldest = year.diversion.estimates.oldest_months
    first = year.counts.handovers.select(pl.col("handover_month").min()).item()
    reach = (year.counts.before_date - first).days / DAYS_PER_MONTH
    if reach - oldest < MUCH_BEYOND_MONTHS:
        return []
    return [say("note.beyond", round(oldest))]
