"""The plan in plain words: what to give to whom, for what, how sure, what limits it."""

from __future__ import annotations

import re
from dataclasses import replace
from typing import TYPE_CHECKING

from planner.figures import Figure, FigureRegister
from planner.messages import said
from planner.program.giveaway import label_start, year_label
from planner.report.wording import Wording, known_words, listing
from planner.report.workbook.formats import headed
from planner.units import KG_PER_T

if TYPE_CHECKING:
    from planner.sizing.sizing import Sizing

LEAST_WORTH = 1.0
"""Limits that are worth less than a kilogram, or a unit of money, are not told in words."""


def columns(names: str) -> tuple[str, ...]:
    """Head the columns of a table of a plan."""
    return headed("plan.column.", names)


def named(kind: str, name: str) -> str:
    """Name a scenario or a driver of the planner's own; leave the council's as they are."""
    return known_words(f"plan.{kind}.{re.sub('[^a-z0-9]+', '_', name.lower())}", name)


def plan_years(sizing: Sizing) -> tuple[str, ...]:
    """Labels of the reporting years of the horizon."""
    settings = sizing.main.settings
    first = label_start(settings.reporting_year) or 0
    month = sizing.program.council.reporting_year_first_month
    return tuple(year_label(first + n, month) for n in range(settings.horizon_years))


def unit_words(unit: str, wording: Wording) -> str:
    """Name the unit of a number that stands alone: money by its letters, a share as a share."""
    if unit in ("share", "ratio"):
        return said(f"plan.unit.{unit}")
    figure = Figure("", "", None, None, None, unit, "")
    words = wording.unit(figure)
    return f"{wording.currency} {words}".rstrip() if wording.is_money(figure) else words


def decision_lines(register: FigureRegister, sizing: Sizing, wording: Wording) -> list[str]:
    """Say the decision in a few sentences."""
    settings = sizing.main.settings
    return [
        _give(register, sizing, wording),
        said(f"plan.objective.{settings.objective}"),
        *([_for_what(register, sizing, wording)] if register["plan_bins"].value else []),
        *_how_sure(register, sizing, wording),
        _next_tonne(register, wording),
        *limit_lines(sizing, wording),
    ]


def _give(register: FigureRegister, sizing: Sizing, wording: Wording) -> str:
    dwellings = [
        said(f"plan.give_to.{name}", bins=wording.amount(figure))
        for name, figure in register.parts("plan_bins_by_dwelling").items()
        if figure.value
    ]
    cost, budget = register["plan_cost"], register["plan_budget"]
    bins = register["plan_bins"]
    label = sizing.main.settings.reporting_year
    if not bins.value:
        return said(f"plan.nothing.{sizing.main.settings.objective}", year=label)
    return said(
        "plan.give",
        bins=wording.amount(bins),
        year=label,
        dwellings=listing(dwellings),
        cost=wording.figure(cost),
        budget=wording.amount(budget),
    )


def _for_what(register: FigureRegister, sizing: Sizing, wording: Wording) -> str:
    net = register["plan_net_t_co2e"]
    is_more_caused = net.value is not None and net.value < 0.0
    if is_more_caused:
        ends = (net.value, net.high, net.low, net.mean)
        value, low, high, mean = (None if one is None else -one for one in ends)
        net = replace(net, value=value, low=low, high=high, mean=mean)
    return said(
        "plan.for_what_more_caused" if is_more_caused else "plan.for_what",
        years=sizing.main.settings.horizon_years,
        tonnes=wording.figure(register["plan_kept_out_t"]),
        emissions=wording.figure(net),
        cost=wording.figure(register["plan_cost_per_t"]),
    )


def _how_sure(register: FigureRegister, sizing: Sizing, wording: Wording) -> list[str]:
    year = plan_years(sizing)[0]
    key = "plan.in_year_all" if sizing.earlier_t.any() else "plan.in_year"
    tonnes = register[f"plan_kept_out_t_in_year[{year}]"]
    lines = [said(key, year=year, tonnes=wording.figure(tonnes))] if tonnes.value else []
    if "plan_chance_of_target" not in register:
        return lines
    chance, needed = register["plan_chance_of_target"], register["plan_bins_needed"]
    told = wording.chance(chance.value or 0.0)
    lines.append(said("plan.told", label=chance.label, amount=told))
    if needed.value == 0.0:
        lines.append(said("plan.needs_none", label=needed.label))
    elif needed.value is None:
        lines.append(needed.method)
    else:
        lines.append(said("plan.told", label=needed.label, amount=wording.amount(needed)))
    return lines


def _next_tonne(register: FigureRegister, wording: Wording) -> str:
    figure = register["plan_next_tonne_cost"]
    if figure.value is None:
        return said("plan.no_next_tonne")
    return said("plan.next_tonne", cost=wording.amount(figure))


def limit_lines(sizing: Sizing, wording: Wording) -> list[str]:
    """Say which limits bind and what one more of each is worth."""
    lines = []
    for worth in sizing.binding[:8]:
        gain_kg, saved = worth.tonnes * KG_PER_T, -worth.cost
        if max(gain_kg, saved) < LEAST_WORTH:
            continue
        gain = (
            said("plan.worth_kg", kilos=wording.number(gain_kg, 0))
            if gain_kg >= LEAST_WORTH
            else said("plan.worth_money", amount=wording.money(saved))
        )
        key = "plan.binds_somewhere" if worth.limit.low.size > 1 else "plan.binds"
        lines.append(said(key, limit=worth.limit.words, unit=worth.limit.unit, gain=gain))
    return lines
