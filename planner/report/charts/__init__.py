"""The charts of a report: one message each, in the title and in words, as PNG and SVG."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from planner.figures import FigureRegister
from planner.program import Program
from planner.report.charts.area_map import map_drawing
from planner.report.charts.curves import costs_drawing, decay_drawing, retention_drawing
from planner.report.charts.drawing import Drawing, pictured, write_picture
from planner.report.charts.headline import TOTAL, headline_drawing
from planner.report.charts.months import months_drawing
from planner.report.charts.ranges import areas_drawing
from planner.report.charts.rows import (
    account_drawing,
    audit_drawing,
    chain_drawing,
    cohorts_drawing,
    drivers_drawing,
    routes_drawing,
)
from planner.report.document import Picture
from planner.report.wording import Wording

if TYPE_CHECKING:
    from planner.report.charts.boundaries import AreaShapes


def drawings_of(
    register: FigureRegister,
    wording: Wording,
    target_t: float | None,
    area_names: Mapping[str, str],
    shapes: AreaShapes | None = None,
    mean_c: Sequence[float] = (),
    rounds: Iterable[dt.date] = (),
) -> list[Drawing]:
    """Every chart for which there are figures, in the order in which a section prints them.

    Each names its section. `mean_c` is the monthly mean of the air, January first [°C], and
    `rounds` are the days on which survey rounds opened.
    """
    if TOTAL not in register:
        return [retention_drawing(register, wording)] if register.parts("retention_by_age") else []
    drawn = (
        headline_drawing(register, target_t, wording),
        months_drawing(register, target_t, wording, mean_c, rounds),
        chain_drawing(register, wording),
        cohorts_drawing(register, wording),
        retention_drawing(register, wording),
        routes_drawing(register, wording),
        map_drawing(register, shapes, area_names, wording),
        areas_drawing(register, area_names, wording),
        account_drawing(register, wording),
        decay_drawing(register, wording),
        costs_drawing(register, wording),
        drivers_drawing(register, wording),
        audit_drawing(register, wording),
    )
    return [one for one in drawn if one is not None]


def write_charts(
    folder: Path,
    register: FigureRegister,
    program: Program,
    area_names: Mapping[str, str],
    shapes: AreaShapes | None = None,
    rounds: Iterable[dt.date] = (),
) -> list[Picture]:
    """Write every chart for which there are figures, each as PNG and SVG.

    `rounds` are the days on which survey rounds opened.
    """
    folder.mkdir(parents=True, exist_ok=True)
    target_t = program.year(register.reporting_year).kept_out_of_landfill_t_target
    mean_c = program.climate.monthly_mean_temperature_c
    of_areas, wording = (area_names, shapes), Wording.of(program)
    drawings = drawings_of(register, wording, target_t, *of_areas, mean_c, rounds)
    pictures = [pictured(drawing) for drawing in drawings]
    for picture in pictures:
        write_picture(folder, picture.name, picture.png, picture.svg)
    return pictures
