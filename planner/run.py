"""The officer's year, a step for each command, in the order of the year; read this first.

A program begins: `new_program` starts a folder, `look` learns what files of unknown make hold,
`demo` walks the year on an invented sample program, `guide` writes how it all works.

Spreadsheets come in by `load`, and go out again by `undo` (a load) or `withdraw` (a record).
`check` names records that contradict each other; `find_duplicates` and `merge_duplicates`
deal with households that registered twice.

`size` plans how many bins to give, `order` buys for the hand-over days, `nursery` breeds worms.
`events` gives places at hand-over days, `day_papers` and `routes` write a day's papers.
`followup`, `cases`, `sites`, `workshops`, `feed` and `sheet` see the bins through their lives.

`sample` draws a survey round. `report` counts in the store, estimates and writes the year;
`progress` does so while it runs; `issue` gives a report out, for ever; `evidence` sets out
what stands behind it; `acquit` accounts to a funder for a grant. `explain`, `figure` and
`factors` answer for single figures.
`export` and `pool` put many councils together. `backup`, `restore`, `erase` and `retain` keep
records safe and people private; `due` says what comes next.

In each of them ``folder`` is the program folder, ``label`` a reporting year as "2025-26" (that of
the newest record unless said), ``as_of`` the day up to which records count, ``template`` a
council's own Word template; ``dry_run`` does the work and keeps nothing, ``force`` writes over
files that are there, and ``progress`` is told what is being done. A step that cannot be done
raises a `planner.errors.PlannerError`: nothing was written, and its message says what to fix.

A step imports the modules it goes through when it is called, so that a command starts with what
it uses and no more.
"""

from __future__ import annotations

import contextlib
import datetime as dt
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

from planner.errors import ProgramError
from planner.paths import CHECKS_FILE, PROGRAM_FILE, REFUSED_FOLDER

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence

    import polars as pl

    from planner.duplicates import Merged
    from planner.factors import FactorTable
    from planner.field.booking import Places
    from planner.field.calling import CallingList
    from planner.field.calling_request import CallRequest
    from planner.field.case_list import CaseList
    from planner.field.day import DayPapers
    from planner.field.delivering import Deliveries
    from planner.field.feeding import FeedBalance
    from planner.field.feeding_of import FeedRequest
    from planner.field.shared_bins import SharedBins
    from planner.field.workshop_effect import WorkshopEffect
    from planner.figures import FigureRegister
    from planner.intake import Proposal
    from planner.loading import LoadResult
    from planner.looking import Answers, Looked, Question
    from planner.ordering.breeding import BuyOrBreed
    from planner.ordering.plan import OrderPlan
    from planner.ordering.request import OrderRequest
    from planner.pooling.contract import Export
    from planner.pooling.pool import Pool, PoolAsked
    from planner.program import Program
    from planner.report.due.gathering import Due
    from planner.report.plan.making import SizeResult
    from planner.report.press import Quote
    from planner.report.sheet.making import SheetRequest, Sheets
    from planner.report.wording import Wording
    from planner.reporting import IssueResult
    from planner.sampling.drawing import DrawnRound
    from planner.sampling.request import Round
    from planner.store import Erased, Restored, Undone

    Progress = Callable[[str], None]


def _silent(_: str) -> None:
    """Tell nobody."""


def _program(folder: Path) -> Program:
    from planner.program import open_program

    return open_program(folder / PROGRAM_FILE)


def _factors(program: Program) -> FactorTable:
    from planner.factors import read_factors, with_own

    return with_own(read_factors(), program.factors, program.council.name)


def _check_template(template: Path | None) -> None:
    """Refuse a template with faults before an estimate or a search, which may take a minute."""
    if template is not None:
        from planner.report.word import check_template

        check_template(template)


# A program begins


def new_program(
    folder: Path,
    *,
    force: bool = False,
    day: dt.date | None = None,
    progress: Progress = _silent,
) -> tuple[Path, ...]:
    """Start a program folder: its program file, an empty intake workbook and a key file.

    The parameters are those of `planner.starting.start_program`; returns what was written.
    """
    from planner.starting import start_program

    return start_program(folder, force=force, day=day, progress=progress)


def look(
    folder: Path,
    files: Sequence[Path],
    *,
    answers: Answers,
    ask: Callable[[Question], str | None],
    dry_run: bool = False,
) -> Looked:
    """Guess what files of unknown make hold and write the council's words into program.toml.

    The parameters are those of `planner.looking.look_at_files`.
    """
    from planner.looking import look_at_files

    return look_at_files(folder, files, answers, ask, keep=not dry_run)


