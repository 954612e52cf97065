"""Figures by reporting year: what a tonne cost, and what became of the bins given."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from planner.figures import Figure
from planner.money import cash_flow, cost_per_unit
from planner.program import label_of_date, year_label
from planner.program.labels import label_start
from planner.report.disclosure import HIDDEN, hidden_parts
from planner.report.inputs import of_figures, of_query
from planner.report.ledger_figures import NO_LEDGER
from planner.report.money_figures import NO_RATIO
from planner.units import KG_PER_T

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from planner.figures import FigureRegister
    from planner.report.year import Year

IN_USE = (
    "Households given a first bin in that year × share in use at their age, by the retention curve."
)


def add_by_year(register: FigureRegister, year: Year) -> None:
    """Add cost for each tonne, and bins still in use, by reporting year."""
    _add_costs(register, year)
    _add_bins(register, year)


def _add_costs(register: FigureRegister, year: Year) -> None:
    """Add the cost of each year and of all years up to it, over the tonnes of the same time."""
    currency = year.program.council.currency
    ledger = of_query("costs_by_month", year.counts.costs_by_month)
    labels = _labels(year)
    costs = _cost_by_label(year, labels)
    is_known = not year.counts.costs_by_month.is_empty()
    kept_out = year.diversion.kept_out_kg.sum(axis=1) / KG_PER_T
    spent, tonnes = 0.0, np.zeros(kept_out.shape[0])
    for label, cost in costs.items():
        own = kept_out[:, [one == label for one in labels]].sum(axis=1)
        spent, tonnes = spent + cost, tonnes + own
        register.add_exact(
            f"program_cost_by_year[{label}]",
            f"Program cost in {label}",
            cost if is_known else None,
            currency,
            "Sum of the ledger lines of the year; receipts are taken off."
            if is_known
            else NO_LEDGER,
            (ledger,),
        )
        for name, words, money, quantity in (
            ("cost_per_t_kept_out_by_year", f"in {label}", cost, own),
            (
                "cost_per_t_kept_out_through_year",
                f"from the start to the end of {label}",
                spent,
                tonnes,
            ),
        ):
            _add_ratio(
                register, f"{name}[{label}]", words, cost_per_unit(money, quantity), currency
            )


def _add_ratio(
    register: FigureRegister,
    figure_id: str,
    words: str,
    draws: NDArray[np.float64] | None,
    currency: str,
) -> None:
    label, unit = f"Program cost for each tonne kept out of landfill {words}", f"{currency} per t"
    part = figure_id.partition("[")[2].removesuffix("]")
    inputs = of_figures(f"program_cost_by_year[{part}]", "kept_out_of_landfill_to_date_t")
    if draws is None:
        register.add(Figure(figure_id, label, None, None, None, unit, NO_RATIO, inputs))
    else:
        register.add_draws(figure_id, label, draws, unit, "Cost over tonnes, draw by draw.", inputs)


def _add_bins(register: FigureRegister, year: Year) -> None:
    """Add bins in use at the reporting year's end, by the year in which they were given.

    Counts of first bins by year are not told: beside the bins given they would tell how few
    households took a second one.
    """
    labels = np.array(_labels(year))
    names = list(dict.fromkeys(labels.tolist()))
    given = year.diversion.cohorts.bins_given.sum(axis=1)
    begun = [int(given[labels == name].sum()) for name in names]
    hidden = hidden_parts(begun, year.program.privacy.small_cell_threshold)
    in_use = _in_use_by_cohort(year, given)
    handovers = of_query("handovers_by_month", year.counts.handovers)
    for place, name in enumerate(names):
        figure_id, label = (
            f"bins_in_use_by_year_given[{name}]",
            f"Bins given in {name} and in use at the end",
        )
        if place in hidden:
            register.add(Figure(figure_id, label, None, None, None, "bins", HIDDEN))
            continue
        draws = in_use[:, labels == name].sum(axis=1)
        inputs = (handovers, *of_figures("retention_12_months"))
        register.add_draws(figure_id, label, draws, "bins", IN_USE, inputs)


def _in_use_by_cohort(year: Year, given: NDArray[np.float64]) -> NDArray[np.float64]:
    """Bins in use when the last month ends, by month of hand-over, shape (draws, cohorts)."""
    diversion = year.diversion
    ages = diversion.cohorts.age_at_month_end()[-1]
    curves = diversion.estimates.retention
    return np.asarray(
        sum(curve.in_use_share(ages) * given[:, code] for code, curve in enumerate(curves))
    )


def _labels(year: Year) -> list[str]:
    """Name the reporting year of each month measured."""
    first_month = year.program.council.reporting_year_first_month
    return [label_of_date(month, first_month) for month in year.diversion.cohorts.months]


def _cost_by_label(year: Year, labels: list[str]) -> dict[str, float]:
    """Sum of the ledger by reporting year, those before the first bin among them."""
    ledger, first_month = (
        year.counts.costs_by_month,
        year.program.council.reporting_year_first_month,
    )
    named = {label_of_date(month, first_month) for month in ledger["cost_month"]}
    years = sorted({label_start(label) or 0 for label in (*named, *labels)})
    sums = cash_flow(ledger, years, first_month)
    return {year_label(n, first_month): float(sum_) for n, sum_ in zip(years, sums, strict=True)}
