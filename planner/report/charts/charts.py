"""The charts of a report and their files."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from planner.report.charts.areas import areas_drawing
from planner.report.charts.drawing import Drawing, png_and_svg_bytes, png_bytes
from planner.report.charts.months import months_drawing
from planner.report.charts.retention import retention_drawing
from planner.report.charts.rows import (
    account_drawing,
    audit_drawing,
    chain_drawing,
    cohorts_drawing,
    drivers_drawing,
    routes_drawing,
)
from planner.report.charts.years import costs_drawing, decay_drawing
from planner.report.wording import Wording

if TYPE_CHECKING:
    from collections.abc import Mapping
    from pathlib import Path

    from planner.figures import FigureRegister
    from planner.program import Program


@dataclass(frozen=True)
class Chart:
    """A chart on disk: its finding, and the chart in words for those who cannot see it."""

    path_png: Path
    path_svg: Path
    title: str
    alt_text: str


def write_charts(
    folder: Path, register: FigureRegister, program: Program, area_names: Mapping[str, str]
) -> list[Chart]:
    """Write every chart for which there are figures, each as PNG and SVG.

    Parameters
    ----------
    folder
        Where they go; made where it is not there.
    register, program
        The figures, and the file with targets and locale.
    area_names
        Name of each area by area_id.
    """
    folder.mkdir(parents=True, exist_ok=True)
    wording = Wording.of(program)
    drawings = (
        _months(register, program),
        chain_drawing(register, wording),
        cohorts_drawing(register, wording),
        retention_drawing(register, wording),
        routes_drawing(register, wording),
        areas_drawing(register, area_names, wording),
        account_drawing(register, wording),
        decay_drawing(register, wording),
        costs_drawing(register, wording),
        drivers_drawing(register, wording),
        audit_drawing(register, wording),
    )
    return [_write(folder, drawing) for drawing in drawings if drawing is not None]


def month_chart_png(register: FigureRegister, program: Program) -> tuple[bytes, str, str]:
    """Draw the chart of months for another page: its PNG, its finding and its words."""
    drawing = _months(register, program)
    return png_bytes(drawing), drawing.title, drawing.alt_text


def _months(register: FigureRegister, program: Program) -> Drawing:
    target_t = program.year(register.reporting_year).kept_out_of_landfill_t_target
    return months_drawing(register, target_t, Wording.of(program))


def _write(folder: Path, drawing: Drawing) -> Chart:
    png, svg = folder / f"{drawing.name}.png", folder / f"{drawing.name}.svg"
    for path, content in zip((png, svg), png_and_svg_bytes(drawing), strict=True):
        path.write_bytes(content)
    return Chart(png, svg, drawing.title, drawing.alt_text)
