"""Make a plan: read the records, measure the year before where it can be, answer, write."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, replace
from pathlib import Path

from planner.at_first_use import at_first_use
from planner.cells import csv_text
from planner.diversion.counts import Counts
from planner.diversion.measured import Diversion, measure
from planner.diversion.town_year import FACTOR_IDS
from planner.errors import EstimateError
from planner.factors import FactorTable, read_factors, with_own
from planner.factors.draws import draw_factors
from planner.figures import FigureRegister
from planner.memory import release_freed_memory
from planner.messages import said, say
from planner.paths import FIGURES_FILE, PROGRAM_FILE, SIZING_FOLDER
from planner.program import Program, label_of_date, open_program
from planner.progress import Progress, no_progress
from planner.report.appraising import stated_assumptions
from planner.report.disclosure.control import PLAN, open_control
from planner.report.disclosure.times import hidden_areas
from planner.report.plan.figures import register_plan
from planner.report.replacing import replacing_folder
from planner.report.wording import Wording
from planner.report.year import COUNTED_ONCE, count_year
from planner.sizing.context import baseline_routes, measured_of, read_evidence, routes_of
from planner.sizing.plan import ALLOCATION_FILE, allocation_frame
from planner.sizing.settings import choose_plan_year, settings_of
from planner.sizing.sizing import Sizing, size
from planner.store.migrations import utc_now
from planner.store.opening import Store, open_store

with at_first_use():  # what writes waits until there is something to write
    from planner.report.plan import charts, pages


SIZE_WORKBOOK_FILE = "size.xlsx"


@dataclass(frozen=True)
class SizeResult:
    """A plan, its figures and files, and what should be known before it is used."""

    sizing: Sizing
    register: FigureRegister
    files: tuple[Path, ...]
    notes: tuple[str, ...]


def make_plan_of(
    folder: Path,
    label: str | None = None,
    progress: Progress = no_progress,
    *,
    as_of: dt.date | None = None,
) -> SizeResult:
    """Size the giveaway of a year, that after the newest record unless said, and write its folder.

    Only what is recorded before the first day of the year counts, so that a plan made for a
    year that is over can be set against what then happened.
    """
    program = open_program(folder / PROGRAM_FILE)
    table = with_own(read_factors(), program.factors, program.council.name)
    with open_store(folder, read_only=True) as store:
        latest = store.query("latest_record").item()
        chosen = choose_plan_year(program, label, latest)
        settings = settings_of(program, chosen)
        progress(say("plan.doing.counting", year=chosen))
        store.limit_memory(program.method.store_mb)
        with store.counted_once(*COUNTED_ONCE):
            evidence = read_evidence(store, settings.start)
            counts = _counts_before(store, program, settings.start, as_of)
        control = open_control(folder, store, program, settings.start)
    release_freed_memory()
    diversion, why_not = _measured(program, table, counts, progress)
    before = label_of_date(evidence.from_date, program.council.reporting_year_first_month)
    hidden = hidden_areas(evidence.areas, program.privacy, control.of_year(before))
    if diversion is None and counts is not None and counts.is_running and counts.as_of is None:
        why_not = (*why_not, say("progress.counted_until", day=counts.before_date))
    if diversion is None:
        with open_store(folder, read_only=True) as store:
            store.limit_memory(program.method.store_mb)
            measured, routes = None, baseline_routes(store, evidence, program, table)
    else:
        measured, routes = measured_of(diversion, before, hidden), routes_of(diversion)
    del counts, diversion  # of the year the plan reads no more
    release_freed_memory()
    routes = routes.without(hidden, evidence.areas) if routes is not None else None
    sized = size(program, table, settings, evidence, measured, routes, progress)
    sizing = _with_notes(sized, control.give_out(folder, PLAN, chosen))
    register = register_plan(sizing, evidence)
    progress(say("plan.doing.writing"))
    # dated by the newest record, so that the same plan gives the same bytes
    dated = dt.datetime.combine(latest or settings.start, dt.time(), utc_now().tzinfo)
    files = write_plan(folder / SIZING_FOLDER, register, sizing, dated)
    return SizeResult(sizing, register, files, (*why_not, *sizing.notes))


def _with_notes(sizing: Sizing, told: list[str]) -> Sizing:
    """Put why it stays in the office, and what the council states, before the other notes."""
    groups = sizing.context.groups
    names = dict(zip(groups.area_ids, groups.area_names, strict=True))
    stated = stated_assumptions(sizing.program, Wording.of(sizing.program), names)
    return replace(sizing, notes=(*told, *stated, *sizing.notes))


def write_plan(
    folder: Path, register: FigureRegister, sizing: Sizing, written_at: dt.datetime
) -> tuple[Path, ...]:
    """Write everything into a new folder, then put it in the place of the old.

    A plan of another year that lies there is moved to a folder of that year.
    """
    with replacing_folder(folder) as new:
        register.write(new)
        bins = allocation_frame(sizing.main)
        (new / ALLOCATION_FILE).write_text(csv_text(bins), encoding="utf-8-sig", newline="")
        pictures = charts.write_plan_charts(new, register, sizing)
        pages.write_plan_workbook(new / SIZE_WORKBOOK_FILE, register, sizing, pictures, written_at)
        names = [SIZE_WORKBOOK_FILE, *(f"{one.name}.png" for one in pictures)]
    return tuple(folder / name for name in (*names, ALLOCATION_FILE, FIGURES_FILE))


def _counts_before(
    store: Store, program: Program, start: dt.date, as_of: dt.date | None
) -> Counts | None:
    first_month = program.council.reporting_year_first_month
    before = label_of_date(start.replace(year=start.year - 1), first_month)
    if before not in {year.reporting_year for year in program.reporting_years}:
        return None
    return count_year(store, program, before, as_of)


def _measured(
    program: Program,
    table: FactorTable,
    counts: Counts | None,
    progress: Progress,
) -> tuple[Diversion | None, tuple[str, ...]]:
    if counts is None or counts.followup.is_empty():
        return None, ()
    progress(say("plan.doing.measuring"))
    method = program.method
    factors = tuple(map(table.of_new_bin, FACTOR_IDS))
    drawn = draw_factors(factors, method.draws_count, method.seed)
    try:
        return measure(counts, program, drawn), ()
    except EstimateError as error:
        return None, (said("plan.note.not_used", why=error.said),)