def demo(folder: Path, town: str, *, progress: Progress = _silent) -> ReportResult:
    """Copy a sample program out, load it on its last day and report its newest year.

    Parameters
    ----------
    town
        Name of a sample program.
    """
    from planner.starting import copy_sample, last_day_of_records

    spreadsheets = copy_sample(folder, town, progress=progress)
    day = last_day_of_records(_program(folder))
    loaded = load(folder, spreadsheets, progress=progress, day=day)
    refused = sum(int(one.counts["refused_count"].sum()) for one in loaded.files)
    progress(f"Loaded {len(loaded.files)} files; {refused} wrong rows were refused and set out")
    return report(folder, progress=progress)


def guide(target: Path, lines: Mapping[str, str], *, force: bool = False) -> None:
    """Write the guide as one web page, with an example line for each command."""
    import planner
    from planner.report.page import write_guide

    write_guide(target, lines, planner.__version__, force=force)


# Spreadsheets in, and out again


def load(
    folder: Path,
    files: Sequence[Path],
    *,
    dry_run: bool = False,
    progress: Progress = _silent,
    day: dt.date | None = None,
    accepted: frozenset[str] = frozenset(),
    confirm: Callable[[Proposal], bool] | None = None,
) -> LoadResult:
    """Take files into the store, all in one transaction; refused rows are set out.

    Parameters
    ----------
    files
        Spreadsheets or text files, in any order.
    day
        Day of loading: records of a later day are refused. None asks nothing of days.
    accepted, confirm
        Doubtful ways of reading that the officer has confirmed; who is asked for others.
    """
    from planner.loading import load_files

    program = _program(folder)
    return load_files(
        folder,
        program,
        files,
        dry_run=dry_run,
        progress=progress,
        loaded_on=day,
        accepted=accepted,
        confirm=confirm,
    )


def speak_for(folder: Path) -> None:
    """Speak the language of a program's council; go on in English where its file is not sound."""
    from planner.messages import speak
    from planner.program import read_program

    with contextlib.suppress(ProgramError):
        speak(read_program(folder / PROGRAM_FILE).council.country_locale)


def loads(folder: Path) -> pl.DataFrame:
    """List every load, those taken back among them, with the sums of their rows."""
    from planner.store import open_store

    with open_store(folder, read_only=True) as store:
        return store.listed_loads()


def readings(folder: Path) -> pl.DataFrame:
    """List the columns of every load whose cells were read as a person would."""
    from planner.store import open_store

    with open_store(folder, read_only=True) as store:
        return store.readings()


def undo(folder: Path, load_id: str, *, dry_run: bool = False) -> Undone:
    """Take one load back: what it added goes, what it corrected or withdrew returns."""
    from planner.store import open_store, undo_load, utc_now

    with open_store(folder, make=False) as store:
        return undo_load(store, load_id, utc_now(), keep=not dry_run)


def withdraw(folder: Path, table: str, key: Sequence[str], *, dry_run: bool = False) -> str:
    """Withdraw one record, named by the parts of its key, and return the load of it."""
    from planner.store import open_store, record_key, utc_now, withdraw_record

    with open_store(folder, make=False) as store:
        return withdraw_record(store, table, record_key(key), utc_now(), keep=not dry_run)


def check(folder: Path, *, as_of: dt.date | None = None) -> tuple[pl.DataFrame, Path]:
    """Find records that contradict each other or are hard to believe, and set them out.

    Returns
    -------
    tuple
        Findings of `planner.checks.run_checks`, and the CSV file of all of them.
    """
    from planner.checks import run_checks, write_checks
    from planner.store import open_store, utc_now

    program = _program(folder)
    with open_store(folder, read_only=True) as store:
        findings = run_checks(store, program, as_of or utc_now().date())
    path = folder / REFUSED_FOLDER / CHECKS_FILE
    write_checks(path, findings)
    return findings, path


def find_duplicates(folder: Path, *, force: bool = False) -> tuple[pl.DataFrame, Path]:
    """Set out registrations that are likely one household, for the officer to decide."""
    from planner.duplicates import propose

    return propose(folder, force=force)


