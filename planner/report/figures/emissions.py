"""Figures of emissions avoided: each line of the account with sign and range, on three bases.

The bases are never added together.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING

import numpy as np

from planner.arrays import Numbers
from planner.emissions.account import APART, IN_NET, OTHER_ROUTES, account_on
from planner.emissions.activity import BASES, bin_gases_kg_co2e_per_t, bin_making_kg_co2e
from planner.emissions.editions import EDITIONS, GWP_SETS, compared_t_co2e, edition_rows
from planner.emissions.propagation import approach_1_percent, conservative_basis
from planner.emissions.timeline import (
    Payback,
    by_month_kg,
    landfill_methane_kg,
    methane_avoided_kg_co2e_per_t,
    payback,
)
from planner.factors import Factor
from planner.factors.draws import draw_factors, share_of_one_number, variance_shares
from planner.figures import interval
from planner.messages import paper, said
from planner.program import Emissions
from planner.report.activity import with_most_leakage
from planner.report.figures import CATALOGUE, LISTS
from planner.report.inputs import factor_inputs, row_inputs
from planner.report.wording import lower_first
from planner.units import KG_PER_LB, KG_PER_T, PER_CENT

if TYPE_CHECKING:
    from planner.report.figures.writer import Writer
    from planner.report.year import Year


LINES = (*IN_NET, *OTHER_ROUTES, *APART)
NET = "net"
NOT_THERE = {
    "collection_saved": "why.collection_not_counted",
    "other_residual_treatment": "why.treatment_not_counted",
    "kerbside_organics": "why.treatment_not_counted",
}
"""Why a line is not there; any other is not shown unless the program file asks for it."""


def add_emissions(out: Writer) -> None:
    """Add the account with its net on each basis, and the decay by year and month."""
    for basis in BASES:
        words = words_of_basis(out.year.program.emissions, basis)
        _add_lines(out, basis, words)
        _add_sums(out, basis, words)
        _add_conservative(out, basis, words)
        _add_landfills(out, basis, words)
    _add_years(out)
    _add_months(out)


def words_of_basis(choices: Emissions, basis: str) -> dict[str, str]:
    """Fill what lines rest on: their scraps, and what the treatments of a program do."""
    return {
        "basis": basis,
        "basis_words": said(f"basis.{basis}"),
        "kept_out": f"kept_out_of_landfill_{'' if basis == '100_years' else 'to_date_'}t",
        "fed": "fed_to_date_t" if basis == "to_date" else "fed_t",
        "by_residual": LISTS.get(f"list:{choices.residual_treatment}", ""),
        "by_kerbside": LISTS.get(f"list:{choices.kerbside_treatment}", ""),
    }


def _add_lines(out: Writer, basis: str, words: dict[str, str]) -> None:
    lines = out.year.emissions.basis(basis).lines
    for name in LINES:
        why, line = NOT_THERE.get(name, "why.apart_not_shown"), said(f"line.{name}")
        out.put(f"account_t_co2e[{{basis}}.{name}]", lines.get(name), words, why=why, line=line)


def _add_sums(out: Writer, basis: str, words: dict[str, str]) -> None:
    account = out.year.emissions.basis(basis)

    def there(names: tuple[str, ...]) -> str:
        return " ".join(f"account_t_co2e[{basis}.{n}]" for n in names if n in account.lines)

    apart = ("landfill_methane", "bin_methane", "bin_nitrous_oxide")
    rest = tuple(name for name in IN_NET if name not in apart)
    net, making = account.net_t_co2e, account.making_and_freight_t_co2e
    whole = f"account_t_co2e[{{basis}}.{NET}]"
    out.put(whole, net, words, lines=there(IN_NET), line=said(f"line.{NET}"))
    out.put("making_and_freight_{basis}_t_co2e", making, words, lines=there(rest))
    other_routes = account.other_routes_t_co2e
    out.put("other_routes_saved_{basis}_t_co2e", other_routes, words, lines=there(OTHER_ROUTES))
    out.put("landfill_methane_avoided_{basis}_t_co2e", account.methane_avoided_t_co2e, words)
    out.put("bin_process_gases_{basis}_t_co2e", account.bin_gases_t_co2e, words)
    mean = paper().significant(float(net[1:].mean()), 3)
    out.put("emissions_avoided_{basis}_t_co2e", net, words, mean=mean)


def _add_conservative(out: Writer, basis: str, words: dict[str, str]) -> None:
    rows, choices = out.year.emission_factors.rows, out.year.program.emissions
    account, ends = conservative_basis(with_most_leakage(out.year), rows, choices, basis)
    # factors by their ids, as the list of factors has them
    told = "; ".join(f"{name} {paper().significant(value)}" for name, value in ends.items())
    known = {**account.lines, NET: account.net_t_co2e}
    for name in (*IN_NET, NET):
        if name in known:
            declared = f"account_conservative_t_co2e[{{basis}}.{name}]"
            out.put(
                declared, float(known[name][0]), words, ends=f"{told}.", line=said(f"line.{name}")
            )


def _add_landfills(out: Writer, basis: str, words: dict[str, str]) -> None:
    factors, activity = out.year.emission_factors, out.year.activity
    if not out.year.program.further_landfills:
        return
    for landfill in factors.landfills:
        methane = landfill_methane_kg(activity.kept_out_kg, landfill, basis, activity.year_start)
        methane_t = methane * factors["methane_gwp100"] / KG_PER_T
        declared = "landfill_methane_by_landfill_t_co2e[{basis}.{landfill}]"
        share = paper().share(landfill.share_of_landfilled_waste)
        out.put(declared, methane_t, words, landfill=landfill.name, share=share)


def _add_years(out: Writer) -> None:
    by_year = out.year.emissions.methane_by_year_t_co2e
    for year in range(by_year.shape[1]):
        name = "landfill_methane_avoided_by_year_t_co2e[{year}]"
        on = said("said.years_on", year) if year else said("said.in_the_year_itself")
        out.put(name, by_year[:, year], year=year, years_on=on)


def _add_months(out: Writer) -> None:
    """Add the methane of each month of the year, hidden where the month's scraps are."""
    factors, activity = out.year.emission_factors, out.year.activity
    by_month = by_month_kg(activity, factors) * factors["methane_gwp100"][:, None] / KG_PER_T
    months = out.year.diversion.cohorts.months[activity.year_start :]
    for place, day in enumerate(months):
        month = f"{day:%Y-%m}"
        shown_id = f"kept_out_of_landfill_t_in_month[{month}]"
        hides = shown_id in out.register and out.register[shown_id].value is None
        declared = "landfill_methane_avoided_in_month_t_co2e[{month}]"
        out.put(declared, by_month[:, place], hides=hides, month=month)


