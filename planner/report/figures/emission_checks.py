"""Figures that an auditor sets beside the emissions account: per tonne, editions, payback."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from planner.emissions.account import IN_NET, net_t_co2e
from planner.emissions.activity import BASES
from planner.emissions.editions import EDITIONS, GWP_SETS, compared_t_co2e, edition_rows
from planner.emissions.propagation import approach_1_percent
from planner.emissions.supply import bin_gases_kg_co2e_per_t, bin_making_kg_co2e
from planner.emissions.timeline import methane_avoided_kg_co2e_per_t, payback
from planner.factors.draws import draw_factors
from planner.factors.variance import share_of_one_number, variance_shares
from planner.figures import interval
from planner.messages import lower_first, paper, said
from planner.report.figures import CATALOGUE
from planner.report.figures.emissions import NET, line_words, words_of_basis
from planner.report.figures.giveaway import basis_words
from planner.report.inputs import of_factors, of_rows
from planner.units import KG_PER_LB, KG_PER_T, PER_CENT

if TYPE_CHECKING:
    from collections.abc import Iterable

    from numpy.typing import NDArray

    from planner.emissions.timeline import Payback
    from planner.factors import Factor
    from planner.report.figures.writer import Writer
    from planner.report.year import Year

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
    """Add government factors of food to landfill, which are in no other figure."""
    for row in out.year.factor_table:
        if row.applies_to == "food" and row.factor_id.startswith("landfill_"):
            kg_per_t, also = row.value, of_factors(out.year.factor_table, [row])
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
            words["words"] = f"{basis_words(basis)}; {told}"
            there = [name for name in IN_NET if name in year.emissions.basis(basis).lines]
            draws = found.get((basis, gwp_set)) or (None, None)
            for name, lines, of_name in zip(names, (there[:1], there), draws, strict=True):
                others, used = _of_lines(year, lines, rows)
                declared, why = f"{name}[{{basis}}.{{edition}}.{{gwp_set}}]", "why.commitment_alone"
                filled = {**words, "others": others.format(**words)}
                out.put(declared, of_name, filled, why=why, also=of_rows(year, used))


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
    moving_ids = [name for name in factors.rows.drawn_ids if _moves_the_net(year, name)]
    shares |= {name: share_of_one_number(result, factors[name][1:]) for name in moving_ids}
    total = sum(shares.values())
    moving = {name: share / max(1.0, total) for name, share in shares.items() if share > 0.0}
    return {**moving, "interactions": max(0.0, 1.0 - total)}


def _moves_the_net(year: Year, factor_id: str) -> bool:
    alone = year.emission_factors.varying(factor_id)
    centre = year.activity.picked(np.zeros(alone.size, dtype=np.int64))
    net = net_t_co2e(centre, alone, year.program.emissions, HEADLINE_BASIS)
    return bool(np.ptp(net) > 0.0)


def _add_uncertainty(out: Writer) -> None:
    year = out.year
    account = year.emissions.basis(HEADLINE_BASIS)
    first = approach_1_percent(
        year.activity, year.emission_factors.rows, year.program.emissions, HEADLINE_BASIS
    )
    for name, percent in first.items():
        draws = account.net_t_co2e if name == NET else account.lines[name]
        label = lower_first(line_words(name))
        value, low, high = interval(draws)
        second = PER_CENT * (high - low) / 2.0 / abs(value) if value else np.inf
        for approach, found in ((1, percent), (2, second)):
            given = float(found) if np.isfinite(found) else None
            declared = f"approach_{approach}_uncertainty_percent[{{line}}]"
            out.put(declared, given, why="why.no_percent", line=name, label=label)


def _add_payback(out: Writer) -> None:
    """Add for each bin model what giving one emits and when scraps have repaid it."""
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


def _net_kg_co2e_per_t_fed(year: Year) -> NDArray[np.float64] | None:
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