def merge_duplicates(folder: Path, file: Path, *, dry_run: bool = False) -> Merged:
    """Merge the pairs that the officer has decided are one household.

    Parameters
    ----------
    file
        Spreadsheet with decisions.
    """
    from planner.duplicates import decide

    return decide(folder, file, keep=not dry_run)


# Sizing, buying and breeding


def size(folder: Path, label: str | None = None, *, progress: Progress = _silent) -> SizeResult:
    """Plan how many bins to give, to whom, for what money, and write the sizing folder."""
    from planner.report.plan.making import make_plan_of

    return make_plan_of(folder, _program(folder), label, progress)


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
    progress: Progress = _silent,
) -> OrderResult:
    """Plan the cheapest order for the hand-over days ahead, and write it."""
    from planner.ordering.inputs import read_allocated
    from planner.ordering.steps import plan_order
    from planner.report.disclosure.control import ORDER, give_out_order
    from planner.report.orders import check_absent, write_order

    program = _program(folder)
    check_absent(folder, asked.from_date, force=force or dry_run)
    _check_template(template)
    allocated = read_allocated(folder)
    plan = plan_order(folder, program, asked, allocated=allocated, progress=progress)
    is_written = plan.solution is not None and not dry_run
    if is_written:
        told = give_out_order(folder, program, ORDER, asked)
        plan = replace(plan, notes=(*told, *plan.notes))
    files = write_order(folder, plan, program, template) if is_written else ()
    return OrderResult(program, plan, files)


@dataclass(frozen=True)
class NurseryResult:
    """Seedings of a nursery against buying, and the files that say so."""

    program: Program
    found: BuyOrBreed
    files: tuple[Path, ...]
    notes: tuple[str, ...]


def nursery(folder: Path, asked: OrderRequest, *, progress: Progress = _silent) -> NurseryResult:
    """Plan a nursery for the hand-over days ahead, set it against buying, and write it."""
    from planner.ordering.breeding import plan_nursery
    from planner.report.disclosure.control import NURSERY, give_out_order
    from planner.report.nursery import left_out, register_breeding, write_breeding

    program = _program(folder)
    factors = _factors(program)
    found = plan_nursery(folder, program, factors, asked, progress=progress)
    register = register_breeding(found, program, factors, asked.from_date)
    told = (left_out(program), *give_out_order(folder, program, NURSERY, asked))
    notes = tuple(filter(None, told))
    files = write_breeding(folder, found, register, program, asked.from_date, notes)
    return NurseryResult(program, found, files, notes)


# Hand-over days


def events(
    folder: Path,
    first: dt.date,
    last: dt.date,
    words: str | None = None,
    *,
    dry_run: bool = False,
    force: bool = False,
    progress: Progress = _silent,
) -> Places:
    """Give places at the hand-over days ahead, and write invitations and the audit of the draw.

    Parameters
    ----------
    first, last
        Day of the offers, and the last hand-over day to fill.
    words
        Words that fix the draw.
    """
    from planner.field.booking import PlacesRequest, book_places

    program, asked = _program(folder), PlacesRequest(first, last, words)
    return book_places(folder, program, asked, dry_run=dry_run, force=force, progress=progress)


def day_papers(
    folder: Path,
    event_id: str,
    *,
    dry_run: bool = False,
    force: bool = False,
    progress: Progress = _silent,
) -> DayPapers:
    """Write the run sheet, the door list and the labels of one hand-over day."""
    from planner.field.day import day_papers as papers_of

    program = _program(folder)
    worms_kg = _worms_kg(folder, program)
    return papers_of(
        folder, program, event_id, worms_kg, dry_run=dry_run, force=force, progress=progress
    )


def routes(
    folder: Path,
    event_id: str | None = None,
    distances: Path | None = None,
    *,
    dry_run: bool = False,
    force: bool = False,
    progress: Progress = _silent,
) -> Deliveries:
    """Plan the round of a delivery day, the next unless named, and write the driver's papers."""
    from planner.field.delivering import deliver

    program = _program(folder)
    worms_kg = _worms_kg(folder, program)
    return deliver(
        folder, program, event_id, worms_kg, distances,
        dry_run=dry_run, force=force, progress=progress,
    )  # fmt: skip


def _worms_kg(folder: Path, program: Program) -> float:
    """Worms for a bin by the rule of an order [kg]."""
    from planner.ordering.inputs import starter_kg
    from planner.store import open_store

    factors = _factors(program)
    with open_store(folder, read_only=True) as store:
        return starter_kg(program, factors, store.query("registered_people"))


