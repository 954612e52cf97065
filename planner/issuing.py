"""A report given out: numbered and frozen, or restated with all that changed since."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from planner.at_first_use import at_first_use
from planner.errors import ReportError
from planner.messages import say
from planner.progress import Progress, no_progress
from planner.report.issues import altered_issues, begin_issue, freeze, newest_of, note_issues
from planner.reporting import draft_report, write_draft
from planner.store.migrations import utc_now
from planner.store.opening import open_store

with at_first_use():  # what writes waits until there is something to write
    from planner.report import restatement
    from planner.report.word import placeholders

if TYPE_CHECKING:
    import datetime as dt
    from pathlib import Path

    import polars as pl

    from planner.figures import FigureRegister
    from planner.program import Program
    from planner.report.issues import Issue
    from planner.reporting import Draft


@dataclass(frozen=True)
class IssueResult:
    """A report given out, or what stands in the way of it."""

    program: Program
    register: FigureRegister
    # its manifest; None where it would restate an earlier issue and this was not asked for
    issue: Issue | None
    folder: Path | None
    before: Issue | None  # the issue of the same year and time that it takes the place of
    # what reads otherwise than in that one, by cause; None where there is none
    restated: pl.DataFrame | None
    notes: tuple[str, ...] = ()  # what to know of the figures


def issue(
    folder: Path,
    label: str | None = None,
    *,
    day: dt.date,
    as_of: dt.date | None = None,
    template: Path | None = None,
    restate: bool = False,
    progress: Progress = no_progress,
) -> IssueResult:
    """Give a report out on a day: write it with its number and freeze it with all it rests on.

    Parameters
    ----------
    label, as_of, template
        Those of `report`.
    restate
        Give it out though it changes what an earlier issue of the same year and time says;
        False only finds the changes then.
    """
    if template is not None:
        # before an estimate, which may take a minute
        placeholders.check_template(template)
    draft = draft_report(folder, label, as_of, template, progress)
    issues = draft.control.issues
    before = newest_of(issues, draft.register)
    changed = None if before is None else _changes(folder, draft, issues, before, progress)
    if changed is not None and not restate:
        return IssueResult(draft.contents.program, draft.register, None, None, before, changed)
    if reasons := [one.sentence for one in draft.control.told]:
        raise ReportError("\n".join((*reasons, say("issuing.nothing_issued"))))
    with open_store(folder, read_only=True) as store:
        one = begin_issue(folder, store, draft.register, day)
    written = write_draft(folder, draft, progress, one, changed)
    frozen = freeze(folder, one, written.files)
    with open_store(folder, make=False) as store:
        note_issues(folder, store, utc_now())
    return IssueResult(
        written.program, written.register, one, frozen, before, changed, written.notes
    )


def _changes(
    folder: Path, draft: Draft, issues: tuple[Issue, ...], before: Issue, progress: Progress
) -> pl.DataFrame:
    """Find what a draft says otherwise than the issue it would take the place of."""
    wrong = altered_issues(folder, issues, draft.noted_issues)
    if before.number in wrong:
        raise ReportError(say("issuing.until_then", why=wrong[before.number]))
    changed = restatement.restate(folder, before, draft.register, utc_now(), progress)
    if changed.is_empty():
        raise ReportError(say("issuing.unchanged", number=before.number))
    return changed
