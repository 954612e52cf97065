"""Figures of emissions avoided, on three bases that are never added together."""

from __future__ import annotations

from typing import TYPE_CHECKING

from planner.report.inputs import of_factors, of_figures, of_key

if TYPE_CHECKING:
    from planner.emissions import Basis
    from planner.figures import FigureRegister, Input
    from planner.report.year import Year

UNIT = "t CO2-e"
NET = (
    "Landfill methane avoided less methane and nitrous oxide of the bins, before the plastic, "
    "bedding and freight of the bins. Biogenic carbon dioxide is not counted. Not an offset, "
    "and no claim against other composting."
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
    """Add net emissions avoided with their parts, and the decay by year."""
    avoided = year.emissions
    for basis, words, fed, parts in (
        ("in_year", "in the year, from all scraps kept out so far", "fed_t", avoided.in_year),
        ("to_date", "to date", "fed_to_date_t", avoided.to_date),
        ("100_years", "over 100 years, from the year's scraps", "fed_t", avoided.over_100_years),
    ):
        _add_basis(register, year, basis, words, fed, parts)
    for n in range(avoided.methane_by_year_t_co2e.shape[1]):
        register.add_draws(
            f"landfill_methane_avoided_by_year_t_co2e[{n}]",
            f"Landfill methane that the year's scraps avoid {_years_on(n)}",
            avoided.methane_by_year_t_co2e[:, n],
            UNIT,
            METHANE,
            of_figures("landfill_methane_avoided_100_years_t_co2e"),
        )


def _add_basis(
    register: FigureRegister, year: Year, basis: str, words: str, fed: str, parts: Basis
) -> None:
    methane_id = f"landfill_methane_avoided_{basis}_t_co2e"
    gases_id = f"bin_process_gases_{basis}_t_co2e"
    kept_out = (
        "kept_out_of_landfill_t" if basis == "100_years" else ("kept_out_of_landfill_to_date_t")
    )
    register.add_draws(
        methane_id,
        f"Landfill methane avoided {words}",
        parts.methane_avoided_t_co2e,
        UNIT,
        METHANE,
        (*of_figures(kept_out), *_landfill_inputs(year), *_factors(year, of_bins=False)),
    )
    register.add_draws(
        gases_id,
        f"Methane and nitrous oxide of the bins ({words})",
        parts.bin_gases_t_co2e,
        UNIT,
        BIN_GASES,
        (*of_figures(fed), *_factors(year, of_bins=True)),
    )
    register.add_draws(
        f"emissions_avoided_{basis}_t_co2e",
        f"Emissions avoided {words}",
        parts.net_t_co2e,
        UNIT,
        f"{NET} Central factor values; the mean over their ranges is "
        f"{parts.net_t_co2e[1:].mean():.3g} t, as some ranges reach further down than up.",
        of_figures(methane_id, gases_id),
    )


def _years_on(n: int) -> str:
    return "in the year itself" if n == 0 else f"{n} year{'s' if n > 1 else ''} on"


def _landfill_inputs(year: Year) -> tuple[Input, ...]:
    landfill, method = year.program.landfill, year.program.method
    schedule = "; ".join(
        f"from {step.from_age_years} years {step.captured_share:g}" for step in landfill.gas_capture
    )
    return (
        of_key("landfill.climate", landfill.climate),
        of_key("landfill.management", landfill.management),
        of_key("landfill.cover", landfill.cover),
        of_key("landfill.gas_capture", schedule),
        of_key("method.edition", method.edition),
        of_key("method.gwp_set", method.gwp_set),
    )


def _factors(year: Year, *, of_bins: bool) -> tuple[Input, ...]:
    """Name the factors of the bins' gases, or those of the landfill."""
    shared = "methane_gwp100"
    bins = ("compost_methane_g_per_kg", "compost_nitrous_oxide_g_per_kg", "nitrous_oxide_gwp100")
    chosen = [
        factor
        for factor in year.emission_factors.rows.every
        if factor.factor_id == shared or (factor.factor_id in bins) == of_bins
    ]
    return of_factors(year.factor_table, chosen)
