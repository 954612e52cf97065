"""The short table of a year's headline figures."""

from __future__ import annotations

from typing import TYPE_CHECKING

import typer

if TYPE_CHECKING:
    from planner.run import ReportResult

WIDTH = 110
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
    from rich.console import Console
    from rich.table import Table

    from planner.report.wording import Wording

    wording = Wording.of(result.program)
    register = result.register
    table = Table(title=f"{register.council}, {register.reporting_year}", box=None, pad_edge=False)
    table.add_column("figure", ratio=1)
    table.add_column("value", justify="right")
    table.add_column("95% interval", justify="right")
    table.add_column("id", no_wrap=True)
    ahead = [figure.id for figure in register if figure.id.startswith(AHEAD)]
    for figure_id in (*HEADLINE_IDS, *ahead):
        figure = register[figure_id]
        table.add_row(figure.label, wording.amount(figure), wording.spread(figure), figure_id)
    Console(width=WIDTH, markup=False, highlight=False).print(table)
    for note in _notes(result):
        typer.echo(f"Note: {note}")
    typer.echo("\nFiles:")
    for path in result.files:
        typer.echo(f"  {path}")


def _notes(result: ReportResult) -> tuple[str, ...]:
    from planner.report.workbook.headlines import BELOW_ZERO, IN_YEAR

    in_year = result.register[IN_YEAR]
    if in_year.value is not None and in_year.value < 0.0:
        return (f"Emissions avoided in the year: {BELOW_ZERO}", *result.notes)
    return result.notes
