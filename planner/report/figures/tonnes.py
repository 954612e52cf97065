"""Figures of scraps fed and kept out: in the year, by area and month, and to its end."""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from planner.arrays import Numbers, quotient
from planner.diversion.cohorts import months_between
from planner.diversion.gross_to_net import SET_UP_MONTHS, GrossToNet, gross_to_net
from planner.diversion.leakage import ANYWAY, LEAST_ANSWERS, THROWN_AWAY
from planner.factors.draws import draw_factors
from planner.messages import paper, said
from planner.report.disclosure.parts import HIDDEN, is_small
from planner.report.figures import LISTS
from planner.report.figures.giveaway import bins_by_month
from planner.report.figures.writer import Writer, number_if_known
from planner.report.inputs import query_input
from planner.tables import RESIDUAL_BIN
from planner.units import DAYS_PER_WEEK, KG_PER_T, MONTHS_PER_YEAR

if TYPE_CHECKING:
    from planner.report.forecasting import Forecast
    from planner.report.year import Year


TOP_SHARE = 3
"""Areas are told to be among the top third, not given places: few answers would shuffle them."""

LEAST_RANKED = 3

LEAK_WORDS = {
    ANYWAY: ("composted_anyway", "would_have_composted_share"),
    THROWN_AWAY: ("thrown_away", "thrown_away_share"),
}
"""For each leak the name of its figures, and the question that asks for it."""


def add_tonnes(out: Writer, hidden: frozenset[str]) -> None:
    """Add bins in use, scraps fed and scraps kept out of landfill."""
    _add_year(out)
    _add_areas(out, hidden)
    _add_months(out)


def _add_year(out: Writer) -> None:
    diversion = out.year.diversion
    months = out.months
    fed, kept_out = _tonnes(diversion.fed_kg), _tonnes(diversion.kept_out_kg)
    bin_weeks = diversion.in_use_bin_weeks[:, months].sum(axis=1)
    in_year = fed[:, months].sum(axis=1)
    residual = _tonnes(diversion.from_residual_bin_kg)[:, months].sum(axis=1)
    share = out.year.program.landfill.landfilled_share_of_residual_waste
    landfilled, not_anyway, net = diversion.leakage.steps_kg(in_year, residual, share)
    out.put("bins_in_use", diversion.bins_in_use[:, -1])
    out.put("in_use_bin_weeks", bin_weeks)
    out.put("feed_kg_per_bin_week", in_year * KG_PER_T / bin_weeks)
    out.put("fed_t", in_year)
    out.put("landfill_share", landfilled / in_year)
    _add_leaks(out)
    out.put("composted_anyway_t", landfilled - not_anyway)
    out.put("thrown_away_t", not_anyway - net)
    out.put("kept_out_of_landfill_t", net)
    households = float(diversion.cohorts.bins_given.sum())
    out.put("kept_out_kg_per_household", net * KG_PER_T / households)
    out.put("moved_from_other_routes_t", in_year - landfilled)
    out.put("fed_to_date_t", fed.sum(axis=1))
    out.put("kept_out_of_landfill_to_date_t", kept_out.sum(axis=1))


def _add_leaks(out: Writer) -> None:
    """Add both leaks as shares: as answered, as stated, or as assumed."""
    leaks, stated = out.year.diversion.leakage, out.year.program.leakage
    for factor_id, share in (
        (ANYWAY, leaks.composted_anyway_share),
        (THROWN_AWAY, leaks.thrown_away_share),
    ):
        name, question = LEAK_WORDS[factor_id]
        words = said("said.leak_assumed", least=LEAST_ANSWERS, question=question)
        rests_on = f"factor:{factor_id}"
        if getattr(stated, factor_id) is not None:
            words, rests_on = said("said.leak_stated"), f"key:leakage.{factor_id}"
        elif leaks.is_surveyed(factor_id):
            words = said("said.leak_answered", count=leaks.answers_count[factor_id])
            rests_on = f"query:followup_answers retention_12_months {LISTS['list:weights']}"
        out.put(f"{name}_share", share, said=words, rests_on=rests_on)


def _add_areas(out: Writer, hidden: frozenset[str]) -> None:
    of_areas, counted = out.year.areas, out.year.counts.areas
    for place, (area_id, area) in enumerate(counted.select("area_id", "area_name").iter_rows()):
        for name, draws in (
            ("bins_in_use", of_areas.bins_in_use[:, place]),
            ("fed_t", of_areas.fed_kg[:, place] / KG_PER_T),
            ("landfill_share", of_areas.landfill_share[:, place]),
            ("kept_out_of_landfill_t", of_areas.kept_out_kg[:, place] / KG_PER_T),
        ):
            is_shown = area_id not in hidden
            found = draws if is_shown and np.isfinite(draws[0]) else None
            why = "why.nothing_fed_here" if is_shown else HIDDEN
            basis = out.year.diversion.routes.basis(place)
            words = {"area_id": area_id, "area": area, "basis": basis}
            out.put(f"{name}[{{area_id}}]", found, words, why=why)
    _add_ranking(out, [area_id not in hidden for area_id in counted["area_id"]])


