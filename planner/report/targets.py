"""How a result stands to its target: judged where the year has closed, a chance while it runs."""

from __future__ import annotations

from typing import TYPE_CHECKING, Literal

from planner.figures import Figure, FigureRegister
from planner.messages import paper, said

if TYPE_CHECKING:
    from planner.report.wording import Wording

Result = Literal["above", "on", "below"]

LIKELY, UNLIKELY = 0.66, 0.33
"""Chances that are called likely and unlikely.

Mastrandrea et al., Guidance note for lead authors of the IPCC Fifth Assessment Report on
consistent treatment of uncertainties, 2010, table 1; from memory.
"""


def verdict(register: FigureRegister, figure_id: str, target: float) -> Result | None:
    """Judge a figure against its target; None where it has no value or the year still runs.

    What is reached stays reached, so a running year may have reached a target; it cannot
    have missed one.
    """
    figure = register[figure_id]
    reached = register.find(f"target_reached_share[{figure_id}]")
    if not register.through_date:
        return against_target(figure, target, reached.value if reached else None)
    least = figure.value if figure.low is None else figure.low
    if least is None or least < target:
        return None
    return against_target(figure, target)


def chance_of(register: FigureRegister, figure_id: str) -> Figure | None:
    """Find the chance that a running year reaches a target, or that a closed one reached it."""
    ahead = register.find(f"on_track_share[{figure_id}]")
    return ahead or register.find(f"target_reached_share[{figure_id}]")


def verdict_words(register: FigureRegister, figure_id: str, target: float, wording: Wording) -> str:
    """Say how a result stands to its target, with the chance that it was or will be reached."""
    result, chance = verdict(register, figure_id, target), chance_of(register, figure_id)
    if result is None:
        return pace_words(chance, wording) if chance else wording.absent(register[figure_id])
    words = said(f"report.judged.{result}")
    if chance is None or chance.value is None or register.through_date:
        return words
    sentence = paper().text("report.judged.with_chance").replace("{chance:chance}", "{chance}")
    return sentence.format(judged=words, chance=wording.chance(chance.value))


def pace_words(chance: Figure, wording: Wording) -> str:
    """Say how a running year stands to a target.

    Examples
    --------
    >>> from planner.report.wording import Wording
    >>> pace_words(Figure("", "", 0.83, None, None, "share", ""), Wording("en_GB"))
    'on track: the chance of reaching it is 83%'
    """
    share = chance.value or 0.0
    state = "on_track" if share >= LIKELY else "behind" if share < UNLIKELY else "open"
    return said(f"report.judged.{state}", chance=wording.chance(share))


def against_target(figure: Figure, target: float, chance: float | None = None) -> Result | None:
    """Judge a result against a target in its unit; None where the figure has no value.

    An estimate is above its target where it is likely that the target was reached, below
    where that is unlikely, and on target in between. Without a `chance` of that, from 0 to 1, the
    interval decides: above or below where all of it is. A count is above, on or below as it is.

    Examples
    --------
    >>> against_target(Figure("", "", 7.9, 6.1, 9.8, "t", ""), 8.0, 0.46)
    'on'
    """
    if figure.value is None:
        return None
    if figure.low is None or figure.high is None:
        if figure.value == target:
            return "on"
        return "above" if figure.value > target else "below"
    if chance is None:
        chance = 1.0 if figure.low >= target else 0.0 if figure.high < target else 0.5
    if chance >= LIKELY:
        return "above"
    return "below" if chance <= UNLIKELY else "on"


def against_budget(cost: float, budget: float) -> str:
    """Judge a cost of the ledger against the budget."""
    return said("number.within_budget" if cost <= budget else "number.over_budget")
