"""Figures of money: the ledger, levy and gate fee saved, unit costs, costs by year."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from planner.arrays import Numbers
from planner.messages import paper, said
from planner.money.appraisal import cash_flow
from planner.money.ledger import (
    Copayments,
    avoided_disposal_cost,
    copayments,
    cost_per_unit,
)
from planner.program import label_of_date, year_label
from planner.program.giveaway import label_start
from planner.report.disclosure.parts import HIDDEN, hides_part
from planner.report.inputs import key_input
from planner.units import KG_PER_T

if TYPE_CHECKING:
    from planner.report.figures.writer import Writer
    from planner.report.year import Year

NO_LEDGER = "why.no_ledger"
NO_IN_KIND = "why.no_in_kind"
NO_RATIO = "why.no_ratio"
PERIODS = ("", "_to_date")
COUNTED = {"bin_given": "bins_given", "household_served": "households_served"}
"""For each cost of one counted thing: what it is set over."""

UNIT_COSTS = {
    "cost_per_bin_in_use": ("program_cost_to_date", "bins_in_use"),
    "cost_per_t_kept_out": ("program_cost", "kept_out_of_landfill_t"),
    "cost_per_t_kept_out_to_date": ("program_cost_to_date", "kept_out_of_landfill_to_date_t"),
    "cost_per_t_co2e": ("program_cost", "emissions_avoided_100_years_t_co2e"),
    "cost_per_t_co2e_in_year": ("program_cost", "emissions_avoided_in_year_t_co2e"),
    "cost_per_t_co2e_to_date": ("program_cost_to_date", "emissions_avoided_to_date_t_co2e"),
}
"""For each cost of one of something: the cost, and what it is set over."""


def add_money(out: Writer) -> None:
    """Add the figures of money spent and not spent, in the council's currency."""
    add_ledger(out)
    _add_avoided(out)
    _add_unit_costs(out)
    add_costs_by_year(out)


def add_ledger(out: Writer) -> None:
    """Add program cost, budget, co-payments from two sides and work in kind."""
    cost, known = out.counted.cost, out.counted.cost.lines_count > 0
    ledger = out.counted.counts.costs
    for suffix, column, counter, amount in (
        ("", "amount_in_year", "lines_in_year_count", cost.in_year),
        ("_to_date", "amount_to_date", "lines_count", cost.to_date),
    ):
        lines = int(ledger[counter].sum())
        out.put(f"program_cost{suffix}", amount if known else None, why=NO_LEDGER, lines=lines)
        for category, part, count in ledger.select("category", column, counter).iter_rows():
            words = {"category": category, "category_words": said(f"category.{category}")}
            out.put(f"program_cost{suffix}[{{category}}]", part, words, lines=count)
    _add_budget(out)
    _add_copayments(out)
    _add_in_kind(out)


def _add_budget(out: Writer) -> None:
    cost, budget = out.counted.cost, out.counted.reporting_year.budget
    if budget is None:
        return
    known = cost.lines_count > 0
    running = said("said.still_running") if out.counted.counts.is_running else ""
    left = budget - cost.in_year if known else None
    share = cost.in_year / budget if known and budget else None
    out.put("budget", budget)
    out.put("budget_remaining", left, why=NO_LEDGER, running=running)
    why = "why.no_budget" if known else NO_LEDGER
    out.put("budget_spent_share", share, why=why, running=running)


def _add_copayments(out: Writer) -> None:
    costs, paid = out.counted.counts.costs, out.counted.counts.copayments
    in_year, to_date = (copayments(costs, paid, period) for period in ("in_year", "to_date"))
    hides = hides_part(in_year.payers_count, in_year.bins_count, out.threshold)
    hides_to_date = hides_part(to_date.payers_count, to_date.bins_count, out.threshold)
    hides_to_date |= hides_part(in_year.payers_count, to_date.payers_count, out.threshold)
    # whoever subtracts what an issue says finds what those pay whose bins are held back
    held, held_to_date = (out.register[f"bins_given{one}"].value is None for one in PERIODS)
    _add_copayments_of(out, "", in_year, hides=hides or held)
    _add_copayments_of(out, "_to_date", to_date, hides=hides or hides_to_date or held_to_date)


def _add_copayments_of(out: Writer, suffix: str, sums: Copayments, *, hides: bool) -> None:
    has_ledger = out.counted.cost.lines_count > 0
    why = HIDDEN if hides else NO_LEDGER
    in_ledger = sums.in_ledger if has_ledger else None
    out.put(f"copayments_in_ledger{suffix}", in_ledger, why=NO_LEDGER)
    out.put(f"copayments_at_handover{suffix}", sums.at_handover, hides=hides)
    gap = sums.difference if has_ledger and not hides else None
    out.put(f"copayments_difference{suffix}", gap, why=why, said=_difference_words(sums))


def _difference_words(sums: Copayments) -> str:
    """Say what the two sides of the co-payments differ by, and where to look."""
    if round(sums.difference, 2) == 0.0:
        return said("said.copayments.agree")
    if sums.in_ledger < 0.0:
        return said("said.copayments.turned")
    if sums.in_ledger == 0.0:
        return said("said.copayments.none")
    less = "less" if sums.difference < 0.0 else "more"
    return f"{said(f'said.copayments.{less}')} {said('how.not_a_cost')}"


