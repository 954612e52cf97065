"""Figures from bins given to tonnes kept out, and the claim that a rule of thumb would make."""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING

from planner.diversion.gross_to_net import SET_UP_MONTHS, GrossToNet, gross_to_net
from planner.figures import Figure
from planner.report.exact import add_known
from planner.report.inputs import of_factors, of_figures, of_query
from planner.units import DAYS_PER_WEEK, KG_PER_T, MONTHS_PER_YEAR

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from planner.figures import FigureRegister, Input
    from planner.report.year import Year

RULE = "compost_bin_kg_per_household_year"
"""Factor of the rule of thumb: what each bin given is said to divert in a year."""

SET_UP = (
    f"In use {SET_UP_MONTHS:g} month after the hand-over, by the retention curve; a second bin "
    "of a household takes no more scraps."
)
STEPS = {
    "given": (
        "what all bins given would take, each in use since its hand-over",
        "",
        "Weeks since the hand-over × the feed of a settled bin in use.",
    ),
    "set_up": ("the same of bins set up", "set up, of those given", SET_UP),
    "in_use": (
        "the same of bins still in use",
        "still in use, of those set up",
        "Share in use at the age of each bin, by the retention curve.",
    ),
    "fed": (
        "what was fed to bins",
        "fed, of what bins in use would take",
        "Less what young stocks of worms, cold or heat do not let a bin take.",
    ),
    "from_residual_bin": (
        "what of it went to the residual bin before",
        "from the residual bin, of what was fed",
        "Prior residual-bin share of each area and dwelling.",
    ),
    "landfilled": (
        "what of it was landfilled before: kept out of landfill",
        "landfilled, of what came from the residual bin",
        "Share of residual waste that is landfilled. This is the net, the headline.",
    ),
}
"""For each step of the chain: its label, that of its share, and how it comes about."""

BINS = {"set_up": "Bins that were set up", "in_use": "Bins in use at the end of the year"}

CLAIM = (
    "Every bin given to date × {rule:g} kg a year{part}, the rule of thumb of compost bins. "
    "Printed to show what it leaves out; no result of this program."
)


def add_gross_to_net(register: FigureRegister, year: Year) -> None:
    """Add the chain from bins given to the net, and the gross claim beside it."""
    chain = gross_to_net(year.diversion, year.counts)
    _add_tonnes(register, chain)
    _add_bins(register, year, chain)
    _add_claim(register, year, chain)


def _add_tonnes(register: FigureRegister, chain: GrossToNet) -> None:
    before = ""
    for step, kilograms in chain.steps_kg.items():
        label, of_share, method = STEPS[step]
        register.add_draws(
            f"gross_to_net[{step}]",
            f"Gross to net in the year: {label}",
            kilograms / KG_PER_T,
            "t",
            method,
            _chain_inputs(step, before),
        )
        if before:
            add_known(
                register,
                f"gross_to_net_share[{step}]",
                f"Gross to net in the year: share {of_share}",
                _share(kilograms, chain.steps_kg[before]),
                "share",
                f"This step over the one before it. {method}",
                of_figures(f"gross_to_net[{step}]", f"gross_to_net[{before}]"),
            )
        before = step


def _chain_inputs(step: str, before: str) -> tuple[Input, ...]:
    """Each step rests on the one before it and on what takes its part off."""
    own = {
        "given": ("feed_kg_per_bin_week",),
        "set_up": ("retention_12_months",),
        "in_use": ("retention_12_months",),
        "fed": ("fed_t",),
        "from_residual_bin": ("landfill_share",),
        "landfilled": ("kept_out_of_landfill_t",),
    }
    return of_figures(*([f"gross_to_net[{before}]"] if before else []), *own[step])


def _add_bins(register: FigureRegister, year: Year, chain: GrossToNet) -> None:
    given = register["bins_given_to_date"]
    register.add_exact(
        "gross_to_net_bins[given]",
        "Bins given to date",
        given.value,
        "bins",
        given.method,
        () if given.value is None else of_figures(given.id),
    )
    for step, bins in (("set_up", chain.bins_set_up), ("in_use", chain.bins_in_use)):
        register.add_draws(
            f"gross_to_net_bins[{step}]",
            BINS[step],
            bins,
            "bins",
            STEPS[step][-1],
            (
                of_query("handovers_by_month", year.counts.handovers),
                *of_figures("retention_12_months"),
            ),
        )


def _add_claim(register: FigureRegister, year: Year, chain: GrossToNet) -> None:
    rule = year.factor_table.find(RULE)
    of_rule, given = of_factors(year.factor_table, [rule]), register["bins_given_to_date"]
    name, label = "gross_claim_t", "Gross claim that a rule of thumb would make of the year"
    over, ratio = "gross_claim_over_net", "Gross claim over tonnes kept out of landfill"
    if given.value is None:
        for one, words, unit in ((name, label, "t"), (over, ratio, "ratio")):
            register.add(Figure(one, words, None, None, None, unit, given.method))
        return
    months = _months_counted(year)
    part = "" if months == MONTHS_PER_YEAR else f" × {months} of its 12 months"
    claim = given.value * rule.value * months / MONTHS_PER_YEAR / KG_PER_T
    method = CLAIM.format(rule=rule.value, part=part)
    register.add_exact(name, label, claim, "t", method, (*of_figures(given.id), *of_rule))
    net = chain.landfilled_kg / KG_PER_T
    inputs = (*of_figures(name, "gross_to_net[landfilled]"), *of_rule)
    if net.min() <= 0.0:
        reason = "Not given: nothing may have been kept out of landfill."
        register.add(Figure(over, ratio, None, None, None, "ratio", reason, inputs))
        return
    register.add_draws(
        over, ratio, claim / net, "ratio", why_gross_differs(year, chain, claim, rule.value), inputs
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
        f"for what the worms could take. {left[3]} of what was fed came from the residual bin, and "
        f"{left[4]} of that was landfilled: {kilograms[-1] / KG_PER_T:.1f} t, not {claim_t:.1f} t."
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
