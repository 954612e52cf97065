"""The officer's year: its steps in order, and those that lead through several rooms.

A command calls one step. Where one room does it, the step is a function there: it takes the
program folder and opens what it needs. What several rooms do together is put together here.

======================  =====================================================================
a program begins        `starting.start_program`, `looking.look_at_files`, `demo`,
                        `report.page.write_guide`
records in, and out     `loading.load_files`, `store.undoing`, `checks.check`,
                        `duplicates.propose` and `decide`
bins and worms          `report.plan.making.make_plan_of`, `order`, `nursery`
hand-over days          `field.booking.book_places`, `day_papers`, `routes`
bins in use             `field.calling.list_calls`, `field.case_list.list_cases`, `sites`,
                        `field.workshop_effect.read_workshop_effect`, `feed`, `sheet`
surveys                 `sampling.drawing.draw_round`
the year's report       `reporting.report`, `write_pace`, `acquit` and `evidence`,
                        `issuing.issue`
a single figure         `explain`, `report.press.press_quote`, `factors`
many councils           `pooling.exporting.give_out_export`, `pooling.writing.pool_councils`
kept safe               `store.keeping`: backups, erasing; `store.keys`
what comes next         `due`
======================  =====================================================================

In each of them ``folder`` is the program folder, ``label`` a reporting year as "2025-26" (that of
the newest record unless said), ``as_of`` the day up to which records count, ``template`` a
council's own Word template; ``dry_run`` does the work and keeps nothing, ``force`` writes over
files that are there, and ``progress`` is told what is being done. A step that cannot be done
raises a `planner.errors.PlannerError`: nothing was written, and its message says what to fix.

The modules that a step goes through run when it first uses them, so that a command starts with
what it needs and no more.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

from planner.at_first_use import at_first_use
from planner.errors import ProgramError
from planner.messages import FIRST_LANGUAGE, say, set_language
from planner.paths import PROGRAM_FILE
from planner.progress import Progress, no_progress

with at_first_use():
    import planner.factors
    import planner.field.day
    import planner.field.delivering
    import planner.field.feeding
    import planner.field.feeding_of
    import planner.field.shared_bins
    import planner.loading
    import planner.ordering.breeding
    import planner.ordering.inputs
    import planner.ordering.steps
    import planner.program
    import planner.report.due.calendar
    import planner.report.due.gathering
    import planner.report.evidence
    import planner.report.explaining
    import planner.report.notes
    import planner.report.nursery
    import planner.report.orders.folder
    import planner.report.sheet.making
    import planner.report.word.placeholders
    import planner.report.wording
    import planner.reporting
    import planner.starting
    import planner.store.migrations
    import planner.store.opening

if TYPE_CHECKING:
    from planner.factors import FactorTable
    from planner.ordering.plan import OrderPlan
    from planner.ordering.request import OrderRequest
    from planner.program import Program
    from planner.report.sheet import SheetRequest
    from planner.report.wording import Wording
    from planner.reporting import ReportResult


def _program(folder: Path) -> Program:
    return planner.program.open_program(folder / PROGRAM_FILE)


def _factors(program: Program) -> FactorTable:
    published = planner.factors.read_factors()
    return planner.factors.with_own(published, program.factors, program.council.name)


# A program begins


def demo(folder: Path, town: str, *, progress: Progress = no_progress) -> ReportResult:
    """Copy a sample program out, load it on its last day and report its newest year."""
    spreadsheets = planner.starting.copy_sample(folder, town, progress=progress)
    day = planner.starting.last_day_of_records(_program(folder))
    loaded = planner.loading.load_files(folder, spreadsheets, progress=progress, day=day)
    refused = sum(int(one.counts["refused_count"].sum()) for one in loaded.files)
    progress(say("begin.loaded", len(loaded.files), refused=refused))
    return planner.reporting.report(folder, progress=progress)


# Spreadsheets in, and out again


def set_language_for(folder: Path) -> None:
    """Speak the language of a program's council; in English where its file does not say which."""
    set_language(FIRST_LANGUAGE)
    try:
        set_language(planner.program.read_program(folder / PROGRAM_FILE).council.country_locale)
    except ProgramError:
        set_language(planner.program.written_language(folder / PROGRAM_FILE))


