"""Figures that set the year beside others: as estimated today, as printed then, as planned."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from planner.arrays import Numbers
from planner.figures import Figure, FigureRegister, register_in
from planner.messages import said
from planner.paths import FIGURES_FILE
from planner.report.disclosure.parts import is_small
from planner.report.inputs import factor_inputs, restatement_reasons
from planner.report.wording import listing, lower_first
from planner.units import KG_PER_T

if TYPE_CHECKING:
    from planner.report.figures.writer import Writer
    from planner.report.year import Year

MOST_NAMED = 20
LEAST_RELATIVE_CHANGE = 1e-9
"""Differences smaller than this come from the last bits alone."""

COMPARED = {"bins_in_use": "bins", "fed_t": "t", "kept_out_of_landfill_t": "t"}
"""What years are compared by, with its unit."""

PLANNED = {
    "bins_given": "plan_bins",
    "kept_out_of_landfill_t": "plan_kept_out_t_in_year[{year}]",
    "retention_12_months": "plan_in_use_12_months_share",
    "feed_kg_per_bin_week": "plan_feed_kg_per_bin_week",
    "program_cost": "plan_cost",
}
"""Measured figures and those of the plan that stand for the same."""


@dataclass(frozen=True)
class _Quantity:
    """What is set side by side, as draws by month of shape (1 + draws_count, months)."""

    figure_id: str
    by_month: Numbers
    is_stock: bool = False

    def over(self, months: slice) -> Numbers:
        """Draws of some months: their sum, or what stood at their end."""
        part = self.by_month[:, months]
        return part[:, -1] if self.is_stock else part.sum(axis=1)


def add_earlier(
    out: Writer, earlier: Iterable[FigureRegister] = (), replaced: FigureRegister | None = None
) -> None:
    """Add changes from earlier years, and what is restated of their reports.

    Of two `earlier` reports for one year the later one counts; `replaced` is a report of this very
    year that this one replaces.
    """
    printed = {one.reporting_year: one for one in earlier}
    quantities = tuple(_quantities(out.year))
    for label, months in _earlier_years(out.year):
        for one in quantities:
            _add_change(out, one, label, months)
            if label in printed:
                today = out.register[f"{one.figure_id}_of_year[{label}]"]
                _add_restated(out, printed[label], one.figure_id, today)
    if replaced is not None:
        for one in quantities:
            _add_restated(out, replaced, one.figure_id, out.register[one.figure_id])


def row_words(figure_id: str) -> str:
    """Words of a row in which years are compared by a figure."""
    return said(f"figure.{figure_id}_change.label.in_changes")


def is_restated(register: FigureRegister) -> bool:
    """Whether a register restates an earlier report of its own year."""
    ids = (figure.id for figure in register)
    return any(name.endswith(f"_restated[{register.reporting_year}]") for name in ids)


def _quantities(year: Year) -> Iterator[_Quantity]:
    diversion = year.diversion
    yield _Quantity("bins_in_use", diversion.bins_in_use, is_stock=True)
    yield _Quantity("fed_t", diversion.fed_kg / KG_PER_T)
    yield _Quantity("kept_out_of_landfill_t", diversion.kept_out_kg / KG_PER_T)


def _earlier_years(year: Year) -> Iterator[tuple[str, slice]]:
    """Name the years that ended before this one and had enough bins to be told of."""
    cohorts, threshold = year.diversion.cohorts, year.program.privacy.small_cell_threshold
    by_month = cohorts.bins_given.sum(axis=(1, 2))
    for block in year.program.reporting_years:
        first_day, end_day = year.program.months(block.reporting_year)
        if end_day > year.counts.from_date:
            continue
        months = slice(cohorts.months_from(first_day).start, cohorts.months_from(end_day).start)
        given = by_month[: months.stop].sum()
        if months.start < months.stop and not is_small(float(given), threshold) and given:
            yield block.reporting_year, months


def _add_change(out: Writer, one: _Quantity, label: str, months: slice) -> None:
    then, like = one.over(months), out.register[one.figure_id].inputs
    out.put(f"{one.figure_id}_of_year[{{label}}]", then, also=like, label=label)
    if not out.year.counts.is_running:
        this_year = one.over(out.months)
        out.put(f"{one.figure_id}_change[{{label}}]", this_year - then, label=label)


def _add_restated(out: Writer, printed: FigureRegister, figure_id: str, today: Figure) -> None:
    """Set an earlier report's figure beside today's, where that report shows it."""
    label = printed.reporting_year
    if figure_id not in printed or today.value is None:
        return
    then = printed[figure_id]
    if then.value is None:
        return
    change = today.value - then.value
    is_same = abs(change) <= LEAST_RELATIVE_CHANGE * abs(then.value)
    if is_same and label == out.register.reporting_year:
        return
    spread = (then.value, then.low, then.high)
    out.put(f"{figure_id}_reported[{{label}}]", spread, label=label)
    if not is_same:
        reasons = restatement_reasons(out.register, printed, figure_id)
        words = {"label": label, "today": today.id, "reasons": reasons}
        out.put(f"{figure_id}_restated[{{label}}]", change, words)


def add_own_factors(out: Writer) -> None:
    """Count the council's own factors and name those on which no figure rests.

    To be called when every figure that may rest on a factor is there.
    """
    own = [factor for factor in out.year.factor_table if factor.is_own]
    used = out.register.uses("factor")
    idle = [factor.name for factor in own if factor.name not in used]
    told = [said("said.own_factors", names=listing((f.name for f in own), MOST_NAMED))]
    told += [said("said.idle_factors", names=listing(idle, MOST_NAMED))] if idle else []
    out.put(
        "own_factors_count",
        float(len(own)),
        also=factor_inputs(out.year.factor_table, own),
        said=" ".join(told) if own else said("said.no_own_factors"),
    )


def planned_register(folder: Path, reporting_year: str) -> FigureRegister | None:
    """Find the figures of the plan that was made for a year; None where there was none.

    Raises
    ------
    ReportError
        A file of figures is not one.
    """
    for path in (folder / FIGURES_FILE, folder / reporting_year / FIGURES_FILE):
        register = register_in(path)
        if register is not None and register.reporting_year == reporting_year:
            return register
    return None


def add_planned(out: Writer, planned: FigureRegister | None) -> None:
    """Add what was planned for the year beside what was measured, and the ratio of the two.

    Nothing is added for a figure that either side lacks or does not show.
    """
    if planned is None:
        return
    for name, pattern in PLANNED.items():
        plan_id = pattern.format(year=planned.reporting_year)
        if name not in out.register or plan_id not in planned:
            continue
        measured, plan = out.register[name], planned[plan_id]
        if plan.value is None:
            continue
        words = {
            "measured": name,
            "label": lower_first(measured.label),
            "unit": measured.unit,
            "plan_label": lower_first(plan.label),
        }
        out.put("planned[{measured}]", (plan.value, plan.low, plan.high), words)
        if measured.value is not None and plan.value > 0.0:
            out.put("measured_over_planned[{measured}]", _ratio(measured, plan), words)


def _ratio(measured: Figure, planned: Figure) -> tuple[float, float | None, float | None]:
    """Measured over planned with its interval, from those of both on the scale of ratios."""
    value = (measured.value or 0.0) / (planned.value or 1.0)
    below = np.hypot(_log_reach(measured, upward=False), _log_reach(planned, upward=True))
    above = np.hypot(_log_reach(measured, upward=True), _log_reach(planned, upward=False))
    if max(below, above) == 0.0:
        return value, None, None
    return value, float(value * np.exp(-below)), float(value * np.exp(above))


def _log_reach(figure: Figure, *, upward: bool) -> float:
    """How far the interval reaches up or down from the value, as a logarithm."""
    value, end = figure.value, figure.high if upward else figure.low
    if not value or end is None or value <= 0.0 or end <= 0.0:
        return 0.0
    return max(0.0, float(np.log(end / value) if upward else np.log(value / end)))
