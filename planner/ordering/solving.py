"""Solve a purchase program, a large one from a good start, and read the purchases off."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from planner.errors import OrderError
from planner.messages import say
from planner.ordering.delivery_days import without_dominated_days, without_locked_lines
from planner.ordering.model import build_model
from planner.ordering.request import Effort
from planner.ordering.searching import Answer, run_search
from planner.ordering.strengthening import parts, strengthen

if TYPE_CHECKING:
    from collections.abc import Collection, Sequence

    from numpy.typing import NDArray

    from planner.ordering.linear_program import PurchaseModel
    from planner.ordering.problem import PurchaseProblem


@dataclass(frozen=True)
class Purchase:
    """Packs bought of a line, with the price of the goods."""

    line: int
    packs_count: int
    goods_amount: float


@dataclass(frozen=True)
class Solution:
    """A purchase plan."""

    problem: PurchaseProblem
    purchases: tuple[Purchase, ...]  # lines with at least one pack, in order of slot and line
    pallets_count: dict[int, int]  # pallets of each slot that has a delivery
    sent_kg: dict[tuple[int, int], float]  # worms sent, by live need and slot
    # landed cost, and what is proven of it
    cost: float
    bound: float
    reached_limit: bool

    @property
    def gap(self) -> float:
        """Share of the cost by which another plan may be cheaper."""
        return max(0.0, (self.cost - self.bound) / self.cost) if self.cost else 0.0

    @property
    def suppliers(self) -> tuple[str, ...]:
        """Codes of the suppliers from whom something is bought."""
        lines = (self.problem.lines[one.line] for one in self.purchases)
        return tuple(sorted({self.problem.slots[line.slot].supplier_id for line in lines}))

    def freight(self, slot: int) -> float:
        """Freight of a slot's delivery."""
        supplier = self.problem.suppliers[self.problem.slots[slot].supplier_id]
        pallets = self.pallets_count[slot]
        return supplier.freight_per_delivery + pallets * supplier.freight_per_pallet


def solve(
    problem: PurchaseProblem, effort: Effort, enough: Collection[tuple[int, int]] = ()
) -> Solution | None:
    """Find the purchases of least landed cost; None where no plan meets every limit.

    The bound, and with it the gap, holds for the problem as stated, over every day on which
    something may be sent.

    Parameters
    ----------
    problem, effort
        What may be bought, and how hard to search.
    enough
        Offers and slots known to hold a plan, which is taken where the search ends without one.

    Raises
    ------
    OrderError
        The effort ended before any plan was found.
    """
    given = without_locked_lines(problem)
    model = build_model(without_dominated_days(given), may_waste=True)
    solution, answer = _searched(model, effort)
    if answer.values is not None and np.any(answer.values[model.waste] > NEGLIGIBLE_COST):
        # the least cost spends for nothing to keep a supplier's share: no plan, but a bound
        bound = answer.bound
        solution, answer = _searched(build_model(given), effort)
        bound = max(bound, answer.bound)
        solution = None if solution is None else replace(solution, bound=bound)
    if answer.outcome == "unfinished" and enough:
        lines = tuple(line for line in problem.lines if (line.offer, line.slot) in enough)
        fewer = without_locked_lines(replace(problem, lines=lines))
        bound = answer.bound
        solution, answer = _searched(build_model(fewer), effort)
        solution = None if solution is None else replace(solution, bound=bound)
    return _checked(solution, answer, effort)


def try_solving(problem: PurchaseProblem, effort: Effort) -> tuple[Solution | None, bool]:
    """Find the cheapest purchases as `solve` does, for a question beside the order itself.

    Returns
    -------
    tuple
        The solution, None without one; and whether the search ended by itself: where it did
        not, a plan may exist that was not found.
    """
    try:
        return solve(problem, effort), True
    except OrderError:
        return None, False


NEGLIGIBLE_COST = 1e-4
"""Cost below which a value is nothing but rounding."""


