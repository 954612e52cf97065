"""Scenarios: other plans on the same draws, each set against the main one."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from planner.errors import EstimateError
from planner.program.sizing import Scenario
from planner.sizing.plan import make_plan

if TYPE_CHECKING:
    from collections.abc import Sequence

    import numpy as np
    from numpy.typing import NDArray

    from planner.program import Program
    from planner.sizing.context import Context
    from planner.sizing.draws import Draws
    from planner.sizing.plan import Plan

DEARER = 1.25
QUARTER = 0.25


@dataclass(frozen=True)
class Compared:
    """A scenario and its plan, or why there is none."""

    name: str
    plan: Plan | None
    why_not: str = ""


def scenarios_of(program: Program) -> tuple[Scenario, ...]:
    """List the scenarios of the program file; four common ones where it has none."""
    stated = program.sizing.scenarios
    if stated:
        return stated
    price = max(model.unit_price for model in program.bin_models)
    return (
        Scenario(name="Fewer bins, with workshops", with_workshop=True),
        Scenario(name="A bin a quarter dearer", price_multiplier=DEARER),
        Scenario(name="A co-payment", copayment=float(round(QUARTER * price))),
        Scenario(name="Flats first", apartments_least_share=0.5),
    )


def compare(
    context: Context,
    main: Plan,
    scenarios: Sequence[Scenario],
    draws: Draws,
    earlier_kg: NDArray[np.float64],
) -> tuple[Compared, ...]:
    """Make the plan of each scenario on the draws of the main one.

    Draw by draw, both plans meet the same households, worms and prices, so that the
    difference between them is told apart from the chance that both share.

    Parameters
    ----------
    context, main, draws, earlier_kg
        Of the main plan.
    scenarios
        What each changes.

    References
    ----------
    Law, A. M. (2015), Simulation Modeling and Analysis, 5th ed., McGraw-Hill, section 11.2
    (common random numbers).
    """
    found = []
    for scenario in scenarios:
        settings = main.settings.changed_by(scenario)
        try:
            plan = make_plan(context, settings, draws, earlier_kg, main)
        except EstimateError as error:
            found.append(Compared(scenario.name, None, str(error)))
        else:
            found.append(Compared(scenario.name, plan))
    return tuple(found)
