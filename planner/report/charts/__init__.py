"""The charts of a report: one message each, in the title and in words, as PNG and SVG."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from planner.figures import FigureRegister
from planner.program import Program
from planner.report.charts.area_map import map_drawing
from planner.report.charts.curves import costs_drawing, decay_drawing, retention_drawing
from planner.report.charts.drawing import Drawing, pictured, write_picture
from planner.report.charts.headline import headline_drawing
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
    from planner.intake.boundaries import AreaShapes


@dataclass(frozen=True)
class Subject:
    """What charts are drawn of.

    The figures, how they are written, the target of the year, names and outlines of areas, the
    monthly mean of the air, January first [°C], and the days on which survey rounds opened.
    """

    register: FigureRegister
    wording: Wording
    target_t: float | None
    area_names: Mapping[str, str]
    shapes: AreaShapes | None = None
    mean_c: Sequence[float] = ()
    rounds: tuple[dt.date, ...] = ()


CHARTS: tuple[Callable[[Subject], Drawing | None], ...] = (
    lambda one: headline_drawing(one.register, one.target_t, one.wording),
    lambda one: months_drawing(one.register, one.target_t, one.wording, one.mean_c, one.rounds),
    lambda one: chain_drawing(one.register, one.wording),
    lambda one: cohorts_drawing(one.register, one.wording),
    lambda one: retention_drawing(one.register, one.wording),
    lambda one: routes_drawing(one.register, one.wording),
    lambda one: map_drawing(one.register, one.shapes, one.area_names, one.wording),
    lambda one: areas_drawing(one.register, one.area_names, one.wording),
    lambda one: account_drawing(one.register, one.wording),
    lambda one: decay_drawing(one.register, one.wording),
    lambda one: costs_drawing(one.register, one.wording),
    lambda one: drivers_drawing(one.register, one.wording),
    lambda one: audit_drawing(one.register, one.wording),
)
"""Every chart, in the order in which a section prints them; each names its section."""


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
    wording = Wording.of(program)
    subject = Subject(register, wording, target_t, area_names, shapes, mean_c, tuple(rounds))
    drawings = (draw(subject) for draw in CHARTS)
    pictures = [pictured(drawing) for drawing in drawings if drawing is not None]
    for picture in pictures:
        write_picture(folder, picture.name, picture.png, picture.svg)
    return pictures