def _searched(model: PurchaseModel, effort: Effort) -> tuple[Solution | None, Answer]:
    least = strengthen(model)
    columns_count = sum(map(len, model.program.cost))
    nodes_count = min(effort.nodes_count, max(FEWEST_NODES, effort.work // max(1, columns_count)))
    start = find_start(model, least / (1.0 - effort.gap))
    answer = run_search(model.program, replace(effort, nodes_count=nodes_count), start)
    return (None if answer.values is None else read_solution(model, answer)), answer


def _checked(solution: Solution | None, answer: Answer, effort: Effort) -> Solution | None:
    if answer.outcome == "unfinished":
        raise OrderError(say("order.fail.no_plan", nodes=effort.nodes_count))
    return solution


def read_solution(model: PurchaseModel, answer: Answer) -> Solution:
    """Read the purchases off a program's values; costs are summed again from the offers."""
    values = answer.values if answer.values is not None else np.zeros(0)
    problem = model.problem
    packs: dict[int, int] = {}
    for place, line in enumerate(model.steps.line):
        count = round(float(values[model.packs[place]]))
        if count:
            packs[int(line)] = packs.get(int(line), 0) + count
    purchases = tuple(
        Purchase(line, count, problem.offers[problem.lines[line].offer].goods_cost(count))
        for line, count in sorted(packs.items(), key=lambda pair: (_slot(problem, pair[0]), pair))
    )
    used = sorted({_slot(problem, one.line) for one in purchases})
    pallets = {slot: _pallets(problem, slot, purchases) for slot in used}
    sent = {
        (number, int(slot)): float(values[column])
        for number, (need, columns) in enumerate(zip(problem.live, model.live, strict=True))
        for slot, column in zip(need.slots, columns, strict=True)
        if values[column] > SENT_ROUNDING_KG
    }
    solution = Solution(problem, purchases, pallets, sent, 0.0, answer.bound, answer.reached_limit)
    cost = sum(one.goods_amount for one in purchases) + sum(map(solution.freight, used))
    return replace(solution, cost=cost)


SENT_ROUNDING_KG = 1e-6
"""Mass below which a search's value is nothing but rounding."""


def _slot(problem: PurchaseProblem, line: int) -> int:
    return problem.lines[line].slot


def _pallets(problem: PurchaseProblem, slot: int, purchases: Sequence[Purchase]) -> int:
    """Pallets that a delivery takes, where its supplier charges by the pallet."""
    share = 0.0
    if problem.suppliers[problem.slots[slot].supplier_id].freight_per_pallet <= 0.0:
        return 0
    for one in purchases:
        line = problem.lines[one.line]
        per_pallet = problem.offers[line.offer].packs_per_pallet
        if line.slot == slot and per_pallet:
            share += one.packs_count / per_pallet
    return int(np.ceil(share - 1e-9))


FEWEST_NODES = 50
"""Nodes that even the largest problem is given."""

LARGE = 1_000
"""Columns from which a search is given a start; smaller ones find their plans as fast alone."""

NEAR = Effort(0.002, 60, first_plan_work=0)
NEARER = Effort(1e-4, 30, first_plan_work=0)
BOUGHT = 0.5
"""Packs that count as bought."""


def find_start(model: PurchaseModel, enough: float) -> NDArray[np.float64] | None:
    """Find a good plan of a large model with little work; None for small ones, or without any.

    Worms first, as if nothing else were bought: they do not keep, so that is nearly what they
    cost in any plan. Then the goods, by themselves; then they may ride along with the worms;
    then the worms of some weeks at a time may come otherwise.

    Parameters
    ----------
    model
        A model that is about to be searched.
    enough
        Cost at which a plan is good enough.
    """
    problem = model.problem
    if sum(map(len, model.program.cost)) < LARGE or not problem.live:
        return None
    worms, goods = (
        replace(problem, lines=tuple(one for one in problem.lines
                                     if problem.offers[one.offer].is_live == kind))
        for kind in (True, False)
    )  # fmt: skip
    alone = build_model(replace(worms, stored=(), largest_supplier_share=1.0))
    sent = run_search(alone.program, NEAR).values
    if sent is None:
        return None
    bought = {worms.lines[line] for line in alone.steps.line[sent[alone.packs] > BOUGHT]}
    apart = {line.slot for line in without_dominated_days(replace(goods, live=())).lines}
    live_step, slot = model.live_steps(), model.slot_of_step()
    kept = np.array([problem.lines[line] in bought for line in model.steps.line], dtype=bool)
    start = _restricted(model, kept | (~live_step & np.isin(slot, sorted(apart))), None)
    return None if start is None else _improved(model, start, live_step, enough)


def _improved(
    model: PurchaseModel,
    start: NDArray[np.float64],
    live_step: NDArray[np.bool_],
    enough: float,
) -> NDArray[np.float64]:
    """Search again with every line of some days, the worms of all other days as they are.

    Ends where the plan costs no more than is enough.
    """
    cost = np.concatenate(model.program.cost)
    slot_of_step = model.slot_of_step()
    for events in parts(model.problem):
        if cost @ start <= enough:
            break
        slots = np.concatenate([model.problem.live[number].slots for number in events])
        near, bought = np.isin(slot_of_step, slots), start[model.packs] > BOUGHT
        better = _restricted(model, near | bought, start, live_step & bought & ~near, NEARER)
        start = start if better is None else better
    return start


def _restricted(
    model: PurchaseModel,
    kept: NDArray[np.bool_],
    start: NDArray[np.float64] | None,
    fixed: NDArray[np.bool_] | None = None,
    effort: Effort = NEAR,
) -> NDArray[np.float64] | None:
    """Search with packs of the kept price steps alone, of the fixed ones as many as before."""
    program, limits = model.program, (model.program.lower, model.program.upper)
    fewest, most = (np.concatenate(limit) for limit in limits)
    most[model.packs[~kept]] = 0.0
    if start is not None and fixed is not None:
        columns = model.packs[fixed]
        fewest[columns] = most[columns] = np.round(start[columns])
    program.lower, program.upper = [fewest], [most]
    found = run_search(program, effort, start).values
    program.lower, program.upper = limits
    return start if found is None else found