# After the hand-over


def followup(
    folder: Path, asked: CallRequest, *, dry_run: bool = False, force: bool = False
) -> CallingList:
    """Find who is due a call on a day, and write the workbook to call from."""
    from planner.field.calling import list_calls

    program = _program(folder)
    return list_calls(folder, program, asked, dry_run=dry_run, force=force)


@dataclass(frozen=True)
class CasesResult:
    """Open cases of a day, and how the council's country writes amounts."""

    wording: Wording
    found: CaseList


def cases(
    folder: Path, on_date: dt.date, *, dry_run: bool = False, force: bool = False
) -> CasesResult:
    """List open problems with advice, and models or deliveries that fail too often."""
    from planner.field.case_list import list_cases
    from planner.report.wording import Wording

    program = _program(folder)
    found = list_cases(folder, program, on_date, dry_run=dry_run, force=force)
    return CasesResult(Wording.of(program), found)


def sites(folder: Path, label: str | None = None) -> tuple[str, SharedBins]:
    """Say what schools, flats and cafes feed their bins in a reporting year, and its label."""
    from planner.field.shared_bins import read_shared_bins
    from planner.report.notes import choose_year
    from planner.store import open_store

    program = _program(folder)
    with open_store(folder, read_only=True) as store:
        chosen = choose_year(store, program, label, None)
        day_after = store.query("latest_record").item() + dt.timedelta(days=1)
    from_date, end_date = program.months(chosen)
    return chosen, read_shared_bins(folder, from_date, min(end_date, day_after))


def workshops(folder: Path, on_date: dt.date) -> WorkshopEffect:
    """Compare how long those who came to a workshop and others keep their bins."""
    from planner.field.workshop_effect import read_workshop_effect

    return read_workshop_effect(folder, _program(folder), on_date)


def feed(folder: Path, asked: FeedRequest) -> tuple[FeedBalance, FactorTable]:
    """Balance a week's feed, and give the factors that it rests on."""
    from planner.field.feeding import BEDDING, balance_feed
    from planner.field.feeding_of import fed_and_bins

    program = _program(folder)
    factors = _factors(program)
    fed_kg, bins = fed_and_bins(folder, program, asked)
    return balance_feed(fed_kg, bins, factors, asked.beddings or BEDDING), factors


def sheet(folder: Path, asked: SheetRequest) -> Sheets:
    """Write the households' sheet, and letters of thanks where they are asked for."""
    from planner.report.sheet.making import write_sheets

    program = _program(folder)
    factors = _factors(program)
    return write_sheets(folder, program, factors, asked)


def copy_sheet_template(target: Path, *, force: bool = False) -> None:
    """Write the planner's Word template of the sheet to a file, for a council to make its own."""
    from planner.report.sheet.word import SHEET_TEMPLATE
    from planner.report.word import copy_template as copy_word_template

    copy_word_template(target, SHEET_TEMPLATE, force=force)


# Surveys and the year's report


def sample(folder: Path, asked: Round, *, dry_run: bool = False, force: bool = False) -> DrawnRound:
    """Draw a survey round: the calling list, and the sample to load."""
    from planner.sampling.drawing import draw_round

    program = _program(folder)
    return draw_round(folder, program, asked, dry_run=dry_run, force=force)


@dataclass(frozen=True)
class ReportResult:
    """Figures of one reporting year, the files that hold them, and what to know of them."""

    program: Program
    register: FigureRegister
    files: tuple[Path, ...]
    notes: tuple[str, ...]


def report(
    folder: Path,
    label: str | None = None,
    *,
    as_of: dt.date | None = None,
    template: Path | None = None,
    progress: Progress = _silent,
) -> ReportResult:
    """Estimate a reporting year and write its figures, workbook, charts, document and page."""
    from planner.reporting import draft_report, standing_report, write_draft

    _check_template(template)
    if stands := standing_report(folder, label, as_of):
        return ReportResult(*stands)
    draft = draft_report(folder, label, as_of, template, progress)
    files, notes = write_draft(folder, draft, draft.control.issues, progress)
    return ReportResult(draft.program, draft.register, files, notes)


