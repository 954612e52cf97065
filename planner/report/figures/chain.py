"""Figures from bins given to tonnes kept out, and the claim that a rule of thumb would make."""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING

from planner.diversion.gross_to_net import SET_UP_MONTHS, GrossToNet, gross_to_net
from planner.report.figures.declaring import Declared, number_if_known
from planner.units import DAYS_PER_WEEK, KG_PER_T, MONTHS_PER_YEAR

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from planner.report.figures.declaring import Writer
    from planner.report.year import Year

RULE = "compost_bin_kg_per_household_year"
"""Factor of the rule of thumb: what each bin given is said to divert in a year."""

SET_UP = (
    f"In use {SET_UP_MONTHS:g} month after the hand-over, by the retention curve; a second bin "
    "of a household takes no more scraps."
)
IN_USE = "Share in use at the age of each bin, by the retention curve."
GIVEN = "query:handovers_by_month retention_12_months"
STEPS = {
    "given": (
        "what all bins given would take, each in use since its hand-over",
        "",
        "Weeks since the hand-over × the feed of a settled bin in use.",
        "feed_kg_per_bin_week query:handovers_by_month",
    ),
    "set_up": ("the same of bins set up", "set up, of those given", SET_UP, "retention_12_months"),
    "in_use": (
        "the same of bins still in use",
        "still in use, of those set up",
        IN_USE,
        "retention_12_months",
    ),
    "fed": (
        "what was fed to bins",
        "fed, of what bins in use would take",
        "Less what young stocks of worms, cold or heat do not let a bin take.",
        "fed_t",
    ),
    "from_residual_bin": (
        "what of it went to the residual bin before",
        "from the residual bin, of what was fed",
        "Prior residual-bin share of each area and dwelling.",
        "landfill_share",
    ),
    "landfilled": (
        "what of it would have been landfilled",
        "landfilled, of what came from the residual bin",
        "Share of residual waste that is landfilled.",
        "landfill_share",
    ),
    "not_composted_anyway": (
        "less what would have been composted anyway",
        "not composted anyway, of what would have been landfilled",
        "From the survey where it asked, else assumed.",
        "composted_anyway_share",
    ),
    "kept_out": (
        "less what was thrown away after all: kept out of landfill",
        "kept out of landfill, of what would not have been composted anyway",
        "From the survey where it asked, else assumed. This is the net, the headline.",
        "thrown_away_share kept_out_of_landfill_t",
    ),
}
"""For each step of the chain: label, that of its share, how it comes about, what it rests on."""

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
            f"Gross to net {{in_year}}: {label}",
            "t",
            method,
            f"gross_to_net[{BEFORE[step]}] {own}" if step in BEFORE else own,
        )
        for step, (label, _, method, own) in STEPS.items()
    ),
    *(
        Declared(
            f"gross_to_net_share[{step}]",
            f"Gross to net {{in_year}}: share {of_share}",
            "share",
            f"This step over the one before it. {method}",
            OF_SHARE.get(step, f"gross_to_net[{step}] gross_to_net[{BEFORE[step]}]"),
        )
        for step, (_, of_share, method, _) in STEPS.items()
        if step in BEFORE
    ),
    Declared(
        "gross_to_net_bins[given]",
        "Bins given to date",
        "bins",
        "Counted in the register.",
        "bins_given_to_date",
    ),
    Declared("gross_to_net_bins[set_up]", "Bins that were set up", "bins", SET_UP, GIVEN),
    Declared("gross_to_net_bins[in_use]", "Bins in use {at_end}", "bins", IN_USE, GIVEN),
    Declared(
        "gross_claim_t",
        "Gross claim that a rule of thumb would make of the year",
        "t",
        "Every bin given to date × {rule:g} kg a year{part}, the rule of thumb of compost bins. "
        "Printed to show what it leaves out; no result of this program.",
        f"bins_given_to_date factor:{RULE}",
    ),
    Declared(
        "gross_claim_over_net",
        "Gross claim over tonnes kept out of landfill",
        "ratio",
        "{reasons}",
        f"gross_claim_t gross_to_net[kept_out] factor:{RULE}",
    ),
)
NOTHING_KEPT_OUT = "Not given: nothing may have been kept out of landfill."


def add_chain(out: Writer) -> None:
    """Add the chain from bins given to the net, and the gross claim beside it."""
    landfilled = out.year.program.landfill.landfilled_share_of_residual_waste
    chain = gross_to_net(out.year.diversion, out.year.counts, landfilled)
    for step, kilograms in chain.steps_kg.items():
        out.put(f"gross_to_net[{step}]", kilograms / KG_PER_T)
        if step in BEFORE:
            share = _share(kilograms, chain.steps_kg[BEFORE[step]])
            out.put(f"gross_to_net_share[{step}]", number_if_known(share))
    given = out.register["bins_given_to_date"]
    out.put("gross_to_net_bins[given]", given.value, why=given.method)
    out.put("gross_to_net_bins[set_up]", chain.bins_set_up)
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
    part = "" if months == MONTHS_PER_YEAR else f" × {months} of its 12 months"
    claim = given.value * rule * months / MONTHS_PER_YEAR / KG_PER_T
    out.put("gross_claim_t", claim, rule=rule, part=part)
    net = chain.kept_out_kg / KG_PER_T
    is_known = net.min() > 0.0
    out.put(
        "gross_claim_over_net",
        claim / net if is_known else None,
        why=NOTHING_KEPT_OUT,
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
    left = [f"{_divided(after, before):.0%}" for before, after in pairwise(kilograms)]
    claimed_week = claim_t * KG_PER_T / (chain.bins_given * weeks)
    return (
        f"The rule counts each of {chain.bins_given:,.0f} bins at {rule_kg:g} kg a year, "
        f"{claimed_week:.1f} kg a week. Bins were there for {there:.0%} of the weeks. A settled "
        f"bin in use takes {full_feed:.1f} kg a week. Of that, {left[0]} is left when bins never "
        f"set up are taken off, {left[1]} of the rest for bins still in use, {left[2]} of the rest "
        f"for what the worms could take. {left[3]} of what was fed came from the residual bin, "
        f"{left[4]} of that would have been landfilled, {left[5]} of that would not have been "
        f"composted anyway, and {left[6]} of that was not thrown away after all: "
        f"{kilograms[-1] / KG_PER_T:.1f} t, not {claim_t:.1f} t."
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