# Sizing, buying and breeding


@dataclass(frozen=True)
class OrderResult:
    """An order that was planned, and its files; none where no plan meets every limit."""

    program: Program
    plan: OrderPlan
    files: tuple[Path, ...]


def order(
    folder: Path,
    asked: OrderRequest,
    *,
    dry_run: bool = False,
    force: bool = False,
    template: Path | None = None,
    progress: Progress = no_progress,
) -> OrderResult:
    """Plan the cheapest order for the hand-over days ahead, and write it."""
    from planner.report.disclosure.control import ORDER, give_out_order

    program = _program(folder)
    planner.report.orders.folder.check_absent(folder, asked.from_date, force=force or dry_run)
    if template is not None:
        # before a search, which may take a minute
        planner.report.word.placeholders.check_template(template)
    plan = planner.ordering.steps.plan_order(
        folder, program, asked,
        allocated=planner.ordering.inputs.read_allocated(folder), progress=progress,
    )  # fmt: skip
    plan = replace(
        plan, notes=(*plan.notes, *planner.report.notes.temperatures_as_shipped(program))
    )
    if plan.solution is None or dry_run:
        return OrderResult(program, plan, ())
    reasons = give_out_order(folder, program, ORDER, asked)
    plan = replace(plan, notes=(*reasons, *plan.notes))
    files = planner.report.orders.folder.write_order(folder, plan, program, template)
    return OrderResult(program, plan, files)


@dataclass(frozen=True)
class NurseryResult:
    """Seedings of a nursery against buying, and the files that say so."""

    program: Program
    found: planner.ordering.breeding.BuyOrBreed
    files: tuple[Path, ...]
    notes: tuple[str, ...]


def nursery(
    folder: Path, asked: OrderRequest, *, progress: Progress = no_progress
) -> NurseryResult:
    """Plan a nursery for the hand-over days ahead, set it against buying, and write it."""
    from planner.report.disclosure.control import NURSERY, give_out_order

    program = _program(folder)
    factors, first = _factors(program), asked.from_date
    found = planner.ordering.breeding.plan_nursery(
        folder, program, factors, asked, progress=progress
    )
    register = planner.report.nursery.register_breeding(found, program, factors, first)
    reasons = give_out_order(folder, program, NURSERY, asked)
    shipped = planner.report.notes.temperatures_as_shipped(program)
    notes = tuple(filter(None, (planner.report.nursery.left_out(program), *reasons, *shipped)))
    files = planner.report.nursery.write_breeding(folder, found, register, program, first, notes)
    return NurseryResult(program, found, files, notes)


# Hand-over days


def day_papers(
    folder: Path,
    event_id: str,
    *,
    dry_run: bool = False,
    force: bool = False,
    progress: Progress = no_progress,
) -> planner.field.day.DayPapers:
    """Write the run sheet, the door list and the labels of one hand-over day."""
    program = _program(folder)
    worms_kg = _worms_kg(folder, program)
    return planner.field.day.day_papers(
        folder, program, event_id, worms_kg, dry_run=dry_run, force=force, progress=progress
    )


def routes(
    folder: Path,
    event_id: str | None = None,
    distances: Path | None = None,
    *,
    dry_run: bool = False,
    force: bool = False,
    progress: Progress = no_progress,
) -> planner.field.delivering.Deliveries:
    """Plan the round of a delivery day, the next unless named, and write the driver's papers."""
    program = _program(folder)
    worms_kg = _worms_kg(folder, program)
    return planner.field.delivering.deliver(
        folder, program, event_id, worms_kg, distances,
        dry_run=dry_run, force=force, progress=progress,
    )  # fmt: skip


