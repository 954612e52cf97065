"""Figures of the targets that a council has set itself, so that they can be traced too."""

from __future__ import annotations

from typing import TYPE_CHECKING

from planner.report.inputs import of_key

if TYPE_CHECKING:
    from planner.figures import FigureRegister
    from planner.report.year import Year

FROM_PROGRAM_FILE = "From the program file."


def add_targets(register: FigureRegister, year: Year) -> None:
    """Add the targets of the reporting year; nothing where the council has set none."""
    block = year.reporting_year
    for figure_id, label, target, unit in (
        ("bins_given_target", "Target: bins given in the year", block.bins_given_target, "bins"),
        (
            "kept_out_of_landfill_t_target",
            "Target: food scraps kept out of landfill in the year",
            block.kept_out_of_landfill_t_target,
            "t",
        ),
    ):
        if target is not None:
            key = f"reporting_years.{figure_id}"
            inputs = (of_key(key, target),)
            register.add_exact(figure_id, label, float(target), unit, FROM_PROGRAM_FILE, inputs)
