"""Figures that set this year beside earlier ones: as estimated today, and as printed then."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from planner.figures import Figure, FigureRegister
from planner.report.disclosure import is_small
from planner.report.inputs import of_figures
from planner.report.restating import restatement_reasons
from planner.units import KG_PER_T

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    import numpy as np
    from numpy.typing import NDArray

    from planner.report.year import Year

TODAY = (
    "The months of {label} as estimated with everything that is known today: later survey "
    "rounds, calibration and factors count for all years alike."
)
CHANGE = (
    "This year less {label}, both as estimated today, draw by draw, so that what the two years "
    "share (answers, calibration, factors) is taken off and does not widen the interval."
)
PRINTED = "As printed in the report for {label}."
LEAST_RELATIVE_CHANGE = 1e-9
"""Differences smaller than this come from the last bits alone."""


@dataclass(frozen=True)
class _Quantity:
    """What is set side by side: its figure, words, unit, and draws of some months."""

    figure_id: str
    words: str
    unit: str
    by_month: NDArray[np.float64]
    is_stock: bool = False

    def over(self, months: slice) -> NDArray[np.float64]:
        """Draws of some months: their sum, or what stood at their end."""
        part = self.by_month[:, months]
        return part[:, -1] if self.is_stock else part.sum(axis=1)


def add_earlier(
    register: FigureRegister,
    year: Year,
    earlier: Iterable[FigureRegister] = (),
    replaced: FigureRegister | None = None,
) -> None:
    """Add changes from earlier years, and what is restated of their reports.

    Parameters
    ----------
    register
        Holds this year's figures and takes those of the comparison.
    year
        Estimates of the year, which reach back to the first hand-over.
    earlier
        Figures of the reports of other years; of two for one year the later one counts.
    replaced
        Figures of a report of this very year that this one replaces.
    """
    printed = {one.reporting_year: one for one in earlier}
    quantities = tuple(_quantities(year))
    for label, months in _earlier_years(year):
        for one in quantities:
            _add_change(register, year, one, label, months)
            if label in printed:
                name = f"{one.figure_id}_of_year[{label}]"
                _add_restated(register, printed[label], one, register[name])
    if replaced is not None:
        for one in quantities:
            _add_restated(register, replaced, one, register[one.figure_id])


def is_restated(register: FigureRegister) -> bool:
    """Whether a register restates an earlier report of its own year."""
    ids = (figure.id for figure in register)
    return any(name.endswith(f"_restated[{register.reporting_year}]") for name in ids)


def _quantities(year: Year) -> Iterator[_Quantity]:
    diversion = year.diversion
    for figure_id, words, unit, draws, is_stock in (
        ("bins_in_use", "bins in use at the end of the year", "bins", diversion.bins_in_use, True),
        ("fed_t", "food scraps fed", "t", diversion.fed_kg / KG_PER_T, False),
        (
            "kept_out_of_landfill_t",
            "food scraps kept out of landfill",
            "t",
            diversion.kept_out_kg / KG_PER_T,
            False,
        ),
    ):
        yield _Quantity(figure_id, words, unit, draws.sum(axis=1), is_stock)


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


def _add_change(
    register: FigureRegister, year: Year, one: _Quantity, label: str, months: slice
) -> None:
    then = one.over(months)
    name = f"{one.figure_id}_of_year[{label}]"
    register.add_draws(
        name,
        f"{label}: {one.words}, as estimated today",
        then,
        one.unit,
        TODAY.format(label=label),
        register[one.figure_id].inputs,
    )
    if year.counts.is_running:
        return
    this_year = one.over(year.diversion.cohorts.months_from(year.counts.from_date))
    register.add_draws(
        f"{one.figure_id}_change[{label}]",
        f"Change since {label}: {one.words}",
        this_year - then,
        one.unit,
        CHANGE.format(label=label),
        of_figures(one.figure_id, name),
    )


def _add_restated(
    register: FigureRegister, printed: FigureRegister, one: _Quantity, today: Figure
) -> None:
    """Set an earlier report's figure beside today's, where that report shows it."""
    label = printed.reporting_year
    if one.figure_id not in printed or today.value is None:
        return
    then = printed[one.figure_id]
    if then.value is None:
        return
    change = today.value - then.value
    is_same = abs(change) <= LEAST_RELATIVE_CHANGE * abs(then.value)
    if is_same and label == register.reporting_year:
        return
    name = f"{one.figure_id}_reported[{label}]"
    register.add(
        replace(
            then,
            id=name,
            label=f"{label}: {one.words}, as printed then",
            method=PRINTED.format(label=label),
            inputs=(),
        )
    )
    if is_same:
        return
    reasons = restatement_reasons(register, printed, one.figure_id)
    register.add_exact(
        f"{one.figure_id}_restated[{label}]",
        f"{label}: {one.words}, as estimated today less as printed then",
        change,
        one.unit,
        f"Restated for these reasons: {reasons}.",
        of_figures(today.id, name),
    )
