"""The year's figures: the report, progress of a year that runs, a figure in one sentence."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from planner import run
from planner.cli.options import (
    AsOfDay,
    OwnTemplate,
    ProgramFolder,
    ReportedYear,
    command,
    print_table,
    show,
)
from planner.cli.options import say as tell
from planner.messages import in_words, say, spoken

if TYPE_CHECKING:
    from planner.reporting import ReportResult

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
    from rich.table import Table

    from planner.report.wording import Wording

    wording = Wording.for_officer(result.program)
    register = result.register
    table = Table(title=f"{register.council}, {register.reporting_year}", box=None, pad_edge=False)
    table.add_column(say("console.figure_and_id"))
    table.add_column(say("console.value"), justify="right")
    table.add_column(say("console.interval"), justify="right")
    ahead = [figure.id for figure in register if figure.id.startswith(AHEAD)]
    for figure_id in (*HEADLINE_IDS, *ahead):
        figure = register[figure_id]
        named = f"{in_words(figure.label, spoken())}\n  {figure_id}"
        table.add_row(named, wording.amount(figure), wording.spread(figure))
    print_table(table)
    for note in _notes(result):
        show(say("console.note", note=note))
    show(f"\n{say('console.files')}")
    for path in result.files:
        typer.echo(f"  {path}")


def _notes(result: ReportResult) -> tuple[str, ...]:
    from planner.report.workbook.headlines import BELOW_ZERO, IN_YEAR

    in_year = result.register[IN_YEAR]
    if in_year.value is not None and in_year.value < 0.0:
        return (say("console.in_year_below_zero", why=say(BELOW_ZERO)), *result.notes)
    return result.notes


def report(
    program: ProgramFolder = Path(),
    *,
    year: ReportedYear = None,
    as_of: AsOfDay = None,
    template: OwnTemplate = None,
    copy_template: Annotated[
        Path | None,
        typer.Option(
            "--copy-template",
            metavar="FILE",
            help="usage.report.copy_template",
            show_default=False,
        ),
    ] = None,
    force: Annotated[bool, typer.Option("--force", help="usage.report.force")] = False,
) -> None:
    """Write a reporting year's figures, workbook, charts, Word document and web page."""
    if copy_template is not None:
        run.copy_template(copy_template, force=force)
        tell(say("console.next_template", opening="{{", closing="}}"))
        tell(f"  {command('report', '--template', copy_template, program=program)}")
        return
    day = None if as_of is None else as_of.date()
    result = run.report(program, year, as_of=day, template=template, progress=tell)
    print_headlines(result)
    tell(f"\n{say('console.next_read_report')}")
    tell(f"  {command('explain', 'kept_out_of_landfill_t', program=program)}")


def progress(
    program: ProgramFolder = Path(), *, year: ReportedYear = None, as_of: AsOfDay = None
) -> None:
    """Say how a year that runs is doing: pace, hand-over days, stock, money, what is due."""
    day = None if as_of is None else as_of.date()
    files, stays = run.progress(program, year, as_of=day, progress=tell)
    for path in files:
        typer.echo(path)
    for sentence in stays:
        tell(say("console.note", note=sentence))
    tell(say("console.next_progress_stays" if stays else "console.next_progress"))


def figure(
    figure_id: Annotated[
        str,
        typer.Argument(metavar="ID", help="usage.figure.figure_id", show_default=False),
    ],
    program: ProgramFolder = Path(),
    *,
    year: ReportedYear = None,
) -> None:
    """Say a figure of the issued report in one sentence for the press, with range and caution."""
    quote = run.figure(program, figure_id, year)
    show(quote.sentence)
    for note in quote.notes:
        tell(say("console.note", note=note))
    tell(say("console.next_figure"))
    tell(f"  {command('explain', figure_id, program=program)}")
