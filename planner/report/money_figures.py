"""Figures of money: the ledger, levy and gate fee not paid, unit costs, the years to come."""

from __future__ import annotations

from typing import TYPE_CHECKING

from planner.figures import Figure
from planner.money import avoided_disposal_cost, cost_per_unit
from planner.report.appraisal_figures import add_appraisal
from planner.report.inputs import of_figures, of_key
from planner.report.ledger_figures import NO_LEDGER, add_ledger
from planner.units import KG_PER_T

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from planner.figures import FigureRegister
    from planner.report.year import Year

NO_RATIO = (
    "Not given: the quantity under the line may be nothing, so a cost for each has no meaning."
)
RATIO = "The first over the second, draw by draw."

UNIT_COSTS = {
    "cost_per_bin_in_use": (
        "Program cost to date for each bin still in use at the end of the year",
        "program_cost_to_date",
        "bins_in_use",
    ),
    "cost_per_t_kept_out": (
        "Program cost in the year for each tonne kept out in the year",
        "program_cost",
        "kept_out_of_landfill_t",
    ),
    "cost_per_t_kept_out_to_date": (
        "Program cost to date for each tonne kept out to date",
        "program_cost_to_date",
        "kept_out_of_landfill_to_date_t",
    ),
    "cost_per_t_co2e": (
        "Program cost in the year for each tonne CO2-e that the year's scraps avoid over 100 years",
        "program_cost",
        "emissions_avoided_100_years_t_co2e",
    ),
    "cost_per_t_co2e_in_year": (
        "Program cost in the year for each tonne CO2-e avoided in the year",
        "program_cost",
        "emissions_avoided_in_year_t_co2e",
    ),
    "cost_per_t_co2e_to_date": (
        "Program cost to date for each tonne CO2-e avoided to date",
        "program_cost_to_date",
        "emissions_avoided_to_date_t_co2e",
    ),
}
"""For each cost of one of something: its label, the cost, and what it is set over."""


def add_money(register: FigureRegister, year: Year) -> None:
    """Add the figures of money spent and not spent, in the council's currency."""
    add_ledger(register, year)
    _add_avoided(register, year)
    _add_counted_unit_costs(register, year)
    _add_unit_costs(register, year)
    add_appraisal(register, year)


def _add_avoided(register: FigureRegister, year: Year) -> None:
    currency, prices = year.program.council.currency, year.reporting_year
    in_year, _ = _kept_out_t(year)
    levy, fee = prices.landfill_levy_per_t, prices.gate_fee_per_t
    kept = of_figures("kept_out_of_landfill_t")
    of_levy = of_key("reporting_years.landfill_levy_per_t", levy)
    of_fee = of_key("reporting_years.gate_fee_per_t", fee)
    register.add_draws(
        "avoided_disposal_cost",
        "Levy and gate fee not paid in the year",
        avoided_disposal_cost(in_year, levy, fee),
        currency,
        "Tonnes kept out of landfill × levy and gate fee of the year.",
        (*kept, of_levy, of_fee),
    )
    method = "Tonnes kept out of landfill × price of the year."
    for figure_id, label, price, key in (
        ("avoided_levy", "Levy not paid in the year", levy, of_levy),
        ("avoided_gate_fee", "Gate fee not paid in the year", fee, of_fee),
    ):
        draws = avoided_disposal_cost(in_year, price, 0.0)
        register.add_draws(figure_id, label, draws, currency, method, (*kept, key))
    _add_net_cost(register, year, avoided_disposal_cost(in_year, levy, fee))


def _add_net_cost(register: FigureRegister, year: Year, avoided: NDArray[np.float64]) -> None:
    name, currency = "net_program_cost", year.program.council.currency
    label = "Program cost in the year less levy and gate fee not paid"
    if not year.cost.lines_count:
        register.add_exact(name, label, None, currency, NO_LEDGER, ())
        return
    register.add_draws(
        name,
        label,
        year.cost.in_year - avoided,
        currency,
        "Of the year alone: its bins go on saving levy and gate fee in the years to come. "
        "Collection is not counted as saved, since rounds stay as they are.",
        of_figures("program_cost", "avoided_disposal_cost"),
    )


def _add_counted_unit_costs(register: FigureRegister, year: Year) -> None:
    currency = year.program.council.currency
    for one, counted, words in (
        ("bin", "bins_given", "bin given"),
        ("household", "households_served", "household served"),
    ):
        for suffix, period in (("", "in the year"), ("_to_date", "to date")):
            cost, count = register[f"program_cost{suffix}"], register[f"{counted}{suffix}"]
            value, method = _exact_ratio(cost, count)
            name = words.replace(" ", "_")
            register.add_exact(
                f"cost_per_{name}{suffix}",
                f"Program cost {period} for each {words} {period}",
                value,
                f"{currency} per {one}",
                method,
                () if value is None else of_figures(cost.id, count.id),
            )


def _exact_ratio(cost: Figure, count: Figure) -> tuple[float | None, str]:
    if count.value is None:
        return None, count.method
    if cost.value is None:
        return None, NO_LEDGER
    if count.value == 0.0:
        return None, NO_RATIO
    return cost.value / count.value, "The first over the second."


def _kept_out_t(year: Year) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Tonnes kept out in the year and to date, by draw."""
    kept_out = year.diversion.kept_out_kg.sum(axis=1) / KG_PER_T
    months = year.diversion.cohorts.months_from(year.counts.from_date)
    return kept_out[:, months].sum(axis=1), kept_out.sum(axis=1)


def _add_unit_costs(register: FigureRegister, year: Year) -> None:
    avoided = year.emissions
    in_year, to_date = _kept_out_t(year)
    quantities = {
        "bins_in_use": year.diversion.bins_in_use.sum(axis=1)[:, -1],
        "kept_out_of_landfill_t": in_year,
        "kept_out_of_landfill_to_date_t": to_date,
        "emissions_avoided_100_years_t_co2e": avoided.over_100_years.net_t_co2e,
        "emissions_avoided_in_year_t_co2e": avoided.in_year.net_t_co2e,
        "emissions_avoided_to_date_t_co2e": avoided.to_date.net_t_co2e,
    }
    costs = {"program_cost": year.cost.in_year, "program_cost_to_date": year.cost.to_date}
    for name, (label, cost_id, quantity_id) in UNIT_COSTS.items():
        one = "bin" if quantity_id == "bins_in_use" else "t"
        draws = cost_per_unit(costs[cost_id], quantities[quantity_id])
        unit = f"{year.program.council.currency} per {one}"
        _add_ratio(register, name, label, draws, unit, (cost_id, quantity_id))


def _add_ratio(
    register: FigureRegister,
    name: str,
    label: str,
    draws: NDArray[np.float64] | None,
    unit: str,
    inputs: tuple[str, ...],
) -> None:
    if draws is None:
        register.add(Figure(name, label, None, None, None, unit, NO_RATIO, of_figures(*inputs)))
        return
    register.add_draws(name, label, draws, unit, RATIO, of_figures(*inputs))
