"""The account under other editions of the method and other sets of warming potentials."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Literal, get_args

import numpy as np

from planner.arrays import Numbers, quotient
from planner.emissions.account import IN_NET, account_on
from planner.emissions.activity import BASES
from planner.emissions.choice import BASE_EDITION, choose_emission_factors
from planner.emissions.drawn import draw_rows
from planner.emissions.timeline import HORIZON_MONTHS

if TYPE_CHECKING:
    from planner.emissions.activity import Activity
    from planner.emissions.choice import FactorRows, LandfillRows
    from planner.emissions.drawn import EmissionFactors
    from planner.factors import Factor, FactorTable
    from planner.program import Program

Edition = Literal["ipcc_2006", "ipcc_2019", "gpc_commitment", "cdm_tool04"]
EDITIONS = get_args(Edition)
GWP_SETS = ("ar4", "ar5", "ar6")

COMMITMENT = "gpc_commitment"
"""All the methane a year's waste will ever give is booked to that year."""

TOOL = "cdm_tool04"
"""Waste decays from its own month on, and methane is multiplied by a correction factor."""

FOREVER_MONTHS = 1e7
WET = ("boreal_temperate_wet", "tropical_wet")


def edition_factors(
    program: Program, table: FactorTable, edition: str, gwp_set: str
) -> EmissionFactors:
    """Factors of the program under an edition and a set of warming potentials.

    Parameters
    ----------
    edition
        "ipcc_2006" and "ipcc_2019": first-order decay with each edition's defaults;
        "gpc_commitment": the community inventory's DOCf of 0.6; "cdm_tool04": the clean
        development mechanism's monthly form, that lets waste decay from its own month on
        and multiplies by its model correction factor for waste avoided.
    gwp_set
        "ar4", "ar5" or "ar6" (non-fossil methane).

    Returns
    -------
    EmissionFactors
        Editions share the percentiles of their draws.

    Raises
    ------
    FactorError
        The tables have no row for one of them.

    References
    ----------
    gpc, equations 8.3 and 8.4; cdm_tool04, version 8, monthly form and application B.
    """
    chosen = _chosen(program, table, edition, gwp_set)
    factors = draw_rows(chosen, program.method.draws_count, program.method.seed)
    return _as_the_tool_has_it(factors, table) if edition == TOOL else factors


def edition_rows(
    program: Program, table: FactorTable, edition: str, gwp_set: str
) -> tuple[Factor, ...]:
    """Name the rows behind `edition_factors`; the clean development mechanism has no delay."""
    chosen = _chosen(program, table, edition, gwp_set)
    if edition != TOOL:
        return chosen.every
    rows = [row for row in chosen.every if row.factor_id != "delay_months"]
    rows += [_correction(one, table) for one in chosen.landfills]
    return tuple(dict.fromkeys(rows))


def _chosen(program: Program, table: FactorTable, edition: str, gwp_set: str) -> FactorRows:
    own = edition if edition in ("ipcc_2006", "ipcc_2019") else BASE_EDITION
    method = program.method.model_copy(update={"edition": own, "gwp_set": gwp_set})
    chosen = choose_emission_factors(program.model_copy(update={"method": method}), table)
    if edition != COMMITMENT:
        return chosen
    share = table.find("food_decomposing_carbon_share", edition="gpc")
    return replace(chosen, shared={**chosen.shared, share.factor_id: share})


def compared_t_co2e(
    program: Program, table: FactorTable, activity: Activity, edition: str
) -> dict[tuple[str, str], tuple[Numbers, Numbers]]:
    """Landfill methane and net emissions avoided under an edition, by basis and potentials.

    Returns
    -------
    dict
        For each basis that the edition has and each of GWP_SETS, landfill methane avoided
        and the net, each of shape (1 + draws,) [t CO2-e]. The commitment has the basis of
        100 years alone, in which it books all that the year's scraps will ever give.
    """
    factors = edition_factors(program, table, edition, GWP_SETS[0])
    is_commitment = edition == COMMITMENT
    found = {}
    for basis in ("100_years",) if is_commitment else BASES:
        account = account_on(activity, factors, program.emissions, basis)
        lines = {name: account.lines[name] for name in IN_NET if name in account.lines}
        if is_commitment:
            lines["landfill_methane"] = lines["landfill_methane"] * _all_of_it(factors)
        for gwp_set in GWP_SETS:
            under = _under(lines, table, gwp_set)
            methane, net = under["landfill_methane"], np.sum(list(under.values()), axis=0)
            found[basis, gwp_set] = (methane, net)
    return found


def _under(lines: dict[str, Numbers], table: FactorTable, gwp_set: str) -> dict[str, Numbers]:
    """Lines reckoned at GWP_SETS[0], under other warming potentials."""

    def ratio(factor_id: str) -> float:
        own, first = (table.find(factor_id, edition=one).value for one in (gwp_set, GWP_SETS[0]))
        return own / first

    scale = {
        "landfill_methane": ratio("methane_gwp100"),
        "bin_methane": ratio("methane_gwp100"),
        "bin_nitrous_oxide": ratio("nitrous_oxide_gwp100"),
    }
    return {name: line * scale.get(name, 1.0) for name, line in lines.items()}


def _all_of_it(factors: EmissionFactors) -> Numbers:
    """Methane ever given over that of 100 years, shape (1 + draws,)."""

    def given(months: float) -> Numbers:
        shares = [
            one.methane_kg_per_kg_landfilled * one.decay.emitted_share(months)
            for one in factors.landfills
        ]
        return np.asarray(np.sum(shares, axis=0))

    ever, within = given(FOREVER_MONTHS), given(HORIZON_MONTHS)
    return quotient(ever, within, otherwise=1.0)


def _as_the_tool_has_it(factors: EmissionFactors, table: FactorTable) -> EmissionFactors:
    corrections = tuple(_correction(one, table).value for one in factors.rows.landfills)
    at_once = {**factors.drawn, "delay_months": np.zeros(factors.size)}
    return replace(factors, drawn=at_once, from_deposit_months=0.0, model_factor=corrections)


def _correction(landfill: LandfillRows, table: FactorTable) -> Factor:
    climate = "wet" if landfill.site.climate in WET else "dry"
    return table.find("model_correction_factor", f"application_b_{climate}")