BY_CHANCE = 8.0
"""Over the number of draws: a share that an unrelated factor is hardly ever given."""

POUNDS_PER_SHORT_TON = 2000.0
HEADLINE_BASIS = "100_years"
VARIANCE_DRAWS = 4096
"""Base sample of the variance shares; the account is worked out four times as often."""


def add_emission_checks(out: Writer) -> None:
    """Add the figures that an auditor sets beside the account."""
    _add_per_tonne(out)
    _add_crosschecks(out)
    for edition in EDITIONS:
        _add_edition(out, edition)
    for source, share in variance_by_source(out.year).items():
        declared = f"variance_share[{source if source == 'interactions' else '{source}'}]"
        out.put(declared, share, source=source, source_words=said(f"source.{source}"))
    _add_uncertainty(out)
    _add_payback(out)


def _add_per_tonne(out: Writer) -> None:
    factors = out.year.emission_factors
    without_wells = factors.with_values({"captured_multiplier": 0.0})
    for_methane = "emissions_kg_co2e_per_t_kept_out[landfill_methane"
    out.put(f"{for_methane}]", methane_avoided_kg_co2e_per_t(factors))
    out.put(f"{for_methane}_without_capture]", methane_avoided_kg_co2e_per_t(without_wells))
    out.put("emissions_kg_co2e_per_t_fed[bin_gases]", bin_gases_kg_co2e_per_t(factors))


def _add_crosschecks(out: Writer) -> None:
    for row in out.year.factor_table:
        if row.applies_to == "food" and row.factor_id.startswith("landfill_"):
            kg_per_t, also = row.value, factor_inputs(out.year.factor_table, [row])
            if row.factor_id == "landfill_t_co2e_per_short_ton":
                kg_per_t = row.value * KG_PER_T * KG_PER_T / (POUNDS_PER_SHORT_TON * KG_PER_LB)
            words = {"edition": row.edition, "edition_words": row.edition.replace("_", " ")}
            words["note"] = said(f"said.crosscheck.{row.edition}")
            out.put("crosscheck_landfill_kg_co2e_per_t[{edition}]", kg_per_t, words, also=also)


def _add_edition(out: Writer, edition: str) -> None:
    year = out.year
    found = compared_t_co2e(year.program, year.factor_table, year.activity, edition)
    names = ("methane_by_edition_t_co2e", "editions_compared_t_co2e")
    for gwp_set in GWP_SETS:
        rows = edition_rows(year.program, year.factor_table, edition, gwp_set)
        for basis in BASES:
            words = words_of_basis(year.program.emissions, basis)
            words |= {"edition": edition, "gwp_set": gwp_set}
            told = f"{said(f'edition.{edition}')}, {gwp_set.upper()}"
            words["words"] = f"{said(f'basis.{basis}')}; {told}"
            there = [name for name in IN_NET if name in year.emissions.basis(basis).lines]
            draws = found.get((basis, gwp_set)) or (None, None)
            for name, lines, of_name in zip(names, (there[:1], there), draws, strict=True):
                others, used = _of_lines(year, lines, rows)
                declared, why = f"{name}[{{basis}}.{{edition}}.{{gwp_set}}]", "why.commitment_alone"
                filled = {**words, "others": others.format(**words)}
                out.put(declared, of_name, filled, why=why, also=row_inputs(year, used))