def _add_ranking(out: Writer, is_shown: list[bool]) -> None:
    """Add what a household keeps out in each area, and the chance of being top or bottom."""
    diversion, counted = out.year.diversion, out.year.counts.areas
    households = diversion.cohorts.bins_given.sum(axis=(0, 2))
    ranked = np.array(is_shown) & (households > 0)
    kept_out = quotient(out.year.areas.kept_out_kg, households)
    top, bottom = chances_of_thirds(kept_out[:, ranked])
    place_in_ranking = np.cumsum(ranked) - 1
    weights = diversion.differences.hazard.own_weight
    for place, (area_id, area) in enumerate(counted.select("area_id", "area_name").iter_rows()):
        words = {"area_id": area_id, "area": area}
        why = "why.nothing_fed_here" if is_shown[place] else HIDDEN
        at = place_in_ranking[place]
        can_rank = ranked[place] and ranked.sum() >= LEAST_RANKED
        for name, found in (
            ("kept_out_kg_per_household", kept_out[:, place] if ranked[place] else None),
            ("chance_in_top_third", float(top[at]) if can_rank else None),
            ("chance_in_bottom_third", float(bottom[at]) if can_rank else None),
            ("own_answers_weight", float(weights[place]) if is_shown[place] else None),
        ):
            out.put(f"{name}[{{area_id}}]", found, words, why=why)


def chances_of_thirds(
    values: Numbers,
) -> tuple[Numbers, Numbers]:
    """Share of the draws in which each area is among the top, and the bottom, third.

    The values have shape (1 + draws_count, areas).

    Examples
    --------
    >>> top, bottom = chances_of_thirds(np.array([[0, 0, 0], [3, 1, 2], [2, 1, 3.0]]))
    >>> top.tolist(), bottom.tolist()
    ([0.5, 0.0, 0.5], [0.0, 1.0, 0.0])
    """
    count = values.shape[1]
    third = max(round(count / TOP_SHARE), 1)
    place = values[1:].argsort(axis=1).argsort(axis=1)
    return (place >= count - third).mean(axis=0), (place < third).mean(axis=0)


def _add_months(out: Writer) -> None:
    """Add the estimates by month, hidden where few bins were given to date.

    An estimate is no count: from how it moves a reader may guess at the bins of a hidden
    month, as from any other knowledge of the program.
    """
    diversion = out.year.diversion
    bin_weeks, fed_kg = diversion.in_use_bin_weeks, diversion.fed_kg
    hides = _months_without_estimate(out.year)
    for name, draws in (
        ("bins_in_use_at_month_end", diversion.bins_in_use),
        ("fed_t_in_month", _tonnes(diversion.fed_kg)),
        ("kept_out_of_landfill_t_in_month", _tonnes(diversion.kept_out_kg)),
        ("in_use_bin_weeks_in_month", bin_weeks),
        ("feed_kg_per_bin_week_in_month", quotient(fed_kg, bin_weeks)),
        (
            "residual_bin_share_in_month",
            quotient(diversion.fed_by_route_kg[:, RESIDUAL_BIN], fed_kg),
        ),
    ):
        for place, month in enumerate(bins_by_month(out.year)):
            out.put(f"{name}[{{month}}]", draws[:, place], hides=month in hides, month=month)


def _tonnes(kg: Numbers) -> Numbers:
    return np.asarray(kg / KG_PER_T)


def _months_without_estimate(year: Year) -> frozenset[str]:
    threshold = year.program.privacy.small_cell_threshold
    by_month = bins_by_month(year)
    to_date = np.cumsum(list(by_month.values()))
    pairs = zip(by_month, to_date, strict=True)
    return frozenset(month for month, bins in pairs if is_small(bins, threshold))


def add_forecast(out: Writer) -> None:
    """Add the forecast of a year that still runs; nothing where it is over."""
    found = out.year.forecast
    if found is None:
        return
    also = (query_input("upcoming_events"), query_input("event_take_up"))
    words = _words(out, found)
    targets = {"bins_given": found.bins_given, "kept_out_of_landfill_t": found.kept_out_t}
    if out.register["bins_given"].value is not None:
        out.put("forecast_bins_given", found.bins_given, words, also=also)
    out.put("forecast_bins_in_use", found.bins_in_use, words, also=also)
    out.put("forecast_fed_t", found.fed_t, words, also=also)
    out.put("forecast_kept_out_of_landfill_t", found.kept_out_t, words, also=also)
    for name, draws in targets.items():
        target = getattr(out.year.reporting_year, f"{name}_target")
        if target is not None and f"forecast_{name}" in out.register:
            chance = float(np.mean(draws[1:] >= target))
            of_words = said(f"said.on_track.{name}")
            out.put("on_track_share[{of}]", chance, of=name, of_words=of_words)


def _words(out: Writer, found: Forecast) -> dict[str, str]:
    words, held = paper(), found.days_held
    return {
        "through": out.year.counts.through_date,
        "days": words.number(found.days_count),
        "places": words.number(found.places_count),
        "take_up": words.number(found.take_up, 2),
        "basis": said("said.days_held", held) if held else said("said.no_day_held"),
    }


