"""Figures of emissions avoided, on three bases that are never added together."""

from __future__ import annotations

from typing import TYPE_CHECKING

from planner.emissions import BASES, by_month_kg, of_landfill_kg
from planner.figures import Figure, interval
from planner.report.account_checks_figures import add_account_checks
from planner.report.account_figures import (
    BASIS_WORDS,
    COMPOST_FACTORS,
    GWP,
    LANDFILL_FACTORS,
    NO_CLAIM,
    UNIT,
    add_account,
    factor_inputs,
    method_inputs,
)
from planner.report.disclosure import HIDDEN
from planner.report.inputs import of_figures, of_key
from planner.report.payback_figures import add_payback
from planner.units import KG_PER_T

if TYPE_CHECKING:
    from planner.figures import FigureRegister, Input
    from planner.report.year import Year

NET = (
    "Landfill methane avoided less methane and nitrous oxide of the bins, their plastic, bedding, "
    "worms, freight and trips, contents binned after all and scraps that would have been "
    "composted anyway. Biogenic carbon dioxide is not counted. " + NO_CLAIM
)
METHANE = (
    "IPCC first-order decay by month of the scraps kept out, with the landfill's own carbon, "
    "decay rate, gas capture by age of waste and oxidation."
)
BIN_GASES = (
    "IPCC factors for composting on all scraps fed: no factor for worm bins stands on "
    "enough measurements."
)


def add_emissions(register: FigureRegister, year: Year) -> None:
    """Add the account with its net, the decay by year and month, and what checks them."""
    add_account(register, year)
    for basis in BASES:
        _add_basis(register, year, basis)
    _add_years(register, year)
    _add_months(register, year)
    _add_landfills(register, year)
    add_account_checks(register, year)
    add_payback(register, year)


def _add_basis(register: FigureRegister, year: Year, basis: str) -> None:
    parts, words = year.emissions.basis(basis), BASIS_WORDS[basis]
    methane_id = f"landfill_methane_avoided_{basis}_t_co2e"
    gases_id = f"bin_process_gases_{basis}_t_co2e"
    kept_out = (
        "kept_out_of_landfill_t" if basis == "100_years" else "kept_out_of_landfill_to_date_t"
    )
    fed = "fed_to_date_t" if basis == "to_date" else "fed_t"
    landfill = (*_landfill_inputs(year), *factor_inputs(year, LANDFILL_FACTORS))
    register.add_draws(
        methane_id,
        f"Landfill methane avoided {words}",
        parts.methane_avoided_t_co2e,
        UNIT,
        METHANE,
        (*of_figures(kept_out), *landfill, *method_inputs(year)),
    )
    register.add_draws(
        gases_id,
        f"Methane and nitrous oxide of the bins ({words})",
        parts.bin_gases_t_co2e,
        UNIT,
        BIN_GASES,
        (*of_figures(fed), *factor_inputs(year, (*COMPOST_FACTORS, *GWP)), *method_inputs(year)),
    )
    register.add_draws(
        f"emissions_avoided_{basis}_t_co2e",
        f"Emissions avoided {words}",
        parts.net_t_co2e,
        UNIT,
        f"{NET} Central factor values; the mean over their ranges is "
        f"{parts.net_t_co2e[1:].mean():.3g} t, as some ranges reach further down than up.",
        of_figures(methane_id, gases_id, f"making_and_leakage_{basis}_t_co2e"),
    )


def _add_years(register: FigureRegister, year: Year) -> None:
    by_year = year.emissions.methane_by_year_t_co2e
    for n in range(by_year.shape[1]):
        register.add_draws(
            f"landfill_methane_avoided_by_year_t_co2e[{n}]",
            f"Landfill methane that the year's scraps avoid {_years_on(n)}",
            by_year[:, n],
            UNIT,
            METHANE,
            of_figures("landfill_methane_avoided_100_years_t_co2e"),
        )


def _add_months(register: FigureRegister, year: Year) -> None:
    """Add the methane of each month of the year, hidden where the month's scraps are."""
    factors, activity = year.emission_factors, year.activity
    by_month = by_month_kg(activity, factors) * factors["methane_gwp100"][:, None] / KG_PER_T
    months = year.diversion.cohorts.months[activity.year_start :]
    for place, month in enumerate(months):
        name = f"{month:%Y-%m}"
        figure_id = f"landfill_methane_avoided_in_month_t_co2e[{name}]"
        label = f"Landfill methane avoided in {name}, by all scraps kept out so far"
        shown_id = f"kept_out_of_landfill_t_in_month[{name}]"
        if shown_id in register and register[shown_id].value is None:
            register.add(Figure(figure_id, label, None, None, None, UNIT, HIDDEN))
            continue
        value, low, high = interval(by_month[:, place])
        inputs = of_figures("landfill_methane_avoided_in_year_t_co2e")
        register.add(Figure(figure_id, label, value, low, high, UNIT, METHANE, inputs))


def _add_landfills(register: FigureRegister, year: Year) -> None:
    """Add each landfill's methane, where waste goes to several."""
    factors, activity = year.emission_factors, year.activity
    if not year.program.further_landfills:
        return
    for landfill in factors.landfills:
        share = landfill.share_of_landfilled_waste
        for basis in BASES:
            methane = of_landfill_kg(activity.kept_out_kg, landfill, basis, activity.year_start)
            register.add_draws(
                f"landfill_methane_by_landfill_t_co2e[{basis}.{landfill.name}]",
                f"Landfill methane avoided at {landfill.name} ({BASIS_WORDS[basis]})",
                methane * factors["methane_gwp100"] / KG_PER_T,
                UNIT,
                f"{METHANE} It takes {share:.0%} of what is landfilled.",
                of_figures(f"account_t_co2e[{basis}.landfill_methane]"),
            )


def _years_on(n: int) -> str:
    return "in the year itself" if n == 0 else f"{n} year{'s' if n > 1 else ''} on"


def _landfill_inputs(year: Year) -> tuple[Input, ...]:
    landfill = year.program.landfill
    schedule = "; ".join(
        f"from {step.from_age_years} years {step.captured_share:g}" for step in landfill.gas_capture
    )
    further = tuple(
        of_key(f"further_landfills.{one.name}", f"{one.share_of_landfilled_waste:g}")
        for one in year.program.further_landfills
    )
    return (
        of_key("landfill.climate", landfill.climate),
        of_key("landfill.management", landfill.management),
        of_key("landfill.cover", landfill.cover),
        of_key("landfill.gas_capture", schedule),
        *further,
    )
