"""How a result stands to its target: judged where the year has closed, a chance while it runs."""

from __future__ import annotations

from typing import TYPE_CHECKING

from planner.messages import paper
from planner.report.wording import LIKELY, UNLIKELY, absent, against_target

if TYPE_CHECKING:
    from planner.figures import Figure, FigureRegister
    from planner.report.wording import Result, Wording


def verdict(register: FigureRegister, figure_id: str, target: float) -> Result | None:
    """Judge a figure against its target; None where it has no value or the year still runs.

    What is reached stays reached, so a running year may have reached a target; it cannot
    have missed one.
    """
    figure = register[figure_id]
    reached = _part(register, f"target_reached_share[{figure_id}]")
    if not register.through_date:
        return against_target(figure, target, reached.value if reached else None)
    least = figure.value if figure.low is None else figure.low
    if least is None or least < target:
        return None
    return against_target(figure, target)


def chance_of(register: FigureRegister, figure_id: str) -> Figure | None:
    """Find the chance that a running year reaches a target, or that a closed one reached it."""
    ahead = _part(register, f"on_track_share[{figure_id}]")
    return ahead or _part(register, f"target_reached_share[{figure_id}]")


def _part(register: FigureRegister, name: str) -> Figure | None:
    return next((figure for figure in register if figure.id == name), None)


def judged(register: FigureRegister, figure_id: str, target: float, wording: Wording) -> str:
    """Say how a result stands to its target, with the chance that it was or will be reached."""
    result, chance = verdict(register, figure_id, target), chance_of(register, figure_id)
    if result is None:
        return standing(chance, wording) if chance else absent(register[figure_id])
    words = paper().say(f"report.judged.{result}")
    if chance is None or chance.value is None or register.through_date:
        return words
    sentence = paper().text("report.judged.with_chance").replace("{chance:chance}", "{chance}")
    return sentence.format(judged=words, chance=wording.chance(chance.value))


def standing(chance: Figure, wording: Wording) -> str:
    """Say how a running year stands to a target.

    Examples
    --------
    >>> from planner.figures import Figure
    >>> from planner.report.wording import Wording
    >>> standing(Figure("", "", 0.83, None, None, "share", ""), Wording("en_GB"))
    'on track: the chance of reaching it is 83%'
    """
    share = chance.value or 0.0
    state = "on_track" if share >= LIKELY else "behind" if share < UNLIKELY else "open"
    return paper().say(f"report.judged.{state}", chance=wording.chance(share))
