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

The modules that a step goes through run when it first uses them, so that a command starts with
what it needs and no more.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

from planner.at_first_use import at_first_use
from planner.errors import ProgramError
from planner.messages import FIRST_LANGUAGE, say, speak, spoken
from planner.paths import CHECKS_FILE, PROGRAM_FILE, REFUSED_FOLDER

with at_first_use():
    import planner.checks
    import planner.duplicates
    import planner.factors
    import planner.field.booking
    import planner.field.calling
    import planner.field.case_list
    import planner.field.day
    import planner.field.delivering
    import planner.field.feeding
    import planner.field.feeding_of
    import planner.field.shared_bins
    import planner.field.workshop_effect
    import planner.loading
    import planner.looking
    import planner.ordering.breeding
    import planner.ordering.inputs
    import planner.ordering.steps
    import planner.pooling.exporting
    import planner.pooling.gathering
    import planner.pooling.pool
    import planner.pooling.writing
    import planner.program
    import planner.report.due.calendar
    import planner.report.due.gathering
    import planner.report.evidence
    import planner.report.explaining
    import planner.report.notes
    import planner.report.nursery
    import planner.report.orders.folder
    import planner.report.page
    import planner.report.plan.making
    import planner.report.press
    import planner.report.sheet.making
    import planner.report.sheet.word
    import planner.report.word.placeholders
    import planner.report.wording
    import planner.reporting
    import planner.sampling.drawing
    import planner.starting
    import planner.store

if TYPE_CHECKING:
    import polars as pl

    from planner.factors import FactorTable
    from planner.field.calling_request import CallRequest
    from planner.figures import FigureRegister
    from planner.intake.questions import Answers, Question
    from planner.intake.readings import Proposal
    from planner.looking import Looked
    from planner.ordering.plan import OrderPlan
    from planner.ordering.request import OrderRequest
    from planner.pooling.contract import Export
    from planner.program import FirstAnswers, Program
    from planner.report.wording import Wording
    from planner.reporting import ReportResult
    from planner.sampling.request import Round

Progress = Callable[[str], None]


def _silent(_: str) -> None:
    """Tell nobody."""


def _program(folder: Path) -> Program:
    return planner.program.open_program(folder / PROGRAM_FILE)


def _factors(program: Program) -> FactorTable:
    published = planner.factors.read_factors()
    return planner.factors.with_own(published, program.factors, program.council.name)


def _check_template(template: Path | None) -> None:
    """Refuse a template with faults before an estimate or a search, which may take a minute."""
    if template is not None:
        planner.report.word.placeholders.check_template(template)


# A program begins


def new_program(
    folder: Path,
    answers: FirstAnswers | None = None,
    *,
    force: bool = False,
    day: dt.date | None = None,
    progress: Progress = _silent,
) -> tuple[Path, ...]:
    """Start a program folder: its program file, an empty intake workbook and a key file.

    The parameters are those of `planner.starting.start_program`; returns what was written.
    """
    first = answers or planner.program.FirstAnswers()
    return planner.starting.start_program(folder, first, force=force, day=day, progress=progress)


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
    return planner.looking.look_at_files(folder, files, answers, ask, keep=not dry_run)


def demo(folder: Path, town: str, *, progress: Progress = _silent) -> ReportResult:
    """Copy a sample program out, load it on its last day and report its newest year."""
    spreadsheets = planner.starting.copy_sample(folder, town, progress=progress)
    day = planner.starting.last_day_of_records(_program(folder))
    loaded = load(folder, spreadsheets, progress=progress, day=day)
    refused = sum(int(one.counts["refused_count"].sum()) for one in loaded.files)
    progress(say("begin.loaded", len(loaded.files), refused=refused))
    return report(folder, progress=progress)


