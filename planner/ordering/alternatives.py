"""Other choices of suppliers that cost little more than the cheapest."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from planner.ordering.solving import try_solving

if TYPE_CHECKING:
    from planner.ordering.problem import PurchaseProblem
    from planner.ordering.request import Effort
    from planner.ordering.solving import Solution

WITHIN_SHARE = 0.02
"""How much dearer a choice may be to be worth listing."""

SEARCHES_MOST = 16
"""Searches for other choices before an end is made."""


@dataclass(frozen=True)
class Alternative:
    """A plan without some suppliers."""

    without: tuple[str, ...]  # suppliers from whom nothing is bought though the cheapest plan does
    # landed cost beyond that of the cheapest plan; None where there is no plan
    more_cost: float | None
    suppliers: tuple[str, ...] = ()  # who delivers then; empty without a plan
    # whether the search ended by itself; if not, there may be a plan though none was found
    is_decided: bool = True


def find_alternatives(
    problem: PurchaseProblem, best: Solution, effort: Effort
) -> tuple[Alternative, ...]:
    """Find every choice of suppliers that is hardly dearer than the cheapest plan.

    Each supplier of the cheapest plan is left out in turn, then of each choice that is near
    enough each supplier left. Leaving out more never makes a plan cheaper, so none that
    is near is missed, unless the searches run out first.

    Returns
    -------
    tuple of Alternative
        Those near enough, and one for each supplier of the cheapest plan whose leaving out
        costs more or leaves no plan; the cheapest first, those without a plan last.
    """
    waiting: list[tuple[str, ...]] = [(supplier,) for supplier in best.suppliers]
    found: dict[tuple[str, ...], Alternative] = {}
    while waiting and len(found) < SEARCHES_MOST:
        barred = waiting.pop(0)
        if barred in found:
            continue
        one = found[barred] = _without(problem, best, barred, effort)
        if is_near(one, best.cost):
            waiting += [tuple(sorted({*barred, supplier})) for supplier in one.suppliers]
    listed = [one for barred, one in found.items() if len(barred) == 1 or is_near(one, best.cost)]
    return tuple(
        sorted(listed, key=lambda one: (one.more_cost is None, one.more_cost or 0.0, one.without))
    )


def _without(
    problem: PurchaseProblem, best: Solution, without: tuple[str, ...], effort: Effort
) -> Alternative:
    barred = problem.barred_suppliers | set(without)
    solution, is_decided = try_solving(replace(problem, barred_suppliers=barred), effort)
    if solution is None:
        return Alternative(without, None, is_decided=is_decided)
    more = max(0.0, solution.cost - best.cost)
    return Alternative(without, more, solution.suppliers)


def is_near(one: Alternative, best_cost: float) -> bool:
    """Tell whether a choice is hardly dearer than the cheapest plan."""
    return one.more_cost is not None and one.more_cost <= WITHIN_SHARE * best_cost
