"""Figures for the decision: net cost of a tonne, other ways, the target, the plan to come."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from planner.messages import paper
from planner.money import cost_per_unit
from planner.report.appraising import appraise
from planner.report.figures.declaring import Declared
from planner.report.figures.money import NO_LEDGER
from planner.report.figures.present_value import NO_TONNES, PRICES
from planner.report.inputs import of_key
from planner.units import KG_PER_T

if TYPE_CHECKING:
    from planner.figures import FigureRegister
    from planner.report.figures.declaring import Writer

PRICE = "key:reporting_years.landfill_levy_per_t key:reporting_years.gate_fee_per_t"
TARGET_T = "kept_out_of_landfill_t"
QUANTILES = (50, 80)
"""Middle shares of the draws that a graded band shows inside the 95% interval [%]."""


PLANNED_AHEAD = {
    "next_plan_bins": ("bins", "plan_bins"),
    "next_plan_cost": ("{currency}", "plan_cost"),
    "next_plan_kept_out_t": ("t", "plan_kept_out_t_in_year[{year}]"),
}
"""Figures of the plan for the year to come: unit, and the id in the plan."""

FIGURES = (
    Declared("disposal_price_per_t", "{currency} per t", PRICE),
    Declared(
        "fees_saved_per_t_service_life",
        "{currency} per t",
        f"kept_out_of_landfill_t_service_life {PRICES}",
    ),
    Declared(
        "net_cost_per_t_kept_out_service_life",
        "{currency} per t",
        "cost_per_t_kept_out_service_life fees_saved_per_t_service_life",
    ),
    Declared("same_money_t", "t", "program_cost cost_per_t_kept_out_service_life"),
    Declared("other_way_cost_per_t[{way}]", "{currency} per t"),
    Declared(
        "other_way_net_cost_per_t[{way}]",
        "{currency} per t",
        "other_way_cost_per_t[{way}] disposal_price_per_t",
    ),
    Declared("other_way_t[{way}]", "t", "program_cost other_way_cost_per_t[{way}]"),
    Declared("target_reached_share[{of}]", "share", "{of} {of}_target"),
    Declared("middle_range_t[{percent}]", "t", TARGET_T),
    *(Declared(name, unit, method="plan_ahead") for name, (unit, _) in PLANNED_AHEAD.items()),
)


def add_worth(out: Writer, plan_ahead: FigureRegister | None = None) -> None:
    """Add what councillors weigh: cost of a tonne after fees, other ways, the target.

    Parameters
    ----------
    out
        Takes the figures; it has those of tonnes and money.
    plan_ahead
        Figures of the plan for the year to come, where there is one.
    """
    price = out.year.reporting_year
    price_per_t = price.landfill_levy_per_t + price.gate_fee_per_t
    out.put("disposal_price_per_t", price_per_t)
    _add_life(out)
    _add_other_ways(out, price_per_t)
    _add_target(out)
    _add_plan_ahead(out, plan_ahead)


def _add_life(out: Writer) -> None:
    year = out.year
    kept_out_kg = year.diversion.kept_out_kg
    by_month = year.counts.costs_by_month
    found = appraise(year.program, year.diversion.cohorts, kept_out_kg, year.carried, by_month)
    tonnes, saved = found.kept_out_t.sum(axis=1), found.avoided.sum(axis=1)
    cost = np.broadcast_to(found.cost, found.kept_out_t.shape).sum(axis=1)
    known = year.cost.lines_count > 0
    why = NO_TONNES if known else NO_LEDGER
    out.put("fees_saved_per_t_service_life", cost_per_unit(saved, tonnes), why=NO_TONNES)
    net = cost_per_unit(cost - saved, tonnes) if known else None
    out.put("net_cost_per_t_kept_out_service_life", net, why=why)
    per_t = cost_per_unit(cost, tonnes) if known else None
    is_positive = per_t is not None and bool((per_t > 0.0).all())
    same = year.cost.in_year / per_t if is_positive and per_t is not None else None
    out.put("same_money_t", same, why=why)


def _add_other_ways(out: Writer, price_per_t: float) -> None:
    spent = out.year.cost.in_year if out.year.cost.lines_count else None
    for way in out.year.program.other_ways:
        words = {"way": way.name, "source": way.source}
        also = (of_key("other_ways.cost_per_t", f"{way.name}: {way.cost_per_t:g}"),)
        low, high = way.cost_per_t_low, way.cost_per_t_high
        out.put("other_way_cost_per_t[{way}]", (way.cost_per_t, low, high), words, also=also)
        gross = (way.cost_per_t, low, high)
        value, least, most = (None if one is None else one - price_per_t for one in gross)
        spread = (value or 0.0, least, most)
        out.put("other_way_net_cost_per_t[{way}]", spread, words)
        tonnes = None if spent is None else _over(spent, way.cost_per_t, low, high)
        out.put("other_way_t[{way}]", tonnes, words, why=NO_LEDGER)


def _over(
    spent: float, cost: float, low: float | None, high: float | None
) -> tuple[float, float | None, float | None]:
    """Tonnes for a sum; a dearer tonne gives fewer."""
    if low is None or high is None:
        return spent / cost, None, None
    return spent / cost, spent / high, spent / low


def _add_target(out: Writer) -> None:
    """Add the chance that a closed year reached its target, and the middle ranges."""
    kept_out = out.year.diversion.kept_out_kg / KG_PER_T
    months = out.year.diversion.cohorts.months_from(out.year.counts.from_date)
    tonnes = kept_out[:, months].sum(axis=1)
    for percent in QUANTILES:
        tail = (1.0 - percent / 100.0) / 2.0
        low, high = (float(one) for one in np.quantile(tonnes[1:], (tail, 1.0 - tail)))
        out.put("middle_range_t[{percent}]", (float(tonnes[0]), low, high), percent=percent)
    target = out.year.reporting_year.kept_out_of_landfill_t_target
    if target is not None and not out.year.counts.is_running:
        chance = float(np.mean(tonnes[1:] >= target))
        words = {"of": TARGET_T, "of_words": paper().say("said.target_kept_out")}
        out.put("target_reached_share[{of}]", chance, words)


def _add_plan_ahead(out: Writer, plan: FigureRegister | None) -> None:
    if plan is None:
        return
    for name, (_, pattern) in PLANNED_AHEAD.items():
        plan_id = pattern.format(year=plan.reporting_year)
        if plan_id in plan and plan[plan_id].value is not None:
            one = plan[plan_id]
            spread = (one.value or 0.0, one.low, one.high)
            out.put(name, spread, year=plan.reporting_year)