def _add_in_kind(out: Writer) -> None:
    label = out.counted.reporting_year.reporting_year
    works = [work for work in out.counted.program.in_kind if work.reporting_year == label]
    hours = sum(work.hours for work in works)
    worth = sum(work.hours * work.rate_per_hour for work in works)
    number = paper().significant
    keys = [
        key_input(
            f"in_kind.{one.work}",
            said("input.in_kind", hours=number(one.hours), rate=number(one.rate_per_hour)),
        )
        for one in works
    ]
    known = out.counted.cost.lines_count > 0
    whole = out.counted.cost.in_year + worth if known and works else None
    out.put("in_kind_hours", hours if works else None, why=NO_IN_KIND, also=keys)
    out.put("in_kind_cost", worth if works else None, why=NO_IN_KIND, also=keys)
    out.put("program_cost_with_in_kind", whole, why=NO_LEDGER if works else NO_IN_KIND)


def _add_avoided(out: Writer) -> None:
    prices, (in_year, _) = out.year.reporting_year, _kept_out_t(out.year)
    levy, fee = prices.landfill_levy_per_t, prices.gate_fee_per_t
    avoided = avoided_disposal_cost(in_year, levy, fee)
    out.put("avoided_disposal_cost", avoided)
    out.put("avoided_levy", avoided_disposal_cost(in_year, levy, 0.0))
    out.put("avoided_gate_fee", avoided_disposal_cost(in_year, fee, 0.0))
    net = out.year.cost.in_year - avoided if out.year.cost.lines_count else None
    out.put("net_program_cost", net, why=NO_LEDGER)


def _kept_out_t(year: Year) -> tuple[Numbers, Numbers]:
    kept_out = year.diversion.kept_out_kg / KG_PER_T
    months = year.diversion.cohorts.months_from(year.counts.from_date)
    return kept_out[:, months].sum(axis=1), kept_out.sum(axis=1)


def _add_unit_costs(out: Writer) -> None:
    for name, counted in COUNTED.items():
        for suffix in PERIODS:
            cost, count = (out.register[f"{one}{suffix}"] for one in ("program_cost", counted))
            is_known = cost.value is not None and count.value
            why = NO_LEDGER if cost.value is None else NO_RATIO
            why = count.method if count.value is None else why
            ratio = (cost.value or 0.0) / (count.value or 1.0) if is_known else None
            out.put(f"cost_per_{name}{suffix}", ratio, why=why)
    avoided, (in_year, to_date) = out.year.emissions, _kept_out_t(out.year)
    quantities = {
        "bins_in_use": out.year.diversion.bins_in_use[:, -1],
        "kept_out_of_landfill_t": in_year,
        "kept_out_of_landfill_to_date_t": to_date,
        "emissions_avoided_100_years_t_co2e": avoided.over_100_years.net_t_co2e,
        "emissions_avoided_in_year_t_co2e": avoided.in_year.net_t_co2e,
        "emissions_avoided_to_date_t_co2e": avoided.to_date.net_t_co2e,
    }
    costs = {"program_cost": out.year.cost.in_year, "program_cost_to_date": out.year.cost.to_date}
    for name, (cost_id, quantity_id) in UNIT_COSTS.items():
        out.put(name, cost_per_unit(costs[cost_id], quantities[quantity_id]), why=NO_RATIO)


def add_costs_by_year(out: Writer) -> None:
    """Add the cost of each year and of all years up to it, over the tonnes of the same time."""
    first_month = out.year.program.council.reporting_year_first_month
    labels = [label_of_date(day, first_month) for day in out.year.diversion.cohorts.months]
    is_known = not out.year.counts.costs_by_month.is_empty()
    kept_out = out.year.diversion.kept_out_kg / KG_PER_T
    spent, tonnes = 0.0, np.zeros(kept_out.shape[0])
    for label, cost in _cost_by_label(out.year, labels).items():
        of_year = kept_out[:, [one == label for one in labels]].sum(axis=1)
        spent, tonnes = spent + cost, tonnes + of_year
        known = cost if is_known else None
        out.put("program_cost_by_year[{label}]", known, why=NO_LEDGER, label=label)
        for name, per_t in (
            ("cost_per_t_kept_out_by_year", cost_per_unit(cost, of_year)),
            ("cost_per_t_kept_out_through_year", cost_per_unit(spent, tonnes)),
        ):
            out.put(f"{name}[{{label}}]", per_t, why=NO_RATIO, label=label)


def _cost_by_label(year: Year, labels: list[str]) -> dict[str, float]:
    ledger = year.counts.costs_by_month
    first_month = year.program.council.reporting_year_first_month
    named = {label_of_date(month, first_month) for month in ledger["cost_month"]}
    years = sorted({label_start(label) or 0 for label in (*named, *labels)})
    sums = cash_flow(ledger, years, first_month)
    return {year_label(n, first_month): float(sum_) for n, sum_ in zip(years, sums, strict=True)}
