"""Figures for deciding: cost of a tonne, other ways, the target, going on, emissions at a price."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from planner.emissions.timeline import net_by_year_t_co2e
from planner.figures import FigureRegister, Input
from planner.messages import paper, said
from planner.money.appraisal import Appraisal
from planner.money.ledger import carbon_worth, cost_per_unit
from planner.report.appraising import (
    appraise_another_year,
    appraise_to_come,
    discount_rates,
    labels,
    year_starts,
)
from planner.report.disclosure.parts import HIDDEN
from planner.report.figures.money import NO_LEDGER
from planner.report.figures.present_value import (
    NO_TONNES,
    appraise_program,
    rate_inputs,
    rate_words,
)
from planner.report.figures.writer import Writer, number_if_known
from planner.report.inputs import key_input
from planner.report.wording import labelled
from planner.units import KG_PER_T

PLANNED_AHEAD = {
    "next_plan_bins": "plan_bins",
    "next_plan_cost": "plan_cost",
    "next_plan_kept_out_t": "plan_kept_out_t_in_year[{year}]",
}
"""Figures of the plan for the year to come, and the id of each in the plan."""


def add_worth(out: Writer, plan_ahead: FigureRegister | None = None) -> None:
    """Add what councillors weigh: cost of a tonne after fees, other ways, the target, a plan."""
    price = out.year.reporting_year
    price_per_t = price.landfill_levy_per_t + price.gate_fee_per_t
    out.put("disposal_price_per_t", price_per_t)
    _add_life(out)
    _add_other_ways(out, price_per_t)
    _add_target(out)
    _add_plan_ahead(out, plan_ahead)


def _add_life(out: Writer) -> None:
    year = out.year
    found = appraise_program(year)
    tonnes, saved = found.kept_out_t.sum(axis=1), found.avoided.sum(axis=1)
    cost = np.broadcast_to(found.cost, found.kept_out_t.shape).sum(axis=1)
    known = year.cost.lines_count > 0
    why = NO_TONNES if known else NO_LEDGER
    fees = cost_per_unit(saved, tonnes) if saved.any() else 0.0
    out.put("fees_saved_per_t_service_life", fees, why=NO_TONNES)
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
        amount = paper().significant(way.cost_per_t)
        also = (key_input("other_ways.cost_per_t", labelled(way.name, amount)),)
        low, high = way.cost_per_t_low, way.cost_per_t_high
        # what the council states is shown to its last digit, and its range with the net cost
        out.put("other_way_cost_per_t[{way}]", way.cost_per_t, words, also=also)
        least, most = (None if one is None else one - price_per_t for one in (low, high))
        net = (way.cost_per_t - price_per_t, least, most)
        out.put("other_way_net_cost_per_t[{way}]", net, words)
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
    tonnes = (out.year.diversion.kept_out_kg / KG_PER_T)[:, out.months].sum(axis=1)
    for percent in (50, 80):
        tail = (1.0 - percent / 100.0) / 2.0
        low, high = (float(one) for one in np.quantile(tonnes[1:], (tail, 1.0 - tail)))
        out.put("middle_range_t[{percent}]", (float(tonnes[0]), low, high), percent=percent)
    target = out.year.reporting_year.kept_out_of_landfill_t_target
    if target is not None and not out.year.counts.is_running:
        chance = float(np.mean(tonnes[1:] >= target))
        words = {"of": "kept_out_of_landfill_t", "of_words": said("said.target_kept_out")}
        out.put("target_reached_share[{of}]", chance, words)


def _add_plan_ahead(out: Writer, plan: FigureRegister | None) -> None:
    if plan is None:
        return
    for name, pattern in PLANNED_AHEAD.items():
        plan_id = pattern.format(year=plan.reporting_year)
        if plan_id in plan and plan[plan_id].value is not None:
            one = plan[plan_id]
            spread = (one.value or 0.0, one.low, one.high)
            out.put(name, spread, year=plan.reporting_year)


def add_choices(out: Writer) -> None:
    """Add what is to be decided at each discount rate."""
    year = out.year
    to_come = appraise_to_come(year.program, year.carried)
    again, is_shown = to_come, out.register["bins_given"].value is not None
    if year.again is not None:
        again = appraise_another_year(year.program, year.again, year.cost.in_year)
    why = "why.no_bins" if year.again is None else "" if is_shown else HIDDEN
    no_ledger = "" if year.cost.lines_count else NO_LEDGER
    for rate, factor in discount_rates(year.program, year.factor_table).items():
        also = rate_inputs(year, rate, factor)
        _put(out, "{}_to_come", to_come, rate, also)
        _put(out, "another_year_{}", again, rate, also, why, no_ledger)
        _put_as_surveyed(out, rate, also)
        _put_carbon(out, rate, also)


def _put(
    out: Writer,
    name: str,
    appraisal: Appraisal,
    rate: float,
    also: tuple[Input, ...],
    why: str = "",
    why_no_cost: str = "",
) -> None:
    """Put benefits, costs and what is left of them, or why they, or the costs, are not there."""
    words = rate_words(out.year, rate, labels(appraisal, out.year.program)[0])
    for part, draws, lacks in (
        ("benefits", appraisal.present_value_of_benefits(rate), why),
        ("costs", number_if_known(appraisal.present_value_of_costs(rate)), why or why_no_cost),
        ("net_value", appraisal.net_present_value(rate), why or why_no_cost),
    ):
        found, inputs = (None, ()) if lacks else (draws, also)
        out.put(f"{name.format(part)}[{{rate}}]", found, words, why=lacks, also=inputs)


def _put_as_surveyed(out: Writer, rate: float, also: tuple[Input, ...]) -> None:
    year = out.year
    if year.carried_as_surveyed is None:
        return
    without = year.program.model_copy(update={"scenarios": ()})
    appraisal = appraise_program(replace(year, program=without, carried=year.carried_as_surveyed))
    words = rate_words(year, rate, labels(appraisal, year.program)[0])
    known = year.cost.lines_count > 0
    value = appraisal.net_present_value(rate) if known else None
    figure_id = "net_present_value_as_surveyed[{rate}]"
    out.put(figure_id, value, words, why=NO_LEDGER, also=also)


def _put_carbon(out: Writer, rate: float, also: tuple[Input, ...]) -> None:
    """Add the worth of emissions avoided where the program file states a carbon value."""
    year, stated = out.year, out.year.program.money.carbon_value
    if stated is None:
        return
    given, carried = year.diversion.cohorts, year.carried
    years, starts = year_starts(year.program, (*given.months, *carried.months))
    fed_kg, kept_out_kg = (
        np.hstack([measured, to_come])
        for measured, to_come in (
            (year.diversion.fed_kg, carried.fed_kg),
            (year.diversion.kept_out_kg, carried.kept_out_kg),
        )
    )
    supplies = year.activity.supplies
    net = net_by_year_t_co2e(kept_out_kg, fed_kg, supplies, year.emission_factors, starts)
    appraisal, inflation = appraise_program(year), year.program.money.inflation_share
    # the ledger may begin in a year before the first bin
    late = years[0] - appraisal.years[0]
    net = np.hstack([np.zeros((net.shape[0], late)), net])
    since = appraisal.years[0] - stated.price_year
    worth = carbon_worth(net, stated.per_t_co2e, since, stated.rise_share, inflation, rate)
    words = rate_words(year, rate, labels(appraisal, year.program)[0])
    told = {"year": str(stated.price_year), "source": stated.source}
    told["amount"] = paper().significant(stated.per_t_co2e)
    named = said("said.carbon_value", **told, rise=paper().share(stated.rise_share, 1))
    key = key_input("money.carbon_value", named)
    out.put("carbon_worth[{rate}]", worth, {**words, "source": named}, also=(*also, key))
    whole = appraisal.net_present_value(rate) + worth if year.cost.lines_count else None
    out.put("net_present_value_with_carbon[{rate}]", whole, words, why=NO_LEDGER, also=(key,))