def guide(target: Path, lines: Mapping[str, str], *, force: bool = False) -> None:
    """Write the guide as one web page, with an example line for each command."""
    planner.report.page.write_guide(target, lines, planner.__version__, force=force)


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
) -> planner.loading.LoadResult:
    """Take files into the store, all in one transaction; refused rows are set out.

    Parameters
    ----------
    day
        Day of loading: records of a later day are refused. None asks nothing of days.
    accepted, confirm
        Doubtful ways of reading that the officer has confirmed; who is asked for others.
    """
    return planner.loading.load_files(
        folder, _program(folder), files,
        dry_run=dry_run, progress=progress, loaded_on=day, accepted=accepted, confirm=confirm,
    )  # fmt: skip


def speak_for(folder: Path) -> None:
    """Speak the language of a program's council; in English where its file does not say which."""
    speak(FIRST_LANGUAGE)
    try:
        speak(planner.program.read_program(folder / PROGRAM_FILE).council.country_locale)
    except ProgramError:
        speak(planner.program.written_language(folder / PROGRAM_FILE))


def loads(folder: Path) -> pl.DataFrame:
    """List every load, those taken back among them, with the sums of their rows."""
    with planner.store.open_store(folder, read_only=True) as store:
        return store.query("listed_loads")


def readings(folder: Path) -> pl.DataFrame:
    """List the columns of every load whose cells were read as a person would."""
    with planner.store.open_store(folder, read_only=True) as store:
        return store.query("load_readings_of")


def undo(folder: Path, load_id: str, *, dry_run: bool = False) -> planner.store.Undone:
    """Take one load back: what it added goes, what it corrected or withdrew returns."""
    now = planner.store.utc_now()
    with planner.store.open_store(folder, make=False) as store:
        return planner.store.undo_load(store, load_id, now, keep=not dry_run)


def withdraw(folder: Path, table: str, key: Sequence[str], *, dry_run: bool = False) -> str:
    """Withdraw one record, named by the parts of its key, and return the load of it."""
    named, now = planner.store.record_key(key), planner.store.utc_now()
    with planner.store.open_store(folder, make=False) as store:
        return planner.store.withdraw_record(store, table, named, now, keep=not dry_run)


def check(folder: Path, *, as_of: dt.date | None = None) -> tuple[pl.DataFrame, Path]:
    """Find records that contradict each other or are hard to believe, and set them out.

    Returns the findings of `planner.checks.run_checks`, and the CSV file of all of them.
    """
    program, day = _program(folder), as_of or planner.store.utc_now().date()
    with planner.store.open_store(folder, read_only=True) as store:
        findings = planner.checks.run_checks(store, program, day, spoken())
    path = folder / REFUSED_FOLDER / CHECKS_FILE
    planner.checks.write_checks(path, findings)
    return findings, path


def find_duplicates(folder: Path, *, force: bool = False) -> tuple[pl.DataFrame, Path]:
    """Set out registrations that are likely one household, for the officer to decide."""
    return planner.duplicates.propose(folder, force=force)


def merge_duplicates(
    folder: Path, file: Path, *, dry_run: bool = False
) -> planner.duplicates.Merged:
    """Merge the pairs that a spreadsheet with the officer's decisions calls one household."""
    return planner.duplicates.decide(folder, file, keep=not dry_run)


# Sizing, buying and breeding


def size(
    folder: Path, label: str | None = None, *, progress: Progress = _silent
) -> planner.report.plan.making.SizeResult:
    """Plan how many bins to give, to whom, for what money, and write the sizing folder."""
    return planner.report.plan.making.make_plan_of(folder, _program(folder), label, progress)


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
    from planner.report.disclosure.control import ORDER, give_out_order

    program = _program(folder)
    planner.report.orders.folder.check_absent(folder, asked.from_date, force=force or dry_run)
    _check_template(template)
    plan = planner.ordering.steps.plan_order(
        folder, program, asked,
        allocated=planner.ordering.inputs.read_allocated(folder), progress=progress,
    )  # fmt: skip
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