def _worms_kg(folder: Path, program: Program) -> float:
    """Worms for a bin by the rule of an order [kg]."""
    with planner.store.opening.open_store(folder, read_only=True) as store:
        people = store.query("registered_people")
    return planner.ordering.inputs.starter_kg(program, _factors(program), people)


# After the hand-over


def sites(
    folder: Path, label: str | None = None
) -> tuple[str, planner.field.shared_bins.SharedBins]:
    """Say what schools, flats and cafes feed their bins in a reporting year, and its label."""
    program = _program(folder)
    with planner.store.opening.open_store(folder, read_only=True) as store:
        chosen = planner.report.notes.choose_year(store, program, label, None)
        day_after = store.query("latest_record").item() + dt.timedelta(days=1)
    from_date, end_date = program.months(chosen)
    read = planner.field.shared_bins.read_shared_bins
    return chosen, read(folder, from_date, min(end_date, day_after))


def feed(
    folder: Path, asked: planner.field.feeding_of.FeedRequest
) -> tuple[planner.field.feeding.FeedBalance, FactorTable]:
    """Balance a week's feed, and give the factors that it rests on."""
    program = _program(folder)
    factors = _factors(program)
    fed_kg, bins = planner.field.feeding_of.fed_and_bins(folder, program, asked)
    beddings = asked.beddings or planner.field.feeding.BEDDING
    return planner.field.feeding.balance_feed(fed_kg, bins, factors, beddings), factors


def sheet(folder: Path, asked: SheetRequest) -> planner.report.sheet.making.Sheets:
    """Write the households' sheet, and letters of thanks where they are asked for."""
    program = _program(folder)
    return planner.report.sheet.making.write_sheets(folder, program, _factors(program), asked)


# Surveys and the year's report


def note_never_left(folder: Path, number: int, reason: str) -> str:
    """Note that an output other than an issue never left the office; return what to tell."""
    from planner.report.disclosure.outputs import note_never_left as noted

    _program(folder)
    return noted(folder, number, reason, planner.store.migrations.utc_now().date())


# What a figure rests on, and says


def explain(
    folder: Path, figure_id: str, label: str | None = None, rows: Path | None = None
) -> str:
    """Say how a figure came about: of the last report, the plan, an order or the nursery.

    They are looked through in this order; with a year, only what is kept for it. Of a report
    the records behind the figure follow, by file; their keys are written to `rows`.
    """
    program = _program(folder)
    register, place = planner.report.explaining.find_figure(folder, figure_id, label)
    records = planner.report.evidence.records_of_report(folder, program, register, figure_id)
    if rows is not None:
        planner.report.evidence.write_records(rows, records)
    threshold = program.privacy.small_cell_threshold
    sentences = planner.report.explaining.records_told(records, threshold)
    wording = planner.report.wording.Wording.of(program)
    return planner.report.explaining.explain(register, figure_id, wording, place, sentences)


def factors(folder: Path) -> FactorTable:
    """Read the published factors, the program's own in place of those they stand for."""
    if folder == Path() and not (folder / PROGRAM_FILE).exists():
        return planner.factors.read_factors()
    return _factors(_program(folder))


# Keeping it safe, and what is due


def due(
    folder: Path,
    day: dt.date | None,
    days: int,
    *,
    calendar: Path | None = None,
    successor: Path | None = None,
) -> tuple[planner.report.due.Due, Wording, tuple[Path, ...]]:
    """Find out what is due, and write the year's calendar and a successor's pack if asked.

    Looks `days` ahead of the day of asking, today unless said. Returns what is due, how the
    country writes days, and the files: the calendar, and those of the pack's folder.
    """
    program, now = _program(folder), planner.store.migrations.utc_now()
    found = planner.report.due.gathering.gather_due(folder, program, day or now.date(), days)
    files: tuple[Path, ...] = ()
    if calendar is not None:
        files += (planner.report.due.calendar.write_calendar(calendar, program, found, now),)
    if successor is not None:
        files += planner.report.due.calendar.write_pack(folder, successor, program, found, now)
    return found, planner.report.wording.Wording.for_officer(program), files
