"""A year-end report from end to end: counted, estimated, registered, then written."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from planner.at_first_use import at_first_use
from planner.checks import count_checks, run_checks
from planner.errors import NotYetError, ReportError
from planner.factors import read_factors
from planner.figures import register_in
from planner.memory import release_freed_memory
from planner.messages import paper, say
from planner.paths import FIGURES_FILE, PROGRAM_FILE, REPORT_FOLDER, SIZING_FOLDER
from planner.program import open_program
from planner.program.giveaway import next_label
from planner.progress import Progress, no_progress
from planner.report.charts.boundaries import read_area_shapes
from planner.report.disclosure.control import (
    ACCOUNT,
    DRAFT,
    PROGRESS,
    Control,
    issue_that_stands,
    open_control,
)
from planner.report.document.contents import Contents, Quality
from planner.report.figures.comparison import planned_register
from planner.report.issues import altered_issues, issued_register
from planner.report.notes import as_shipped, choose_year, report_notes
from planner.report.register import register_year
from planner.report.year import (
    COUNTED_ONCE,
    CountedYear,
    Year,
    count_year,
    counted_year,
    estimate_year,
)
from planner.store.opening import open_store

with at_first_use():  # what writes waits until there is something to write
    from planner.report import acquittal
    from planner.report import evidence as evidence_pack
    from planner.report import folder as report_folder
    from planner.report import progress as progress_page
    from planner.report.word import placeholders

if TYPE_CHECKING:
    import datetime as dt
    from pathlib import Path

    import polars as pl

    from planner.figures import FigureRegister
    from planner.program import Program
    from planner.report.charts.boundaries import AreaShapes
    from planner.report.issues import Issue


@dataclass(frozen=True)
class Draft:
    """Everything that a report says, before it is written."""

    contents: Contents
    counted: CountedYear
    shapes: AreaShapes | None
    template: Path | None
    noted_issues: pl.DataFrame
    control: Control
    """What was given out before, and why this may not be: what both tell of a few households."""

    @property
    def register(self) -> FigureRegister:
        """Every figure of it."""
        return self.contents.register

    @property
    def year(self) -> Year:
        """The year with its estimates."""
        return self.counted.estimated()


def draft_report(
    folder: Path,
    label: str | None,
    as_of: dt.date | None,
    template: Path | None,
    progress: Progress,
    *,
    may_lack_estimates: bool = False,
) -> Draft:
    """Count in the store, estimate, and register every figure of a reporting year.

    The parameters are those of `report`. A year that `may_lack_estimates` and does is told why,
    and goes on with what is counted.
    """
    program = open_program(folder / PROGRAM_FILE)
    with open_store(folder, read_only=True) as store:
        label = choose_year(store, program, label, as_of)
        store.limit_memory(program.method.store_mb)
        progress(say("progress.counting", label=label))
        with store.counted_once(*COUNTED_ONCE):
            counts = count_year(store, program, label, as_of)
            noted = store.query("listed_issues")
            control = open_control(folder, store, program, counts.before_date)
            quality = Quality(
                counts.loads,
                store.query("refusals_by_reason"),
                store.query("wave_response", before_date=counts.before_date),
                store.query("audits_by_arm", before_date=counts.before_date),
                count_checks(run_checks(store, program, counts.before_date, paper())),
                store.query("amounts_of_loads"),
                store.query("totals_of_loads"),
            )
    release_freed_memory()
    shapes = read_area_shapes(folder, program, list(counts.areas["area_id"]))
    # before an estimate, which may take a minute: figures of before that cannot be read are told
    reports, plans = folder / REPORT_FOLDER, folder / SIZING_FOLDER
    others = report_folder.other_registers(reports, label)
    replaced = register_in(reports / label / FIGURES_FILE)
    planned, ahead_plan = (planned_register(plans, one) for one in (label, next_label(label)))
    progress(say("progress.estimating", program.method.draws_count))
    year: CountedYear
    try:
        year = estimate_year(program, label, counts, read_factors())
    except NotYetError as error:
        if not may_lack_estimates:
            raise
        progress(str(error))
        year = counted_year(program, label, counts, read_factors())
    issued = control.registers
    register = register_year(year, others, replaced, planned, ahead_plan, issued)
    names = dict(counts.areas.select("area_id", "area_name").iter_rows())
    contents = Contents(register, program, year.factor_table, names, quality, issues=control.issues)
    return Draft(contents, year, shapes, template, noted, control)


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
    progress: Progress = no_progress,
) -> ReportResult:
    """Estimate a reporting year and write its figures, workbook, charts, document and page.

    A year of which no tonnes can be estimated yet is told by what can be counted. Where but a few
    households have changed since an issue, that is put back instead.
    """
    if template is not None:
        # before an estimate, which may take a minute
        placeholders.check_template(template)
    standing = _standing_report(folder, label, as_of)
    if standing is not None:
        return standing
    draft = draft_report(folder, label, as_of, template, progress, may_lack_estimates=True)
    return write_draft(folder, draft, progress)


def _standing_report(folder: Path, label: str | None, as_of: dt.date | None) -> ReportResult | None:
    program = open_program(folder / PROGRAM_FILE)
    with open_store(folder, read_only=True) as store:
        stands = issue_that_stands(folder, store, program, label, as_of)
    if stands is None:
        return None
    issue, why = stands
    files = report_folder.put_back_issue(folder, issue)
    note = say("issuing.stands", number=issue.number, day=issue.issued_on)
    return ReportResult(program, issued_register(folder, issue), files, (*why, note))


def write_draft(
    folder: Path,
    draft: Draft,
    progress: Progress,
    issue: Issue | None = None,
    restated: pl.DataFrame | None = None,
) -> ReportResult:
    """Write a report, given out as an issue or not, and say what the officer should know of it."""
    progress(say("progress.writing"))
    contents = replace(draft.contents, issue=issue, restated=restated)
    files, left_out = report_folder.write_report(
        folder / REPORT_FOLDER, contents, draft.shapes, draft.template
    )
    notes = (
        *as_shipped(contents.program, contents.label),
        *report_notes(draft.counted, contents, left_out),
        *_of_issues(folder, draft, issue),
    )
    return ReportResult(contents.program, contents.register, files, notes)


def _of_issues(folder: Path, draft: Draft, issue: Issue | None) -> list[str]:
    """Say that a draft is one, and whether what was issued is still as it was."""
    issues = draft.control.issues
    found = list(altered_issues(folder, issues, draft.noted_issues).values())
    found += draft.control.sentences(DRAFT) if issue is None else []
    label = draft.register.reporting_year
    known = [one for one in issues if one.reporting_year == label]
    if issue is None and known:
        last = known[-1]
        found.append(say("issuing.draft", label=label, number=last.number, day=last.issued_on))
    return found


def write_pace(
    folder: Path,
    label: str | None = None,
    *,
    as_of: dt.date | None = None,
    progress: Progress = no_progress,
) -> tuple[tuple[Path, ...], tuple[str, ...]]:
    """Write how a year that runs is doing: a page, a document, half a page for a committee.

    The parameters are those of `report`.

    Returns
    -------
    tuple of Path, tuple of str
        The files, and why they must stay in the office; empty where they may leave it.
    """
    if label is None:
        _check_newest_year(folder, as_of)
    draft = draft_report(folder, label, as_of, None, progress, may_lack_estimates=True)
    year, label = draft.counted, draft.register.reporting_year
    forecast = year.forecast if isinstance(year, Year) else None
    if not year.counts.is_running:
        raise ReportError(say("issuing.over", label=label))
    stays = tuple(draft.control.give_out(folder, PROGRESS, label, draft.register))
    field = progress_page.read_field(folder, draft.contents, year.counts.before_date, stays)
    forecast_t = forecast.kept_out_t if forecast else None
    return progress_page.write_progress(folder, draft.contents, field, forecast_t), stays


def _check_newest_year(folder: Path, as_of: dt.date | None) -> None:
    """Refuse where records reach a year of which the program file says nothing."""
    program = open_program(folder / PROGRAM_FILE)
    with open_store(folder, read_only=True) as store:
        if added := program.year_to_add(as_of or store.query("latest_record").item()):
            program.year(added)


def acquit(
    folder: Path, name: str, *, as_of: dt.date | None = None, progress: Progress = no_progress
) -> tuple[Path, ...]:
    """Write what a grant, told by name or reference, paid for in its own period: for its funder."""
    program = open_program(folder / PROGRAM_FILE)
    funder = acquittal.find_funder(program, name)
    with open_store(folder, read_only=True) as store:
        grant = acquittal.read_grant(store, program, funder, as_of)
    drafts = [draft_report(folder, label, as_of, None, progress) for label in grant.labels]
    if reasons := dict.fromkeys(
        one for draft in drafts for one in draft.control.sentences(ACCOUNT)
    ):
        raise ReportError("\n".join((*reasons, say("issuing.nothing_written"))))
    for draft in drafts:
        draft.control.give_out(folder, ACCOUNT, draft.register.reporting_year)
    years = tuple(draft.register for draft in drafts)
    accounted = acquittal.Acquittal(grant, years, drafts[-1].contents.quality.newest)
    return acquittal.write_acquittal(folder, accounted)


def evidence(
    folder: Path,
    target: Path,
    label: str | None = None,
    *,
    as_of: dt.date | None = None,
    progress: Progress = no_progress,
) -> list[Path]:
    """Write what stands behind every figure of a year, for another person to work it out again."""
    evidence_pack.check_new(target)
    draft = draft_report(folder, label, as_of, None, progress)
    with open_store(folder, read_only=True) as store:
        return evidence_pack.write_evidence(target, folder, store, draft.register, draft.year)
