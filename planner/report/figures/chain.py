"""Figures from bins given to tonnes kept out, and the claim that a rule of thumb would make."""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING

from planner.diversion.gross_to_net import SET_UP_MONTHS, GrossToNet, gross_to_net
from planner.messages import paper
from planner.report.figures.declaring import Declared, number_if_known
from planner.units import DAYS_PER_WEEK, KG_PER_T, MONTHS_PER_YEAR

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from planner.report.figures.declaring import Writer
    from planner.report.year import Year

RULE = "compost_bin_kg_per_household_year"
"""Factor of the rule of thumb: what each bin given is said to divert in a year."""

GIVEN = "query:handovers_by_month retention_12_months"

MONTHS_TO_SET_UP = {"set_up_months": int(SET_UP_MONTHS)}
STEPS = {
    "given": ("feed_kg_per_bin_week query:handovers_by_month", "own"),
    "set_up": ("retention_12_months", "set_up"),
    "in_use": ("retention_12_months", "in_use_at_age"),
    "fed": ("fed_t", "worms_cold_heat"),
    "from_residual_bin": ("landfill_share", "prior_share"),
    "landfilled": ("landfill_share", "landfilled_share"),
    "not_composted_anyway": ("composted_anyway_share", "surveyed_or_assumed"),
    "kept_out": ("thrown_away_share kept_out_of_landfill_t", "surveyed_or_assumed headline"),
}
"""For each step of the chain: what it rests on, and how it comes about."""

OF_SHARE = {
    "landfilled": "key:landfill.landfilled_share_of_residual_waste",
    "not_composted_anyway": "composted_anyway_share",
}
"""Steps whose share is a setting or a figure as it stands, whatever went before."""

BEFORE = {after: before for before, after in pairwise(STEPS)}

FIGURES = (
    *(
        Declared(
            f"gross_to_net[{step}]",
            "t",
            f"gross_to_net[{BEFORE[step]}] {own}" if step in BEFORE else own,
            method=method,
        )
        for step, (own, method) in STEPS.items()
    ),
    *(
        Declared(
            f"gross_to_net_share[{step}]",
            "share",
            OF_SHARE.get(step, f"gross_to_net[{step}] gross_to_net[{BEFORE[step]}]"),
            method=f"over_before {method}",
        )
        for step, (_, method) in STEPS.items()
        if step in BEFORE
    ),
    Declared("gross_to_net_bins[given]", "bins", "bins_given_to_date", method="counted"),
    Declared("gross_to_net_bins[set_up]", "bins", GIVEN, method="set_up"),
    Declared("gross_to_net_bins[in_use]", "bins", GIVEN, method="in_use_at_age"),
    Declared("gross_claim_t", "t", f"bins_given_to_date factor:{RULE}"),
    Declared(
        "gross_claim_over_net",
        "ratio",
        f"gross_claim_t gross_to_net[kept_out] factor:{RULE}",
        method="{reasons}",
    ),
)


def add_chain(out: Writer) -> None:
    """Add the chain from bins given to the net, and the gross claim beside it."""
    landfilled = out.year.program.landfill.landfilled_share_of_residual_waste
    chain = gross_to_net(out.year.diversion, out.year.counts, landfilled)
    for step, kilograms in chain.steps_kg.items():
        out.put(f"gross_to_net[{step}]", kilograms / KG_PER_T, MONTHS_TO_SET_UP)
        if step in BEFORE:
            share = _share(kilograms, chain.steps_kg[BEFORE[step]])
            out.put(f"gross_to_net_share[{step}]", number_if_known(share), MONTHS_TO_SET_UP)
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
    part = "" if months == MONTHS_PER_YEAR else paper().say("said.part_of_year", months=months)
    claim = given.value * rule * months / MONTHS_PER_YEAR / KG_PER_T
    out.put("gross_claim_t", claim, rule=paper().significant(rule), part=part)
    net = chain.kept_out_kg / KG_PER_T
    is_known = net.min() > 0.0
    out.put(
        "gross_claim_over_net",
        claim / net if is_known else None,
        why="why.nothing_kept_out",
        reasons=why_gross_differs(out.year, chain, claim, rule),
    )


def why_gross_differs(year: Year, chain: GrossToNet, claim_t: float, rule_kg: float) -> str:
    """Say from the numbers why the gross claim is so far from the net.

    Parameters
    ----------
    year
        Estimates of the year.
    chain
        Its steps.
    claim_t
        The gross claim [t].
    rule_kg
        Kilograms a bin and year of the rule of thumb.

    Returns
    -------
    str
        Sentences that multiply out from the claim to the net.
    """
    days = (year.counts.before_date - year.counts.from_date).days
    weeks = days / DAYS_PER_WEEK
    there = chain.bin_weeks_given / (chain.bins_given * weeks)
    full_feed = chain.given_kg[0] / chain.bin_weeks_given
    kilograms = [draws[0] for draws in chain.steps_kg.values()]
    say, steps = paper(), list(chain.steps_kg)
    left = {
        step: say.share(_divided(after, before))
        for step, (before, after) in zip(steps[1:], pairwise(kilograms), strict=True)
    }
    return say.say(
        "said.gross_differs",
        bins=round(chain.bins_given),
        rule=say.significant(rule_kg),
        claimed_week=say.number(claim_t * KG_PER_T / (chain.bins_given * weeks), 1),
        there=say.share(there),
        full_feed=say.number(full_feed, 1),
        net=say.number(kilograms[-1] / KG_PER_T, 1),
        claim=say.number(claim_t, 1),
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
