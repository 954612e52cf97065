"""The rule of thumb beside the plan: the same bins by handbook numbers, and why they differ."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from planner.arrays import Integers
from planner.messages import said
from planner.units import KG_PER_T, MONTHS_PER_YEAR

if TYPE_CHECKING:
    from planner.factors import FactorTable
    from planner.sizing.context import Context
    from planner.sizing.outcome import Outcome
    from planner.sizing.world import World

WEEKS_PER_YEAR = 52.0
"""As handbooks count a year."""


@dataclass(frozen=True)
class Step:
    """One step from the rule of thumb to the plan."""

    # its id, and what changes in it
    name: str
    words: str
    tonnes: float  # tonnes in a year after the step


def rule_steps(
    table: FactorTable, context: Context, world: World, outcome: Outcome, bins: Integers
) -> tuple[Step, ...]:
    """Walk from the rule of thumb to the plan's first year, one difference at a time.

    The rule: bins × share in use at mid-year × kg a week × 52 × share new to composting ×
    share in the residual bin. Each step puts the plan's central number in the rule's place.

    Parameters
    ----------
    bins
        Shape (groups, models, rounds).
    """
    count = float(bins.sum())
    in_use = (
        table.find("in_use_share", "after_6_months").value
        + table.find("in_use_share", "after_12_months").value
    ) / 2.0
    feed = table.find("fed_kg_per_household_week").value
    landfill = table.find("new_composter_share").value * table.find("residual_bin_share").value
    plan = _plan_means(context, world, bins)
    first_year = float(outcome.kept_out_t_by_year[0, 0])
    value = count * in_use * feed * WEEKS_PER_YEAR * landfill / KG_PER_T
    compost = table.find("compost_bin_kg_per_household_year").value * count / KG_PER_T
    steps = [_step("compost_bin", compost), _step("rule", value)]
    for name, of_the_rule in (
        ("in_use", in_use),
        ("run_in", 1.0),
        ("feed", feed),
        ("landfilled", landfill),
        ("kept_out", 1.0),
        ("calendar", WEEKS_PER_YEAR),
    ):
        value *= plan[name] / of_the_rule
        steps.append(_step(name, value))
    steps.append(_step("first_year", first_year))
    return tuple(steps)


def _step(name: str, tonnes: float) -> Step:
    return Step(name, said(f"plan.rule.{name}"), tonnes)


def _plan_means(context: Context, world: World, bins: Integers) -> dict[str, float]:
    """Means of a planned bin over its first twelve months, central draw, by step of the walk."""
    weeks_there = weeks_in_use = weeks_full = fed = landfilled = kept = 0.0
    for code, models in enumerate(world.bins):
        of_dwelling = np.flatnonzero(context.groups.dwelling == code)
        for model, one in enumerate(models):
            for place in range(bins.shape[2]):
                given = bins[of_dwelling, model, place]
                if not given.any():
                    continue
                first = int(np.argmax(one.in_use_weeks[0, :, place] > 0))
                year = slice(first, first + MONTHS_PER_YEAR)
                count = float(given.sum())
                in_use = float(one.in_use_weeks[0, year, place].sum())
                full = float(one.full_feed_weeks[0, year, place].sum())
                feed = world.feed_kg_per_week[0, of_dwelling]
                weeks_there += count * float(one.weeks_there[year, place].sum())
                weeks_in_use += count * in_use
                weeks_full += count * full
                fed += full * float(given @ feed)
                landfilled += full * float(given @ (feed * world.landfill_share[0, of_dwelling]))
                kept += full * float(given @ (feed * world.kept_out_share[0, of_dwelling]))
    return {
        "in_use": _over(weeks_in_use, weeks_there),
        "run_in": _over(weeks_full, weeks_in_use),
        "feed": _over(fed, weeks_full),
        "landfilled": _over(landfilled, fed),
        "kept_out": _over(kept, landfilled),
        "calendar": _over(weeks_there, float(bins.sum())),
    }


def _over(part: float, whole: float) -> float:
    """Divide; 1 where there is nothing to divide by, as without bins, of which all steps are 0."""
    return part / whole if whole > 0.0 else 1.0