def progress(
    folder: Path,
    label: str | None = None,
    *,
    as_of: dt.date | None = None,
    progress: Progress = _silent,
) -> tuple[tuple[Path, ...], tuple[str, ...]]:
    """Write how a year that runs is doing: a page, a document, half a page for a committee.

    Returns the files, and why they must stay in the office where they must.
    """
    from planner.reporting import draft_report, write_pace

    return write_pace(folder, draft_report(folder, label, as_of, None, progress))


def issue(
    folder: Path,
    label: str | None = None,
    *,
    day: dt.date,
    as_of: dt.date | None = None,
    template: Path | None = None,
    restate: bool = False,
    progress: Progress = _silent,
) -> IssueResult:
    """Give a report out: write it with its number and freeze it with all it rests on.

    Parameters
    ----------
    day
        Day of issue.
    restate
        Give it out though it changes what an earlier issue of the same year and time says;
        without it the changes are found and nothing is issued.
    """
    from planner.reporting import draft_report, issue_draft

    _check_template(template)
    draft = draft_report(folder, label, as_of, template, progress)
    return issue_draft(folder, draft, day, progress, restate=restate)


def acquit(
    folder: Path, funder: str, *, as_of: dt.date | None = None, progress: Progress = _silent
) -> tuple[Path, ...]:
    """Write what a grant paid for in its own period, for its funder: a document and a page.

    Parameters
    ----------
    funder
        Name or grant reference of a [[funders]] block.
    """
    from planner.reporting import acquit_funder

    return acquit_funder(folder, funder, as_of, progress)


def evidence(
    folder: Path,
    target: Path,
    label: str | None = None,
    *,
    as_of: dt.date | None = None,
    progress: Progress = _silent,
) -> list[Path]:
    """Write what stands behind every figure of a year, for another person to work it out again.

    Parameters
    ----------
    target
        Folder to make.
    """
    from planner.report.evidence import check_new, write_evidence
    from planner.reporting import draft_report
    from planner.store import open_store

    check_new(target)
    draft = draft_report(folder, label, as_of, None, progress)
    with open_store(folder, read_only=True) as store:
        return write_evidence(target, folder, store, draft.register, draft.year)


def copy_template(target: Path, *, force: bool = False, of_papers: bool = False) -> None:
    """Write the planner's Word template to a file, for a council to make its own.

    Parameters
    ----------
    target
        File to write.
    of_papers
        The template of purchase orders and their like, rather than of the report.
    """
    from planner.report.word import OWN_TEMPLATE, PAPER_TEMPLATE
    from planner.report.word import copy_template as copy_word_template

    source = PAPER_TEMPLATE if of_papers else OWN_TEMPLATE
    copy_word_template(target, source, force=force)


# What a figure rests on, and says


def explain(
    folder: Path, figure_id: str, label: str | None = None, rows: Path | None = None
) -> str:
    """Say how a figure came about: of the last report, the plan, an order or the nursery.

    They are looked through in this order; with a year, only what is kept for it. Of a report
    the records behind the figure follow, by file; their keys are written to `rows`.
    """
    from planner.report.evidence import records_of_report, write_records
    from planner.report.explaining import explain as explain_figure
    from planner.report.explaining import records_told
    from planner.report.finding import find_figure
    from planner.report.wording import Wording

    program = _program(folder)
    register, place = find_figure(folder, figure_id, label)
    records = records_of_report(folder, program, register, figure_id)
    if rows is not None:
        write_records(rows, records)
    told = records_told(records, program.privacy.small_cell_threshold)
    return explain_figure(register, figure_id, Wording.of(program), place, told)


def figure(folder: Path, figure_id: str, label: str | None = None) -> Quote:
    """Say a figure of the issued report in one sentence for the press."""
    from planner.report.press import press_quote
    from planner.report.wording import Wording

    program = _program(folder)
    return press_quote(folder, figure_id, label, Wording.of(program))


def factors(folder: Path) -> FactorTable:
    """Read the published factors, the program's own in place of those they stand for."""
    from planner.factors import read_factors

    published = read_factors()
    if folder == Path() and not (folder / PROGRAM_FILE).exists():
        return published
    return _factors(_program(folder))


# Many councils


def export(
    folder: Path,
    label: str | None = None,
    *,
    as_of: dt.date | None = None,
    method: Mapping[str, str] | None = None,
    target: Path | None = None,
    progress: Progress = _silent,
) -> tuple[Export, Path]:
    """Write a year's totals and rates for others to add up: no household, area or month.

    Parameters
    ----------
    method
        ``edition`` and ``gwp_set``, where they are to be others than the program file's.
    target
        File to write; one in the program's folder of exports unless said.
    """
    from planner.pooling.exporting import export_year, keep_export

    made = export_year(folder, label, as_of, method or {}, progress)
    return made, keep_export(folder, target, made)


