"""Planned against measured: last year's plan beside what the report measures."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from planner.figures import Figure, read_register
from planner.paths import FIGURES_FILE
from planner.report.inputs import of_figures

if TYPE_CHECKING:
    from pathlib import Path

    from planner.figures import FigureRegister

COMPARED = {
    "bins_given": "plan_bins",
    "kept_out_of_landfill_t": "plan_kept_out_t_in_year[{year}]",
    "retention_12_months": "plan_in_use_12_months_share",
    "feed_kg_per_bin_week": "plan_feed_kg_per_bin_week",
    "program_cost": "plan_cost",
}
"""Measured figures and those of the plan that stand for the same."""

RATIO = (
    "Measured over planned; its interval holds the measured figure's and the plan's, taken as "
    "independent of each other, on the scale of ratios."
)


def planned_register(folder: Path, reporting_year: str) -> FigureRegister | None:
    """Find the figures of the plan that was made for a year; None where there was none.

    Parameters
    ----------
    folder
        Sizing folder of the program.
    reporting_year
        Its label.

    Raises
    ------
    ReportError
        A file of figures is not one.
    """
    for path in (folder / FIGURES_FILE, folder / reporting_year / FIGURES_FILE):
        if path.exists():
            register = read_register(path.read_text(encoding="utf-8"))
            if register.reporting_year == reporting_year:
                return register
    return None


def add_planned_against_measured(register: FigureRegister, planned: FigureRegister | None) -> None:
    """Add what was planned for the year beside what was measured, and the ratio of the two.

    Nothing is added for a figure that either side lacks or does not show.

    Parameters
    ----------
    register
        Takes the figures; it has those measured.
    planned
        Figures of the plan of the same year.
    """
    if planned is None:
        return
    for measured_id, pattern in COMPARED.items():
        plan_id = pattern.format(year=planned.reporting_year)
        if measured_id not in register or plan_id not in planned:
            continue
        measured, plan = register[measured_id], planned[plan_id]
        if plan.value is None:
            continue
        shown = register.add(
            Figure(
                f"planned[{measured_id}]",
                f"Planned: {measured.label[0].lower()}{measured.label[1:]}",
                plan.value,
                plan.low,
                plan.high,
                measured.unit,
                f"From the plan made for the year by `planner size`: {plan.label.lower()}.",
            )
        )
        if measured.value is not None and plan.value > 0.0:
            _add_ratio(register, measured_id, measured, shown)


def _add_ratio(
    register: FigureRegister, measured_id: str, measured: Figure, planned: Figure
) -> None:
    value = (measured.value or 0.0) / (planned.value or 1.0)
    below = np.hypot(_log_reach(measured, upward=False), _log_reach(planned, upward=True))
    above = np.hypot(_log_reach(measured, upward=True), _log_reach(planned, upward=False))
    has_interval = max(below, above) > 0.0
    register.add(
        Figure(
            f"measured_over_planned[{measured_id}]",
            f"Measured over planned: {measured.label[0].lower()}{measured.label[1:]}",
            value,
            float(value * np.exp(-below)) if has_interval else None,
            float(value * np.exp(above)) if has_interval else None,
            "ratio",
            RATIO,
            of_figures(measured_id, planned.id),
        )
    )


def _log_reach(figure: Figure, *, upward: bool) -> float:
    """How far the interval reaches up or down from the value, as a logarithm."""
    value, end = figure.value, figure.high if upward else figure.low
    if not value or end is None or value <= 0.0 or end <= 0.0:
        return 0.0
    return max(0.0, float(np.log(end / value) if upward else np.log(value / end)))
