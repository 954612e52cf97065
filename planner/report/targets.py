"""Whether a target was met: a verdict where the year has closed, a chance while it runs."""

from __future__ import annotations

from typing import TYPE_CHECKING

from planner.report.wording import against_target

if TYPE_CHECKING:
    from planner.figures import Figure, FigureRegister
    from planner.report.wording import Result, Wording

LIKELY, UNLIKELY = 0.66, 0.33
"""Chances that are called likely and unlikely.

Mastrandrea et al., Guidance note for lead authors of the IPCC Fifth Assessment Report on
consistent treatment of uncertainties, 2010, table 1; from memory.
"""


def verdict(register: FigureRegister, figure_id: str, target: float) -> Result | None:
    """Judge a figure against its target; None where it has no value or the year still runs.

    What is reached stays reached, so a running year may have met a target; it cannot have
    missed one.
    """
    result = against_target(register[figure_id], target)
    if register.through_date and result != "met":
        return None
    return result


def chance_of(register: FigureRegister, figure_id: str) -> Figure | None:
    """Find the chance that a running year reaches a target; None where there is none."""
    name = f"on_track_share[{figure_id}]"
    return next((figure for figure in register if figure.id == name), None)


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
    words = "on track" if share >= LIKELY else "behind" if share < UNLIKELY else "open"
    return f"{words}: the chance of reaching it is {wording.share(share)}"
