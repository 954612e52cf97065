"""The sizing workbook: the decision first, then what it rests on."""

from __future__ import annotations

import io
from typing import TYPE_CHECKING

from openpyxl import Workbook
from openpyxl.drawing.image import Image

from planner.report.plan.one_bin import add_one_bin_page
from planner.report.plan.pages import (
    add_beliefs_page,
    add_frontier_page,
    add_scenarios_page,
    add_sureness_page,
)
from planner.report.plan.reckoning import add_live_sheets
from planner.report.plan.words import decision_lines
from planner.report.wording import Wording
from planner.report.workbook.archive import workbook_bytes
from planner.report.workbook.cells import figure_cells, safe_text
from planner.report.workbook.page import Page
from planner.report.workbook.trace import add_figures

if TYPE_CHECKING:
    import datetime as dt
    from pathlib import Path

    from planner.figures import FigureRegister
    from planner.report.plan.charts import PlanChart
    from planner.sizing.sizing import Sizing

PICTURE_WIDTH_PIXELS = 640
PIXELS_PER_ROW = 17.5
HEADLINES = (
    "plan_bins",
    "plan_bins_given",
    "plan_cost",
    "plan_kept_out_t",
    "plan_net_t_co2e",
    "plan_cost_per_t",
    "plan_avoided_disposal_cost",
    "plan_chance_of_target",
    "plan_next_tonne_cost",
)


def write_plan_workbook(
    path: Path,
    register: FigureRegister,
    sizing: Sizing,
    charts: tuple[PlanChart, ...],
    written_at: dt.datetime,
) -> None:
    """Write the workbook; the same plan gives the same bytes.

    Parameters
    ----------
    path
        File to write.
    register, sizing
        What is said.
    charts
        The first stands on the first page.
    written_at
        Stands for the time of writing.
    """
    wording = Wording.of(sizing.program)
    workbook = Workbook()
    workbook.remove(workbook.worksheets[0])
    footer = f"{register.council}, plan of {register.reporting_year}"
    _add_decision(workbook, register, sizing, charts[0], wording, footer)
    live = add_live_sheets(workbook, register, sizing, wording, footer)
    add_one_bin_page(workbook, register, sizing, wording, footer)
    add_frontier_page(workbook, register, sizing, wording, footer)
    add_sureness_page(workbook, register, sizing, wording, footer)
    add_scenarios_page(workbook, register, sizing, wording, footer)
    add_beliefs_page(workbook, register, sizing, wording, footer)
    add_figures(workbook, register, wording)
    workbook.properties.title = safe_text(f"Worm-bin giveaway, plan of {register.reporting_year}")
    workbook.properties.creator = safe_text(register.council)
    path.write_bytes(workbook_bytes(workbook, written_at, charts[0].alt_text, live))


def _add_decision(
    workbook: Workbook,
    register: FigureRegister,
    sizing: Sizing,
    chart: PlanChart,
    wording: Wording,
    footer: str,
) -> None:
    page = Page(workbook, "Decision", (58, 14, 13, 13, 12))
    page.title(f"How many bins in {register.reporting_year}, to whom, for what, how sure")
    first, *others = decision_lines(register, sizing)
    page.lead(first)
    for line in others:
        page.note(line)
    page.section("In figures")
    rows = [
        [
            register[name].label,
            *figure_cells(register[name], wording),
            wording.unit(register[name]),
        ]
        for name in HEADLINES
        if name in register
    ]
    for figure in register.parts("plan_net_present_value").values():
        rows.append([figure.label, *figure_cells(figure, wording), ""])
    page.table(("figure", "value", "low", "high", "unit"), rows)
    page.note("Low and high: 95 in 100 draws lie between them.")
    areas = register.parts("plan_bins_by_area")
    names = dict(zip(sizing.context.groups.area_ids, sizing.context.groups.area_names, strict=True))
    page.section("Bins by area")
    page.table(
        ("area", "bins"),
        [
            [names[area], figure_cells(figure, wording)[0]]
            for area, figure in areas.items()
            if figure.value
        ],
        ["all areas", figure_cells(register["plan_bins"], wording)[0]],
    )
    page.section("What more or less money would bring")
    image = Image(io.BytesIO(chart.path_png.read_bytes()))
    image.height = int(image.height * PICTURE_WIDTH_PIXELS / image.width)
    image.width = PICTURE_WIDTH_PIXELS
    page.picture(image, int(image.height / PIXELS_PER_ROW) + 1)
    if sizing.notes:
        page.section("To know before using it")
        for note in sizing.notes:
            page.note(note)
    page.finish(footer, is_one_page=True)
