"""The year's figures: report, progress, issues, an account to a funder, and the evidence."""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from planner import run
from planner.cli.options import (
    File,
    Force,
    NamedDay,
    ProgramFolder,
    ReportedYear,
    advise,
    date_of,
    list_files,
    print_note,
    print_table,
    show,
    show_notes,
    start_table,
)
from planner.messages import in_words, officer_messages, say

if TYPE_CHECKING:
    import polars as pl

    from planner.issuing import IssueResult
    from planner.reporting import ReportResult

SHOWN_ROWS = 25
NEEDS_AN_ANSWER = 2

HEADLINE_IDS = (
    "bins_given",
    "bins_in_use",
    "retention_12_months",
    "feed_kg_per_bin_week",
    "fed_t",
    "landfill_share",
    "kept_out_of_landfill_t",
    "emissions_avoided_in_year_t_co2e",
    "emissions_avoided_to_date_t_co2e",
    "emissions_avoided_100_years_t_co2e",
    "program_cost",
    "cost_per_t_kept_out",
    "cost_per_t_co2e",
)


AHEAD = ("forecast_", "on_track_share[")
"""Figures of a year that still runs."""


def print_headlines(result: ReportResult) -> None:
    """Print the year's headline figures with their intervals, and the files written."""
    from planner.report.wording import Wording

    wording = Wording.for_officer(result.program)
    register = result.register
    table = start_table(
        [say("console.figure_and_id")],
        [say("book.value"), say("console.interval")],
        title=f"{register.council}, {register.reporting_year}",
    )
    ahead = [figure.id for figure in register if figure.id.startswith(AHEAD)]
    for figure_id in (one for one in (*HEADLINE_IDS, *ahead) if one in register):
        figure = register[figure_id]
        named = f"{in_words(figure.label, officer_messages())}\n  {figure_id}"
        table.add_row(named, wording.amount(figure), wording.spread(figure))
    print_table(table)
    show_notes(_notes(result))
    list_files(result.files)


def _notes(result: ReportResult) -> tuple[str, ...]:
    from planner.report.workbook.writing import IN_YEAR

    in_year = result.register.find(IN_YEAR)
    if in_year is not None and in_year.value is not None and in_year.value < 0.0:
        return (say("console.in_year_below_zero", why=say("book.below_zero")), *result.notes)
    return result.notes


def report(
    program: ProgramFolder = Path(),
    *,
    year: ReportedYear = None,
    as_of: NamedDay = None,
    template: File = None,
    copy_template: File = None,
    force: Force = False,
) -> None:
    """Write a reporting year's figures, workbook, charts, Word document and web page."""
    if copy_template is not None:
        from planner.report.word.placeholders import copy_template as copy

        copy(copy_template, force=force)
        words = say("console.next_template", opening="{{", closing="}}")
        advise(words, "report", "--template", copy_template, program=program)
        return
    from planner import reporting

    day = date_of(as_of)
    result = reporting.report(program, year, as_of=day, template=template, progress=print_note)
    print_headlines(result)
    words = f"\n{say('console.next_read_report')}"
    kept_out = "kept_out_of_landfill_t"
    told = kept_out if kept_out in result.register else "bins_given"
    advise(words, "explain", told, program=program)


def progress(
    program: ProgramFolder = Path(), *, year: ReportedYear = None, as_of: NamedDay = None
) -> None:
    """Say how a year that runs is doing: pace, hand-over days, stock, money, what is due."""
    from planner.reporting import write_pace

    files, stays = write_pace(program, year, as_of=date_of(as_of), progress=print_note)
    for path in files:
        typer.echo(path)
    show_notes(stays, print_note)
    print_note(say("console.next_progress_stays" if stays else "console.next_progress"))


def issue(
    program: ProgramFolder = Path(),
    *,
    year: ReportedYear = None,
    as_of: NamedDay = None,
    template: File = None,
    date: NamedDay = None,
    restate: Annotated[bool, typer.Option("--restate")] = False,
    never_left: Annotated[int | None, typer.Option(metavar="OUTPUT")] = None,
    reason: Annotated[str, typer.Option(show_default=False)] = "",
) -> None:
    """Give a report out: number it and freeze it with digests of all that it rests on."""
    from planner import issuing
    from planner.report.wording import Wording

    if never_left is not None:
        show(run.note_never_left(program, never_left, reason))
        return
    result = issuing.issue(
        program,
        year,
        day=date_of(date) or dt.date.today(),
        as_of=date_of(as_of),
        template=template,
        restate=restate,
        progress=print_note,
    )
    if result.before is not None and result.restated is not None:
        _print_changes(result, result.restated, result.before.number)
    if result.issue is None:
        label = result.register.reporting_year
        words = f"\n{say('console.not_issued')}"
        advise(words, "issue", "--year", label, "--restate", program=program)
        raise typer.Exit(NEEDS_AN_ANSWER)
    day = Wording.of(result.program).day(dt.date.fromisoformat(result.issue.issued_on))
    number = str(result.issue.number)
    show(say("console.issued", number=number, day=day, folder=str(result.folder)))
    tables = len(result.issue.records)
    show(say("console.issue_rests_on", len(result.issue.loads), tables=tables))
    show_notes(result.notes)
    advise(say("console.next_issued"), "figure", "kept_out_of_landfill_t", program=program)


def _print_changes(result: IssueResult, changed: pl.DataFrame, number: int) -> None:
    """Print the material changes by cause; all of them stand in the file of the issue."""
    from planner.report.restatement import CAUSES, changed_amount
    from planner.report.wording import Wording

    material = changed.filter("is_material")
    count = changed.height
    show(say("console.changed_since", count, issue=str(number), material=material.height))
    headings = ("figure", "issued", "today", "by")
    table = start_table([say(f"console.changed.{heading}") for heading in headings])
    wording = Wording.of(result.program)
    for row in material.head(SHOWN_ROWS).iter_rows(named=True):
        issued, today, *parts = (
            changed_amount(result.register, row, name, wording)
            for name in ("issued", "today", *CAUSES)
        )
        # an amount has a line of its own, so that it does not fold
        by = [
            f"{say(f'report.by.{cause}'.replace(' ', '_'))}\n{part}"
            for cause, part in zip(CAUSES, parts, strict=True)
            if row[cause]
        ]
        table.add_row(row["label"], issued, today, "\n".join(by))
    print_table(table)
    if material.height > SHOWN_ROWS:
        show(say("console.more", count=material.height - SHOWN_ROWS))


def acquit(
    funder: Annotated[str, typer.Argument(metavar="FUNDER", show_default=False)],
    program: ProgramFolder = Path(),
    *,
    as_of: NamedDay = None,
) -> None:
    """Write for a funder what a grant paid for: bins, tonnes, ledger lines, what is left."""
    from planner import reporting

    for path in reporting.acquit(program, funder, as_of=date_of(as_of), progress=print_note):
        typer.echo(path)
    print_note(say("console.next_acquit"))


def evidence(
    target: Annotated[Path, typer.Argument(metavar="DIR")],
    program: ProgramFolder = Path(),
    *,
    year: ReportedYear = None,
    as_of: NamedDay = None,
) -> None:
    """Write the rows, factors, settings and digests behind every figure of a year."""
    from planner import reporting

    for path in reporting.evidence(
        program, target, year, as_of=date_of(as_of), progress=print_note
    ):
        typer.echo(path)
    print_note(say("console.next_evidence"))