@dataclass(frozen=True)
class PoolResult:
    """Councils put together, the figures of their state report, and its files."""

    pool: Pool
    register: FigureRegister
    files: tuple[Path, ...]


def pool(
    places: Sequence[str],
    target: Path,
    asked: PoolAsked,
    *,
    day: dt.datetime,
    progress: Progress = _silent,
) -> PoolResult:
    """Put many councils together and write the state report.

    Parameters
    ----------
    places
        Exports, program folders, or folders of these; paths or addresses.
    target
        Folder of the state report.
    asked
        Title, money and method.
    day
        Stands for the time of writing.
    """
    from planner.pooling.gathering import KEPT_FOLDER, gather
    from planner.pooling.pool import pool as put_together
    from planner.pooling.writing import write_pool

    found = gather(places, target / KEPT_FOLDER, asked, progress)
    progress(f"Putting {len(found.exports):,} councils together")
    made = put_together(found.exports, asked, found.missing)
    register, files = write_pool(target, made, day)
    return PoolResult(made, register, files)


# Keeping it safe, and what is due


def due(
    folder: Path,
    day: dt.date | None,
    days: int,
    *,
    calendar: Path | None = None,
    successor: Path | None = None,
) -> tuple[Due, Wording, tuple[Path, ...]]:
    """Find out what is due, and write the year's calendar and a successor's pack if asked.

    Parameters
    ----------
    day
        The day of asking; today unless said.
    days
        How many days are looked ahead.
    calendar
        Calendar file to write.
    successor
        Folder to make for whoever takes over.

    Returns
    -------
    tuple
        What is due, how the country writes days, and the files written.
    """
    from planner.report.due.gathering import gather_due
    from planner.report.wording import Wording
    from planner.store import utc_now

    program = _program(folder)
    now = utc_now()
    found = gather_due(folder, program, day or now.date(), days)
    files: tuple[Path, ...] = ()
    if calendar is not None:
        from planner.report.due.calendar import write_calendar

        files += (write_calendar(calendar, program, found, now),)
    if successor is not None:
        from planner.report.due.calendar import write_pack

        files += write_pack(folder, successor, program, found, now)
    return found, Wording.of(program), files


def backup(folder: Path, target: Path | None = None) -> Path:
    """Write a checked backup of the program folder, without its key, and return the file."""
    from planner.store import back_up, utc_now

    return back_up(folder, target, utc_now())


def newest_backup(folder: Path) -> Path:
    """Find the newest backup in the program folder."""
    from planner.store import newest_backup as find_newest

    return find_newest(folder)


def restore(folder: Path, file: Path, *, dry_run: bool = False, unsealed: bool = False) -> Restored:
    """Put a backup in the place of what is there, which is kept until the new one opens."""
    from planner.store import restore_backup, utc_now

    return restore_backup(folder, file, utc_now(), keep=not dry_run, unsealed=unsealed)


def recovery_sheet(folder: Path) -> str:
    """Write a sheet from which the key can be typed in again."""
    from planner.store import recovery_sheet as write_sheet

    return write_sheet(folder)


def protect_key(folder: Path, passphrase: str | None) -> Path:
    """Put the key under a passphrase, or with none into the system's keyring."""
    from planner.store import protect_key as put_under

    return put_under(folder, passphrase)


def erase(folder: Path, households: Sequence[str], *, dry_run: bool = False) -> Erased:
    """Erase the personal details of households everywhere; their records stay, nameless."""
    from planner.store import erase_households, utc_now

    return erase_households(folder, list(households), utc_now(), keep=not dry_run)


def retain(folder: Path, *, dry_run: bool = False) -> Erased | None:
    """Erase personal details older than the program file allows; None if there are none."""
    from planner.store import retain_contacts, utc_now

    program = _program(folder)
    months = program.privacy.contacts_retention_months
    if months is None:
        message = (
            f"{folder / PROGRAM_FILE}: contacts_retention_months is not there. Write it under "
            "[privacy], for example contacts_retention_months = 36."
        )
        raise ProgramError(message, path=str(folder / PROGRAM_FILE))
    return retain_contacts(folder, months, utc_now(), keep=not dry_run)