def _of_lines(year: Year, lines: Iterable[str], rows: Iterable[Factor]) -> tuple[str, list[Factor]]:
    """Tell what lines rest on beside factors of emissions, and an edition's rows of these."""
    declared = (CATALOGUE[f"account_t_co2e[{{basis}}.{line}]"] for line in lines)
    named = dict.fromkeys(name for one in declared for name in one.rests_on.split())
    own = {f"factor:{row.factor_id}" for row in year.emission_factors.rows.every}
    methods = ("key:method.edition", "key:method.gwp_set")
    others = " ".join(name for name in named if name not in own and name not in methods)
    used = {name.removeprefix("factor:") for name in named} | {"model_correction_factor"}
    return others, [row for row in rows if row.factor_id in used]


def variance_by_source(year: Year) -> dict[str, float]:
    """First-order shares of the variance of the headline; they add up to 1, if it varies.

    The survey's is that of everything measured less that of the feed factors; each
    factor's follows from the draws as they stand. A feed factor's share that chance alone
    would often give is left with the survey.
    """
    factors, activity, choices = year.emission_factors, year.activity, year.program.emissions
    ids = [row.factor_id for row in factors.rows.every]

    def result_of(percentiles: Numbers) -> Numbers:
        # the draws of the survey and of the factors, each row of them a number of its own
        of_survey, of_factors = 1 + (percentiles.T * (factors.size - 1)).astype(np.int64)
        redrawn = factors.picked(dict.fromkeys(ids, of_factors))
        net = account_on(activity.picked(of_survey), redrawn, choices, HEADLINE_BASIS).net_t_co2e
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
    moving_ids = [name for name in factors.rows.drawn_ids if _moves_the_net(year, name)]
    shares |= {name: share_of_one_number(result, factors[name][1:]) for name in moving_ids}
    total = sum(shares.values())
    moving = {name: share / max(1.0, total) for name, share in shares.items() if share > 0.0}
    return {**moving, "interactions": max(0.0, 1.0 - total)}


def _moves_the_net(year: Year, factor_id: str) -> bool:
    alone = year.emission_factors.varying(factor_id)
    centre = year.activity.picked(np.zeros(alone.size, dtype=np.int64))
    net = account_on(centre, alone, year.program.emissions, HEADLINE_BASIS).net_t_co2e
    return bool(np.ptp(net) > 0.0)


def _add_uncertainty(out: Writer) -> None:
    year = out.year
    account = year.emissions.basis(HEADLINE_BASIS)
    first = approach_1_percent(
        year.activity, year.emission_factors.rows, year.program.emissions, HEADLINE_BASIS
    )
    for name, percent in first.items():
        draws = account.net_t_co2e if name == NET else account.lines[name]
        label = lower_first(said(f"line.{name}"))
        value, low, high = interval(draws)
        second = PER_CENT * (high - low) / 2.0 / abs(value) if value else np.inf
        for approach, found in ((1, percent), (2, second)):
            given = float(found) if np.isfinite(found) else None
            declared = f"approach_{approach}_uncertainty_percent[{{line}}]"
            out.put(declared, given, why="why.no_percent", line=name, label=label)


def _add_payback(out: Writer) -> None:
    net, supplies = _net_kg_co2e_per_t_fed(out.year), out.year.activity.supplies
    given = max(1.0, float(supplies.bins_given.sum()))
    for model in out.year.program.bin_models:
        making = bin_making_kg_co2e(
            out.year.emission_factors,
            model.plastic_kg,
            model.plastic_recycled_share,
            float(supplies.bedding_kg.sum()) / given,
            float(supplies.worms_kg.sum()) / given,
        )
        words = {"model_id": model.model_id, "model": model.model_name}
        out.put("bin_making_kg_co2e[{model_id}]", making, words)
        _add_repaid(out, None if net is None else payback(making, net), words)


def _net_kg_co2e_per_t_fed(year: Year) -> Numbers | None:
    """Emissions avoided by a tonne fed, before the bin's making; None where none was fed."""
    months, factors = year.activity.year_months, year.emission_factors
    fed = year.activity.fed_kg[:, months].sum(axis=1)
    if (fed <= 0.0).any():
        return None
    share = year.activity.kept_out_kg[:, months].sum(axis=1) / fed
    methane = methane_avoided_kg_co2e_per_t(factors)
    return np.asarray(share * methane - bin_gases_kg_co2e_per_t(factors))


def _add_repaid(out: Writer, found: Payback | None, words: dict[str, str]) -> None:
    repaid, never = "bin_payback_kg[{model_id}]", "bin_payback_never_share[{model_id}]"
    if found is None:
        for name in (repaid, never):
            out.put(name, None, words, why="why.nothing_fed")
        return
    value, low, high = found.fed_kg
    if np.isinf(value):
        out.put(repaid, None, words, why="why.never_repaid")
    elif np.isinf(high):
        share = paper().share(found.never_share, 1)
        reach = said("said.repaid_open", share=share)
        if np.isfinite(low):
            reach = said("said.repaid_from", low=paper().significant(low, 3), share=share)
        out.put(repaid, value, words, reach=reach)
    else:
        out.put(repaid, (value, low, high), words, reach="")
    out.put(never, found.never_share, words)
