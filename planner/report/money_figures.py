"""Figures of money: program cost, avoided levy and gate fee, unit costs."""

from __future__ import annotations

from typing import TYPE_CHECKING

from planner.figures import Figure, FigureRegister
from planner.money import avoided_disposal_cost, cost_per_unit
from planner.report.inputs import of_figures, of_key, of_query
from planner.units import KG_PER_T

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from planner.report.year import Year

NO_RATIO = (
    "Not given: the quantity under the line may be nothing, so a cost for each has no meaning."
)


NO_LEDGER = "No ledger line is loaded up to the end of the year."


def add_money(register: FigureRegister, year: Year) -> None:
    """Add the figures of money, in the council's currency."""
    _add_ledger(register, year)
    _add_unit_costs(register, year)


def _add_ledger(register: FigureRegister, year: Year) -> None:
    currency = year.program.council.currency
    ledger = of_query("costs_by_category", year.counts.costs)
    method = f"Sum of {year.cost.lines_count:,} ledger lines; receipts are negative lines."
    known = year.cost.lines_count > 0
    for figure_id, label, amount in (
        ("program_cost", "Program cost in the year", year.cost.in_year),
        ("program_cost_to_date", "Program cost to date", year.cost.to_date),
    ):
        register.add_exact(
            figure_id,
            label,
            amount if known else None,
            currency,
            method if known else NO_LEDGER,
            (ledger,),
        )
    for category, amount in year.counts.costs.select("category", "amount_in_year").iter_rows():
        words = category.replace("_", " ")
        register.add_exact(
            f"program_cost[{category}]",
            f"Program cost in the year: {words}",
            amount,
            currency,
            method,
            (ledger,),
        )
    budget = year.reporting_year.budget
    if budget is not None:
        register.add_exact(
            "budget",
            "Budget of the year",
            budget,
            currency,
            "From the program file.",
            (of_key("reporting_years.budget", budget),),
        )


def _add_unit_costs(register: FigureRegister, year: Year) -> None:
    currency = year.program.council.currency
    kept_out = year.diversion.kept_out_kg.sum(axis=1) / KG_PER_T
    in_year = kept_out[:, year.diversion.cohorts.months_from(year.counts.from_date)].sum(axis=1)
    prices = year.reporting_year
    register.add_draws(
        "avoided_disposal_cost",
        "Levy and gate fee not paid in the year",
        avoided_disposal_cost(in_year, prices.landfill_levy_per_t, prices.gate_fee_per_t),
        currency,
        "Tonnes kept out of landfill × levy and gate fee of the year.",
        (
            *of_figures("kept_out_of_landfill_t"),
            of_key("reporting_years.landfill_levy_per_t", prices.landfill_levy_per_t),
            of_key("reporting_years.gate_fee_per_t", prices.gate_fee_per_t),
        ),
    )
    avoided = year.emissions
    to_date = kept_out.sum(axis=1)
    for name, label, cost, quantity, inputs in (
        (
            "cost_per_t_kept_out",
            "Program cost in the year for each tonne kept out in the year",
            year.cost.in_year,
            in_year,
            ("program_cost", "kept_out_of_landfill_t"),
        ),
        (
            "cost_per_t_kept_out_to_date",
            "Program cost to date for each tonne kept out to date",
            year.cost.to_date,
            to_date,
            ("program_cost_to_date", "kept_out_of_landfill_to_date_t"),
        ),
        (
            "cost_per_t_co2e",
            "Program cost in the year for each tonne CO2-e that the year's scraps "
            "avoid over 100 years",
            year.cost.in_year,
            avoided.over_100_years.net_t_co2e,
            ("program_cost", "emissions_avoided_100_years_t_co2e"),
        ),
    ):
        _add_ratio(register, name, label, cost_per_unit(cost, quantity), currency, inputs)


def _add_ratio(
    register: FigureRegister,
    name: str,
    label: str,
    draws: NDArray[np.float64] | None,
    currency: str,
    inputs: tuple[str, ...],
) -> None:
    unit = f"{currency} per t"
    if draws is None:
        register.add(Figure(name, label, None, None, None, unit, NO_RATIO, of_figures(*inputs)))
        return
    register.add_draws(
        name, label, draws, unit, "The first over the second, draw by draw.", of_figures(*inputs)
    )
