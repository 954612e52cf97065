"""One sentence for the press: a figure with its range and caution, as the issued report has it."""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from typing import NamedTuple

from planner.errors import ReportError
from planner.figures import Figure, FigureRegister, nearest_figures, register_in
from planner.messages import said, say
from planner.paths import FIGURES_FILE, PROGRAM_FILE, REPORT_FOLDER
from planner.program import open_program
from planner.report.disclosure.parts import is_hidden
from planner.report.document.saying import Saying
from planner.report.issues import Issue, altered_issues, issued_register, newest_of, read_issues
from planner.report.wording import Wording


class Quote(NamedTuple):
    """A sentence that may be given out, and what the officer should know before it is."""

    sentence: str  # for the press
    # where the draft reads otherwise, or the issue is not what was given out
    notes: tuple[str, ...]


def press_quote(folder: Path, figure_id: str, reporting_year: str | None = None) -> Quote:
    """Say a figure of the newest issued report, of a year if one is given, in one sentence.

    Raises
    ------
    ReportError
        No report of the year was issued, it lacks the figure, or shows no value.
    """
    wording = Wording.of(open_program(folder / PROGRAM_FILE))
    issue = _issue_of(folder, reporting_year)
    register = issued_register(folder, issue)
    figure = _figure_of(register, figure_id, issue)
    notes = list(altered_issues(folder, read_issues(folder)).values())
    drafted = _drafted(folder, issue, figure_id)
    saying = Saying(register, wording)
    if drafted is not None and wording.figure(drafted) != wording.figure(figure):
        notes.append(say("press.drafted", folder=REPORT_FOLDER, figure=wording.figure(drafted)))
    return Quote(sentence(saying, figure, issue), tuple(notes))


def sentence(saying: Saying, figure: Figure, issue: Issue) -> str:
    """Put figure, range, source and caution into one sentence."""
    wording = saying.wording
    amount = saying.shown(figure.id, "amount").words
    spread = wording.spread(figure)
    return said(
        "press.quote_likely" if spread else "press.quote",
        label=figure.label,
        year=issue.reporting_year,
        council=saying.register.council,
        amount=amount,
        caution=_caution(figure),
        number=str(issue.number),
        day=wording.day(dt.date.fromisoformat(issue.issued_on)),
        **({"spread": spread} if spread else {}),
    )


def _caution(figure: Figure) -> str:
    if figure.low is None or figure.high is None:
        return said("press.counted")
    words = said("press.climate" if "CO2" in figure.unit else "press.estimated")
    if figure.low <= 0.0 <= figure.high:
        return said("press.could_be_zero", caution=words)
    return words


def _issue_of(folder: Path, reporting_year: str | None) -> Issue:
    issues = read_issues(folder)
    wanted = None if reporting_year is None else reporting_year.replace("/", "-")
    known = [one for one in issues if wanted in (None, one.reporting_year)]
    if known:
        return known[-1]
    message = say("press.none_of_year", year=wanted) if wanted else say("press.none")
    raise ReportError(message, path=str(folder))


def _figure_of(register: FigureRegister, figure_id: str, issue: Issue) -> Figure:
    figure = register.find(figure_id)
    if figure is None:
        hint = nearest_figures(figure_id, (one.id for one in register)) or say("press.ids")
        message = say("press.no_figure", figure=figure_id, number=str(issue.number)) + f" {hint}"
        raise ReportError(message)
    if figure.value is None:
        absent = say("number.not_shown" if is_hidden(figure) else "number.not_given")
        words = {"figure": figure_id, "absent": absent, "number": str(issue.number)}
        message = f"{say('press.no_value', **words)} {figure.method}"
        raise ReportError(message)
    return figure


def _drafted(folder: Path, issue: Issue, figure_id: str) -> Figure | None:
    """Find the figure in the draft of the same year and time; None where there is none."""
    draft = register_in(folder / REPORT_FOLDER / FIGURES_FILE)
    if draft is None or newest_of([issue], draft) is None:
        return None
    return draft.find(figure_id)