RULE = "compost_bin_kg_per_household_year"
"""Factor of the rule of thumb: what each bin given is said to divert in a year."""

MONTHS_TO_SET_UP = {"set_up_months": int(SET_UP_MONTHS)}
CAUTIONS = (
    "how.castings_caution",
    "said.caution_liquid",
    "said.caution_dust",
    "said.caution_live_worms",
)


def add_chain(out: Writer) -> None:
    """Add the chain from bins given to the net, and the gross claim beside it."""
    landfilled = out.year.program.landfill.landfilled_share_of_residual_waste
    chain = gross_to_net(out.year.diversion, out.year.counts, landfilled)
    before = None
    for step, kilograms in chain.steps_kg.items():
        out.put(f"gross_to_net[{step}]", kilograms / KG_PER_T, MONTHS_TO_SET_UP)
        if before is not None:
            share = number_if_known(quotient(kilograms, before))
            out.put(f"gross_to_net_share[{step}]", share, MONTHS_TO_SET_UP)
        before = kilograms
    given = out.register["bins_given_to_date"]
    out.put("gross_to_net_bins[given]", given.value, why=given.method)
    out.put("gross_to_net_bins[set_up]", chain.bins_set_up, MONTHS_TO_SET_UP)
    out.put("gross_to_net_bins[in_use]", chain.bins_in_use)
    _add_claim(out, chain)


def _add_claim(out: Writer, chain: GrossToNet) -> None:
    rule = out.year.factor_table.find(RULE).value
    given = out.register["bins_given_to_date"]
    if given.value is None:
        for name in ("gross_claim_t", "gross_claim_over_net"):
            out.put(name, None, why=given.method)
        return
    months = len(months_between(out.year.counts.from_date, out.year.counts.before_date))
    part = "" if months == MONTHS_PER_YEAR else said("said.part_of_year", months=months)
    claim = given.value * rule * months / MONTHS_PER_YEAR / KG_PER_T
    out.put("gross_claim_t", claim, rule=paper().significant(rule), part=part)
    net = chain.steps_kg["kept_out"] / KG_PER_T
    over, why = claim / net if net.min() > 0.0 else None, "why.nothing_kept_out"
    reasons = why_gross_differs(out.year, chain, claim, rule)
    out.put("gross_claim_over_net", over, why=why, reasons=reasons)


def why_gross_differs(year: Year, chain: GrossToNet, claim_t: float, rule_kg: float) -> str:
    """Say from the numbers why the gross claim [t] is so far from the net.

    The rule of thumb is in kilograms a bin and year.
    """
    days = (year.counts.before_date - year.counts.from_date).days
    weeks = days / DAYS_PER_WEEK
    there = chain.bin_weeks_given / (chain.bins_given * weeks)
    full_feed = chain.steps_kg["given"][0] / chain.bin_weeks_given
    kilograms = [draws[0] for draws in chain.steps_kg.values()]
    words, steps = paper(), list(chain.steps_kg)
    left = {
        step: words.share(float(quotient(after, before)))
        for step, (before, after) in zip(steps[1:], pairwise(kilograms), strict=True)
    }
    return said(
        "said.gross_differs",
        bins=round(chain.bins_given),
        rule=words.significant(rule_kg),
        claimed_week=words.number(claim_t * KG_PER_T / (chain.bins_given * weeks), 1),
        there=words.share(there),
        full_feed=words.number(full_feed, 1),
        net=words.number(kilograms[-1] / KG_PER_T, 1),
        claim=words.number(claim_t, 1),
        **left,
    )


def add_castings(out: Writer) -> None:
    """Add castings made in the year, what they dress, and the nutrients in them."""
    method = out.year.program.method

    def drawn(factor_id: str, applies_to: str = "") -> Numbers:
        factor = out.year.factor_table.find(factor_id, applies_to)
        return draw_factors([factor], method.draws_count, method.seed)[factor_id]

    months = out.months
    fed_kg = out.year.diversion.fed_kg[:, months].sum(axis=1)
    # castings over scraps, both wet, and so is their bulk density
    castings_kg = fed_kg * drawn("castings_share_of_scraps")
    litres = castings_kg / drawn("castings_kg_per_litre")
    out.put("castings_t", castings_kg / KG_PER_T)
    out.put("castings_litres", litres)
    for mix in ("one_part_in_three", "one_part_in_five"):
        share = drawn("castings_share_of_potting_mix", mix)
        out.put(f"potting_mix_litres[{mix}]", litres / share)
    out.put("garden_dressed_m2", castings_kg / drawn("castings_dressing_kg_per_m2"))
    dry_kg = castings_kg * (1.0 - drawn("castings_water_share"))
    for nutrient in ("nitrogen", "phosphorus", "potassium"):
        share = drawn("castings_nutrient_share", nutrient)
        out.put(f"castings_nutrient_kg[{nutrient}]", dry_kg * share)
