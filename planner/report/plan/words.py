"""The plan in plain words: what to give to whom, for what, how sure, what limits it."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from planner.report.plan.figures import plan_years
from planner.report.wording import Wording, listing
from planner.units import KG_PER_T

if TYPE_CHECKING:
    from planner.figures import FigureRegister
    from planner.sizing.sizing import Sizing

OBJECTIVES = {
    "most_tonnes": "the most food scraps kept out of landfill for the budget",
    "least_cost": "the target at the least cost",
    "most_net_emissions": "the most emissions avoided for the budget",
}
NOTHING = {
    "most_tonnes": "the limits or the money leave no room for any",
    "least_cost": "the bins given before reach the target",
    "most_net_emissions": "none would avoid more than it causes, or nothing leaves room for any",
}
PLURAL = {"house": "houses", "townhouse": "townhouses", "apartment": "flats"}
MOST_BINDING = 8
LEAST_WORTH = 1.0
"""Limits that are worth less than a kilogram, or a unit of money, are not told in words."""


def decision_lines(register: FigureRegister, sizing: Sizing) -> list[str]:
    """Say the decision in a few sentences.

    Parameters
    ----------
    register
        Figures of the plan.
    sizing
        The answers.
    """
    wording = Wording.of(sizing.program)
    settings = sizing.main.settings
    return [
        _give(register, sizing, wording),
        f"Chosen for {OBJECTIVES[settings.objective]}, within every limit of program.toml.",
        *([_for_what(register, sizing, wording)] if register["plan_bins"].value else []),
        *_how_sure(register, sizing, wording),
        _next_tonne(register, wording),
        *limit_lines(register, sizing, wording),
    ]


def _give(register: FigureRegister, sizing: Sizing, wording: Wording) -> str:
    dwellings = [
        f"{wording.amount(figure)} to {PLURAL[name]}"
        for name, figure in register.parts("plan_bins_by_dwelling").items()
        if figure.value
    ]
    cost, budget = register["plan_cost"], register["plan_budget"]
    bins = register["plan_bins"]
    label = sizing.main.settings.reporting_year
    if not bins.value:
        return f"Give no bins in {label}: {NOTHING[sizing.main.settings.objective]}."
    return (
        f"Give {wording.amount(bins)} in {label}: {listing(dwellings)}. They cost "
        f"{wording.figure(cost)} of a budget of {wording.amount(budget)}."
    )


def _for_what(register: FigureRegister, sizing: Sizing, wording: Wording) -> str:
    years = sizing.main.settings.horizon_years
    return (
        f"Over {years} years they keep {wording.figure(register['plan_kept_out_t'])} out of "
        f"landfill and avoid {wording.figure(register['plan_net_t_co2e'])}, at "
        f"{wording.figure(register['plan_cost_per_t'])}. {_middle(register, wording)}"
    )


def _middle(register: FigureRegister, wording: Wording) -> str:
    """Say the median and the mean of the tonnes side by side, rounded alike."""
    central = register["plan_kept_out_t"]
    median = wording.amount(register["plan_kept_out_t[p50]"], like=central)
    mean = wording.amount(replace(central, value=central.mean), like=central)
    return (
        f"Half of the likely outcomes keep more than {median} out (the median); the mean is {mean}."
    )


def _how_sure(register: FigureRegister, sizing: Sizing, wording: Wording) -> list[str]:
    year = plan_years(sizing)[0]
    who = "all bins, those given before among them," if sizing.earlier_t.any() else "they"
    tonnes = register[f"plan_kept_out_t_in_year[{year}]"]
    lines = [f"In {year} {who} keep {wording.figure(tonnes)} out."] if tonnes.value else []
    if "plan_chance_of_target" not in register:
        return lines
    chance, needed = register["plan_chance_of_target"], register["plan_bins_needed"]
    lines.append(f"{chance.label}: {wording.amount(chance)}.")
    if needed.value == 0.0:
        lines.append(f"{needed.label}: none more, bins given before reach it.")
    elif needed.value is None:
        lines.append(f"{needed.label}: {needed.method[0].lower()}{needed.method[1:]}")
    else:
        lines.append(f"{needed.label}: {wording.amount(needed)}.")
    return lines


def _next_tonne(register: FigureRegister, wording: Wording) -> str:
    figure = register["plan_next_tonne_cost"]
    if figure.value is None:
        return "Beyond the plan no further tonne is possible within the other limits."
    return f"The next tonne beyond the plan would cost {wording.amount(figure)}."


def limit_lines(register: FigureRegister, sizing: Sizing, wording: Wording) -> list[str]:
    """Say which limits bind and what one more of each is worth."""
    lines = []
    for worth in sizing.binding[:MOST_BINDING]:
        gain_kg, saved = worth.tonnes * KG_PER_T, -worth.cost
        if max(gain_kg, saved) < LEAST_WORTH:
            continue
        gain = (
            f"{wording.number(gain_kg, 0)} kg over the horizon"
            if gain_kg >= LEAST_WORTH
            else f"{wording.money(saved)} less to spend"
        )
        where = " in some areas or rounds" if worth.limit.low.size > 1 else ""
        lines.append(
            f"Limit that binds{where}: {worth.limit.words}. One more {worth.limit.unit} is worth "
            f"{gain}."
        )
    return lines