def nursery(folder: Path, asked: OrderRequest, *, progress: Progress = _silent) -> NurseryResult:
    """Plan a nursery for the hand-over days ahead, set it against buying, and write it."""
    from planner.report.disclosure.control import NURSERY, give_out_order
    from planner.report.nursery import left_out, register_breeding, write_breeding

    program = _program(folder)
    factors, first = _factors(program), asked.from_date
    found = planner.ordering.breeding.plan_nursery(
        folder, program, factors, asked, progress=progress
    )
    register = register_breeding(found, program, factors, first)
    reasons = (left_out(program), *give_out_order(folder, program, NURSERY, asked))
    notes = tuple(filter(None, reasons))
    files = write_breeding(folder, found, register, program, first, notes)
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
) -> planner.field.booking.Places:
    """Give places at the hand-over days ahead, and write invitations and the audit of the draw.

    Offers are made on the first day for hand-over days until the last; `words` fix the draw.
    """
    program, asked = _program(folder), planner.field.booking.PlacesRequest(first, last, words)
    return planner.field.booking.book_places(
        folder, program, asked, dry_run=dry_run, force=force, progress=progress
    )


def day_papers(
    folder: Path,
    event_id: str,
    *,
    dry_run: bool = False,
    force: bool = False,
    progress: Progress = _silent,
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
    progress: Progress = _silent,
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
    with planner.store.open_store(folder, read_only=True) as store:
        people = store.query("registered_people")
    return planner.ordering.inputs.starter_kg(program, _factors(program), people)


# After the hand-over


def followup(
    folder: Path, asked: CallRequest, *, dry_run: bool = False, force: bool = False
) -> planner.field.calling.CallingList:
    """Find who is due a call on a day, and write the workbook to call from."""
    program = _program(folder)
    return planner.field.calling.list_calls(folder, program, asked, dry_run=dry_run, force=force)


@dataclass(frozen=True)
class CasesResult:
    """Open cases of a day, and how the council's country writes amounts."""

    wording: Wording
    found: planner.field.case_list.CaseList


def cases(
    folder: Path, on_date: dt.date, *, dry_run: bool = False, force: bool = False
) -> CasesResult:
    """List open problems with advice, and models or deliveries that fail too often."""
    program = _program(folder)
    found = planner.field.case_list.list_cases(
        folder, program, on_date, dry_run=dry_run, force=force
    )
    return CasesResult(planner.report.wording.Wording.for_officer(program), found)


def sites(
    folder: Path, label: str | None = None
) -> tuple[str, planner.field.shared_bins.SharedBins]:
    """Say what schools, flats and cafes feed their bins in a reporting year, and its label."""
    program = _program(folder)
    with planner.store.open_store(folder, read_only=True) as store:
        chosen = planner.report.notes.choose_year(store, program, label, None)
        day_after = store.query("latest_record").item() + dt.timedelta(days=1)
    from_date, end_date = program.months(chosen)
    read = planner.field.shared_bins.read_shared_bins
    return chosen, read(folder, from_date, min(end_date, day_after))


def workshops(folder: Path, on_date: dt.date) -> planner.field.workshop_effect.WorkshopEffect:
    """Compare how long those who came to a workshop and others keep their bins."""
    return planner.field.workshop_effect.read_workshop_effect(folder, _program(folder), on_date)


def feed(
    folder: Path, asked: planner.field.feeding_of.FeedRequest
) -> tuple[planner.field.feeding.FeedBalance, FactorTable]:
    """Balance a week's feed, and give the factors that it rests on."""
    program = _program(folder)
    factors = _factors(program)
    fed_kg, bins = planner.field.feeding_of.fed_and_bins(folder, program, asked)
    beddings = asked.beddings or planner.field.feeding.BEDDING
    return planner.field.feeding.balance_feed(fed_kg, bins, factors, beddings), factors


def sheet(
    folder: Path, asked: planner.report.sheet.making.SheetRequest
) -> planner.report.sheet.making.Sheets:
    """Write the households' sheet, and letters of thanks where they are asked for."""
    program = _program(folder)
    return planner.report.sheet.making.write_sheets(folder, program, _factors(program), asked)


def copy_sheet_template(target: Path, *, force: bool = False) -> None:
    """Write the planner's Word template of the sheet to a file, for a council to make its own."""
    template = planner.report.sheet.word.SHEET_TEMPLATE
    planner.report.word.placeholders.copy_template(target, template, force=force)


# Surveys and the year's report


def sample(
    folder: Path, asked: Round, *, dry_run: bool = False, force: bool = False
) -> planner.sampling.drawing.DrawnRound:
    """Draw a survey round: the calling list, and the sample to load."""
    program = _program(folder)
    return planner.sampling.drawing.draw_round(folder, program, asked, dry_run=dry_run, force=force)


def report(
    folder: Path,
    label: str | None = None,
    *,
    as_of: dt.date | None = None,
    template: Path | None = None,
    progress: Progress = _silent,
) -> ReportResult:
    """Estimate a reporting year and write its figures, workbook, charts, document and page."""
    _check_template(template)
    return planner.reporting.standing_report(folder, label, as_of) or planner.reporting.write_draft(
        folder, planner.reporting.draft_report(folder, label, as_of, template, progress), progress
    )


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
    draft = planner.reporting.draft_report(folder, label, as_of, None, progress)
    return planner.reporting.write_pace(folder, draft)


def issue(
    folder: Path,
    label: str | None = None,
    *,
    day: dt.date,
    as_of: dt.date | None = None,
    template: Path | None = None,
    restate: bool = False,
    progress: Progress = _silent,
) -> planner.reporting.IssueResult:
    """Give a report out on a day: write it with its number and freeze it with all it rests on.

    With `restate` it is given out though it changes what an earlier issue of the same year and
    time says; without, the changes are found and nothing is issued.
    """
    _check_template(template)
    draft = planner.reporting.draft_report(folder, label, as_of, template, progress)
    return planner.reporting.issue_draft(folder, draft, day, progress, restate=restate)


def note_never_left(folder: Path, number: int, reason: str) -> str:
    """Note that an output other than an issue never left the office; return what to tell."""
    from planner.report.disclosure.outputs import note_never_left as noted

    _program(folder)
    return noted(folder, number, reason, planner.store.utc_now().date())


def acquit(
    folder: Path, funder: str, *, as_of: dt.date | None = None, progress: Progress = _silent
) -> tuple[Path, ...]:
    """Write what a grant paid for in its own period, for its funder: a document and a page.

    The funder is the name or grant reference of a [[funders]] block.
    """
    return planner.reporting.acquit_funder(folder, funder, as_of, progress)


def evidence(
    folder: Path,
    target: Path,
    label: str | None = None,
    *,
    as_of: dt.date | None = None,
    progress: Progress = _silent,
) -> list[Path]:
    """Write what stands behind every figure of a year, for another person to work it out again."""
    planner.report.evidence.check_new(target)
    draft = planner.reporting.draft_report(folder, label, as_of, None, progress)
    with planner.store.open_store(folder, read_only=True) as store:
        return planner.report.evidence.write_evidence(
            target, folder, store, draft.register, draft.year
        )


def copy_template(target: Path, *, force: bool = False, of_papers: bool = False) -> None:
    """Write the planner's Word template to a file, for a council to make its own.

    It is that of the report or, `of_papers`, that of purchase orders and their like.
    """
    from planner.report.word.placeholders import OWN_TEMPLATE, PAPER_TEMPLATE

    source = PAPER_TEMPLATE if of_papers else OWN_TEMPLATE
    planner.report.word.placeholders.copy_template(target, source, force=force)


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


def figure(folder: Path, figure_id: str, label: str | None = None) -> planner.report.press.Quote:
    """Say a figure of the issued report in one sentence for the press."""
    wording = planner.report.wording.Wording.of(_program(folder))
    return planner.report.press.press_quote(folder, figure_id, label, wording)


def factors(folder: Path) -> FactorTable:
    """Read the published factors, the program's own in place of those they stand for."""
    if folder == Path() and not (folder / PROGRAM_FILE).exists():
        return planner.factors.read_factors()
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

    The method has ``edition`` and ``gwp_set`` where they are to be others than the program
    file's; the file lies in the program's folder of exports unless a target is said.
    """
    made = planner.pooling.exporting.export_year(folder, label, as_of, method or {}, progress)
    return made, planner.pooling.exporting.keep_export(folder, target, made)


@dataclass(frozen=True)
class PoolResult:
    """Councils put together, the figures of their state report, and its files."""

    pool: planner.pooling.pool.Pool
    register: FigureRegister
    files: tuple[Path, ...]


def pool(
    places: Sequence[str],
    target: Path,
    asked: planner.pooling.pool.PoolRequest,
    *,
    day: dt.datetime,
    progress: Progress = _silent,
) -> PoolResult:
    """Put many councils together and write the state report to the target folder.

    Places are exports, program folders, or folders of these, as paths or addresses; `day` stands
    for the time of writing.
    """
    kept = target / planner.pooling.gathering.KEPT_FOLDER
    found = planner.pooling.gathering.gather(places, kept, asked, progress)
    progress(say("pooled.doing.together", len(found.exports)))
    made = planner.pooling.pool.pool(found.exports, asked, found.missing)
    register, files = planner.pooling.writing.write_pool(target, made, day)
    return PoolResult(made, register, files)


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
    program, now = _program(folder), planner.store.utc_now()
    found = planner.report.due.gathering.gather_due(folder, program, day or now.date(), days)
    files: tuple[Path, ...] = ()
    if calendar is not None:
        files += (planner.report.due.calendar.write_calendar(calendar, program, found, now),)
    if successor is not None:
        files += planner.report.due.calendar.write_pack(folder, successor, program, found, now)
    return found, planner.report.wording.Wording.for_officer(program), files


def backup(folder: Path, target: Path | None = None) -> Path:
    """Write a checked backup of the program folder, without its key, and return the file."""
    return planner.store.back_up(folder, target, planner.store.utc_now())


def restore(
    folder: Path, file: Path | None = None, *, dry_run: bool = False, unsealed: bool = False
) -> tuple[Path, planner.store.Restored]:
    """Put a backup, the newest unless named, in the place of what is there; return it and that.

    What was there is kept until the new one opens.
    """
    file, now = file or planner.store.newest_backup(folder), planner.store.utc_now()
    keep = not dry_run
    return file, planner.store.restore_backup(folder, file, now, keep=keep, unsealed=unsealed)


def recovery_sheet(folder: Path) -> str:
    """Write a sheet from which the key can be typed in again."""
    return planner.store.recovery_sheet(folder)


def protect_key(folder: Path, passphrase: str | None) -> Path:
    """Put the key under a passphrase, or with none into the system's keyring."""
    return planner.store.protect_key(folder, passphrase)


def erase(
    folder: Path, households: Sequence[str], *, dry_run: bool = False
) -> planner.store.Erased:
    """Erase the personal details of households everywhere; their records stay, nameless."""
    now = planner.store.utc_now()
    return planner.store.erase_households(folder, list(households), now, keep=not dry_run)


def retain(folder: Path, *, dry_run: bool = False) -> planner.store.Erased | None:
    """Erase personal details older than the program file allows; None if there are none."""
    program = _program(folder)
    months = program.privacy.contacts_retention_months
    if months is None:
        path = str(folder / PROGRAM_FILE)
        raise ProgramError(say("setting.retention", path=path), path=path)
    now = planner.store.utc_now()
    return planner.store.retain_contacts(folder, months, now, keep=not dry_run)
