"""Figures from bins given to tonnes kept out, the claim of a rule of thumb, and castings made."""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING

from planner.diversion.gross_to_net import SET_UP_MONTHS, GrossToNet, gross_to_net
from planner.factors.draws import draw_factors
from planner.messages import paper, said
from planner.report.figures.writer import number_if_known
from planner.units import DAYS_PER_WEEK, KG_PER_T, MONTHS_PER_YEAR
from planner.worms.castings import (
    castings_kg,
    castings_litres,
    dressed_m2,
    nutrient_kg,
    potting_mix_litres,
)

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from planner.report.figures.writer import Writer
    from planner.report.year import Year


RULE = "compost_bin_kg_per_household_year"
"""Factor of the rule of thumb: what each bin given is said to divert in a year."""

MONTHS_TO_SET_UP = {"set_up_months": int(SET_UP_MONTHS)}
CAUTIONS = (
    "how.castings_caution",
    "said.caution_liquid",
    "said.caution_dust",
    "said.caution_live_worms",
)

MIXES = ("one_part_in_three", "one_part_in_five")
NUTRIENTS = ("nitrogen", "phosphorus", "potassium")


def add_chain(out: Writer) -> None:
    """Add the chain from bins given to the net, and the gross claim beside it."""
    landfilled = out.year.program.landfill.landfilled_share_of_residual_waste
    chain = gross_to_net(out.year.diversion, out.year.counts, landfilled)
    before = None
    for step, kilograms in chain.steps_kg.items():
        out.put(f"gross_to_net[{step}]", kilograms / KG_PER_T, MONTHS_TO_SET_UP)
        if before is not None:
            share = number_if_known(_share(kilograms, before))
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
    months = _months_counted(out.year)
    part = "" if months == MONTHS_PER_YEAR else said("said.part_of_year", months=months)
    claim = given.value * rule * months / MONTHS_PER_YEAR / KG_PER_T
    out.put("gross_claim_t", claim, rule=paper().significant(rule), part=part)
    net = chain.kept_out_kg / KG_PER_T
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
    full_feed = chain.given_kg[0] / chain.bin_weeks_given
    kilograms = [draws[0] for draws in chain.steps_kg.values()]
    words, steps = paper(), list(chain.steps_kg)
    left = {
        step: words.share(_divided(after, before))
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


def _months_counted(year: Year) -> int:
    start, end = year.counts.from_date, year.counts.before_date
    return (end.year - start.year) * MONTHS_PER_YEAR + end.month - start.month


def _divided(after: float, before: float) -> float:
    return after / before if before > 0.0 else 0.0


def _share(after: NDArray[np.float64], before: NDArray[np.float64]) -> NDArray[np.float64]:
    """Share left, none where nothing was there before."""
    there = before > 0.0
    shares: NDArray[np.float64] = (after * there) / (before + ~there)
    return shares


def add_castings(out: Writer) -> None:
    """Add castings made in the year, what they dress, and the nutrients in them."""
    method = out.year.program.method

    def drawn(factor_id: str, applies_to: str = "") -> NDArray[np.float64]:
        factor = out.year.factor_table.find(factor_id, applies_to)
        return draw_factors([factor], method.draws_count, method.seed)[factor_id]

    months = out.months
    fed_kg = out.year.diversion.fed_kg[:, months].sum(axis=1)
    castings = castings_kg(fed_kg, drawn("castings_share_of_scraps"))
    litres = castings_litres(castings, drawn("castings_kg_per_litre"))
    out.put("castings_t", castings / KG_PER_T)
    out.put("castings_litres", litres)
    for mix in MIXES:
        share = drawn("castings_share_of_potting_mix", mix)
        out.put(f"potting_mix_litres[{mix}]", potting_mix_litres(litres, share))
    out.put("garden_dressed_m2", dressed_m2(castings, drawn("castings_dressing_kg_per_m2")))
    water = drawn("castings_water_share")
    for nutrient in NUTRIENTS:
        share = drawn("castings_nutrient_share", nutrient)
        out.put(f"castings_nutrient_kg[{nutrient}]", nutrient_kg(castings, water, share))
