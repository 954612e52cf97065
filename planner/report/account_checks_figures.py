"""Figures that check the account: per tonne, other editions, variance, error propagation."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from planner.emissions import (
    BASES,
    EDITIONS,
    GWP_SETS,
    approach_1_percent,
    bin_gases_kg_co2e_per_t,
    compared_t_co2e,
    methane_avoided_kg_co2e_per_t,
    net_t_co2e,
)
from planner.factors.draws import draw_factors
from planner.factors.variance import share_of_one_number, variance_shares
from planner.figures import Figure, interval
from planner.report.account_figures import (
    BASIS_WORDS,
    COMPOST_FACTORS,
    GWP,
    LANDFILL_FACTORS,
    LINES,
    UNIT,
    factor_inputs,
    method_inputs,
)
from planner.report.inputs import of_factors, of_figures, of_key
from planner.units import KG_PER_LB, KG_PER_T

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from planner.factors import Factor
    from planner.figures import FigureRegister
    from planner.report.year import Year

PER_T = "kg CO2-e per t"
PERCENT = 100.0
BY_CHANCE = 8.0
"""Over the number of draws: a share that an unrelated factor is hardly ever given."""

POUNDS_PER_SHORT_TON = 2000.0
HEADLINE_BASIS = "100_years"
HEADLINE = "emissions_avoided_100_years_t_co2e"
EDITION_WORDS = {
    "ipcc_2006": "IPCC 2006 Guidelines",
    "ipcc_2019": "2019 Refinement of the Guidelines",
    "gpc_commitment": "methane commitment of community inventories",
    "cdm_tool04": "clean development mechanism's tool with its model correction factor",
}
COMMITMENT_ALONE = (
    "A methane commitment books all that the year's scraps will ever give to that year; it has "
    "no emissions by year."
)
VARIANCE_DRAWS = 4096
"""Base sample of the variance shares; the account is worked out four times as often."""

FIRST_ORDER = (
    "Share of the variance of emissions avoided over 100 years that goes with this source "
    "alone, the others redrawn."
)


def add_account_checks(register: FigureRegister, year: Year) -> None:
    """Add the figures that an auditor sets beside the account."""
    _add_per_tonne(register, year)
    _add_crosschecks(register, year)
    _add_editions(register, year)
    _add_variance(register, year)
    _add_uncertainty(register, year)


def _add_per_tonne(register: FigureRegister, year: Year) -> None:
    factors = year.emission_factors
    without_wells = factors.with_values({"captured_multiplier": 0.0})
    for figure_id, label, draws, factor_ids in (
        (
            "emissions_kg_co2e_per_t_kept_out[landfill_methane]",
            "Landfill methane of a tonne of scraps over 100 years",
            methane_avoided_kg_co2e_per_t(factors),
            LANDFILL_FACTORS,
        ),
        (
            "emissions_kg_co2e_per_t_kept_out[landfill_methane_without_capture]",
            "Landfill methane of a tonne of scraps over 100 years, were no gas captured",
            methane_avoided_kg_co2e_per_t(without_wells),
            LANDFILL_FACTORS,
        ),
        (
            "emissions_kg_co2e_per_t_fed[bin_gases]",
            "Methane and nitrous oxide of the bins for a tonne fed",
            bin_gases_kg_co2e_per_t(factors),
            (*COMPOST_FACTORS, *GWP),
        ),
    ):
        inputs = (*factor_inputs(year, factor_ids), *method_inputs(year))
        register.add_draws(figure_id, label, draws, PER_T, "From the factors alone.", inputs)


def _add_crosschecks(register: FigureRegister, year: Year) -> None:
    """Add government factors of food to landfill, which are in no other figure."""
    for row in year.factor_table:
        if row.applies_to == "food" and row.factor_id.startswith("landfill_"):
            register.add_exact(
                f"crosscheck_landfill_kg_co2e_per_t[{row.edition}]",
                f"Government factor of food to landfill, {row.edition.replace('_', ' ')}",
                _kg_per_t(row),
                PER_T,
                f"Stands beside the account as a check and is in no other figure. {row.note}.",
                of_factors(year.factor_table, [row]),
            )


def _kg_per_t(row: Factor) -> float:
    if row.factor_id == "landfill_t_co2e_per_short_ton":
        return row.value * KG_PER_T * KG_PER_T / (POUNDS_PER_SHORT_TON * KG_PER_LB)
    return row.value


def _add_editions(register: FigureRegister, year: Year) -> None:
    for edition in EDITIONS:
        found = compared_t_co2e(year.program, year.factor_table, year.activity, edition)
        for gwp_set in GWP_SETS:
            for basis in BASES:
                part = f"{basis}.{edition}.{gwp_set}"
                _add_edition(register, year, part, found.get((basis, gwp_set)))


def _add_edition(
    register: FigureRegister,
    year: Year,
    part: str,
    found: tuple[NDArray[np.float64], NDArray[np.float64]] | None,
) -> None:
    basis, edition, gwp_set = part.split(".")
    words = f"{BASIS_WORDS[basis]}; {EDITION_WORDS[edition]}, {gwp_set.upper()}"
    inputs = (
        *of_figures(f"account_t_co2e[{basis}.net]"),
        of_key("method.edition", f"{edition} in place of {year.program.method.edition}"),
        of_key("method.gwp_set", f"{gwp_set} in place of {year.program.method.gwp_set}"),
    )
    for place, (figure_id, label) in enumerate(
        (
            ("methane_by_edition_t_co2e", "Landfill methane avoided"),
            ("editions_compared_t_co2e", "Net emissions avoided"),
        )
    ):
        name, label_words = f"{figure_id}[{part}]", f"{label} {words}"
        if found is None:
            empty = Figure(name, label_words, None, None, None, UNIT, COMMITMENT_ALONE, inputs)
            register.add(empty)
        else:
            method = "The account reckoned again under this edition and these potentials."
            register.add_draws(name, label_words, found[place], UNIT, method, inputs)


def _add_variance(register: FigureRegister, year: Year) -> None:
    for source, share in variance_by_source(year).items():
        words = source.replace("_", " ")
        register.add_exact(
            f"variance_share[{source}]",
            f"Share of the variance of emissions avoided over 100 years: {words}",
            share,
            "share",
            "What sources do only together, and what chance leaves open."
            if source == "interactions"
            else FIRST_ORDER,
            of_figures(HEADLINE),
        )


def variance_by_source(year: Year) -> dict[str, float]:
    """First-order shares of the variance of the headline; they add up to 1, if it varies.

    The survey's is that of everything measured less that of the feed factors; each
    factor's follows from the draws as they stand. A feed factor's share that chance alone
    would often give is left with the survey.
    """
    factors, activity, choices = year.emission_factors, year.activity, year.program.emissions
    ids = [row.factor_id for row in factors.rows.every]

    def result_of(percentiles: NDArray[np.float64]) -> NDArray[np.float64]:
        # the draws of the survey and of the factors, each row of them a number of its own
        of_survey, of_factors = 1 + (percentiles.T * (factors.size - 1)).astype(np.int64)
        redrawn = factors.picked(dict.fromkeys(ids, of_factors))
        net = net_t_co2e(activity.picked(of_survey), redrawn, choices, HEADLINE_BASIS)
        return net[:, np.newaxis]

    result = year.emissions.basis(HEADLINE_BASIS).net_t_co2e[1:]
    if np.ptp(result) == 0.0:
        return {}
    method = year.program.method
    grouped = variance_shares(
        result_of, {"survey": [0], "factors": [1]}, VARIANCE_DRAWS, method.seed
    )
    measured = float(grouped.first_order[0, 0])
    of_feed = draw_factors(year.feed_factors, method.draws_count, method.seed)
    feed = {name: share_of_one_number(result, draws[1:]) for name, draws in of_feed.items()}
    feed = {name: share for name, share in feed.items() if share * result.size > BY_CHANCE}
    shares = {"survey": max(0.0, measured - sum(feed.values())), **feed}
    moving_ids = [name for name in factors.factor_ids if _moves_the_net(year, name)]
    shares |= {name: share_of_one_number(result, factors[name][1:]) for name in moving_ids}
    total = sum(shares.values())
    moving = {name: share / max(1.0, total) for name, share in shares.items() if share > 0.0}
    return {**moving, "interactions": max(0.0, 1.0 - total)}


def _moves_the_net(year: Year, factor_id: str) -> bool:
    alone = year.emission_factors.varying(factor_id)
    centre = year.activity.picked(np.zeros(alone.size, dtype=np.int64))
    net = net_t_co2e(centre, alone, year.program.emissions, HEADLINE_BASIS)
    return bool(np.ptp(net) > 0.0)


def _add_uncertainty(register: FigureRegister, year: Year) -> None:
    account = year.emissions.basis(HEADLINE_BASIS)
    first = approach_1_percent(
        year.activity, year.emission_factors.rows, year.program.emissions, HEADLINE_BASIS
    )
    for name, percent in first.items():
        draws = account.net_t_co2e if name == "net" else account.lines[name]
        label = "net emissions avoided" if name == "net" else LINES[name].label.lower()
        value, low, high = interval(draws)
        inputs = of_figures(f"account_t_co2e[{HEADLINE_BASIS}.{name}]")
        for approach, found, method in (
            (1, percent, _FIRST_APPROACH),
            (2, PERCENT * (high - low) / 2.0 / abs(value) if value else np.inf, _SECOND_APPROACH),
        ):
            register.add_exact(
                f"approach_{approach}_uncertainty_percent[{name}]",
                f"Uncertainty by Approach {approach}: {label} over 100 years",
                float(found) if np.isfinite(found) else None,
                "%",
                method if np.isfinite(found) else _NOTHING,
                inputs,
            )


_FIRST_APPROACH = (
    "Half the 95% interval in per cent of the value, by error propagation (IPCC 2006 "
    "Guidelines, volume 1, chapter 3, equations 3.1 and 3.2), which takes ranges as even and "
    "lines as unrelated; of an uneven range the larger side."
)
_SECOND_APPROACH = (
    "Half the 95% interval in per cent of the value, from the draws, in which lines that share "
    "scraps or factors move together."
)
_NOTHING = "Not given: the value is nothing beside its range, so a per cent has no meaning."
