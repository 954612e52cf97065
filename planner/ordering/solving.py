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
from planner.ordering.searching import Answer, lower_bound, run_search, side_by_side
from planner.ordering.strengthening import strengthen

if TYPE_CHECKING:
    from collections.abc import Collection, Sequence

    from numpy.typing import NDArray

    from planner.arrays import Numbers
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

    Offers and slots known to hold a plan are `enough` to start from.

    Raises
    ------
    OrderError
        The effort ended before any plan was found.
    """
    given = without_locked_lines(problem)
    model = build_model(without_dominated_days(given, enough), may_waste=True)
    solution, answer = _searched(model, effort, enough)
    if answer.values is not None and np.any(answer.values[model.waste] > NEGLIGIBLE_COST):
        # the least cost spends for nothing to keep a supplier's share: no plan, but a bound
        bound = answer.bound
        solution, answer = _searched(build_model(given), effort, enough)
        bound = max(bound, answer.bound)
        solution = None if solution is None else replace(solution, bound=bound)
    if answer.outcome == "unfinished":
        raise OrderError(say("order.fail.no_plan", nodes=effort.nodes_count))
    return solution


def try_solving(problem: PurchaseProblem, effort: Effort) -> tuple[Solution | None, bool]:
    """Find the cheapest purchases as `solve` does, for a question beside the order itself.

    Gives with them whether the search ended by itself: where not, a plan may exist that was missed.
    """
    try:
        return solve(problem, effort), True
    except OrderError:
        return None, False


NEGLIGIBLE_COST = 1e-4
"""Cost below which a value is nothing but rounding."""


def _searched(
    model: PurchaseModel, effort: Effort, enough: Collection[tuple[int, int]]
) -> tuple[Solution | None, Answer]:
    plain = replace(model, program=model.program.copied())
    least, start = side_by_side([lambda: strengthen(model), lambda: first_plan(plain, enough)])
    columns_count = sum(map(len, model.program.cost))
    nodes_count = min(effort.nodes_count, max(FEWEST_NODES, effort.work // max(1, columns_count)))
    asked, proven, sought = replace(effort, nodes_count=nodes_count), 0.0, 0.0
    if start is not None:
        # rows that raise bounds are in the way of plans
        start = improved_plan(plain, start, least / (1.0 - effort.gap))
    if start is not None and columns_count >= LARGE:
        cost = float(np.concatenate(plain.program.cost) @ start)
        sought = cost * (1.0 - effort.gap)
        proof = replace(asked, nodes_count=min(nodes_count, PROOF_NODES))
        proven = lower_bound(model.program, proof, sought)
        answer = Answer("solved", start, cost, proven)
    if not proven or proven < sought:
        answer = run_search(model.program, asked, start)
        if answer.outcome == "unfinished" and start is not None:
            # kept too narrowly for the solver to take it up
            answer = replace(answer, outcome="solved", values=start)
        answer = replace(answer, bound=max(proven, answer.bound))
    return (None if answer.values is None else read_solution(model, answer)), answer


def read_solution(model: PurchaseModel, answer: Answer) -> Solution:
    """Read the purchases off a program's values; costs are summed again from the offers."""
    values = answer.values if answer.values is not None else np.zeros(0)
    problem, lines = model.problem, model.problem.lines
    packs: dict[int, int] = {}
    for place, line in enumerate(model.steps.line):
        count = round(float(values[model.packs[place]]))
        if count:
            packs[int(line)] = packs.get(int(line), 0) + count
    purchases = tuple(
        Purchase(line, count, problem.offers[lines[line].offer].goods_cost(count))
        for line, count in sorted(packs.items(), key=lambda pair: (lines[pair[0]].slot, pair))
    )
    used = sorted({lines[one.line].slot for one in purchases})
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


def _pallets(problem: PurchaseProblem, slot: int, purchases: Sequence[Purchase]) -> int:
    """Pallets that a delivery takes, where its supplier charges by the pallet."""
    if problem.suppliers[problem.slots[slot].supplier_id].freight_per_pallet <= 0.0:
        return 0
    here = [one for one in purchases if problem.lines[one.line].slot == slot]
    loads = [(one, problem.offers[problem.lines[one.line].offer].packs_per_pallet) for one in here]
    return int(np.ceil(sum(one.packs_count / most for one, most in loads if most) - 1e-9))


FEWEST_NODES = 50
"""Nodes that even the largest problem is given."""

LARGE = 1_000
"""Columns from which a search is given a start, and proves no more than it is asked for."""

FIRST = Effort(0.002, 60)
NEAR = replace(FIRST, first_plan_work=0)
NEARER = Effort(0.001, 10, first_plan_work=0)
NEAREST = Effort(2e-4, 40, first_plan_work=0)
"""A first plan, then the goods, what a supplier sells, and what any plan bought."""

ROUNDS = 2
"""Times that each supplier has its turn."""

IDLE = 2
"""Turns without a gain after which they end."""

MADE_UP = 5e-4
"""Share of the cost that a proof makes up for, once for each turn and twice before the first."""

PROOF_NODES = 20
"""Most nodes of a proof; where they run out, plans are searched for too."""

BOUGHT = 0.5
"""Packs that count as bought."""


def first_plan(model: PurchaseModel, enough: Collection[tuple[int, int]] = ()) -> Numbers | None:
    """Find a plan of a large model with little work; None for small ones, or without any.

    Offers and slots that are known to hold a plan are enough to begin with, in a small model too.
    """
    lines = model.problem.lines
    known = [(lines[n].offer, lines[n].slot) in enough for n in model.steps.line]
    start = _restricted(model, np.array(known), effort=FIRST) if any(known) else None
    is_large = sum(map(len, model.program.cost)) >= LARGE and model.problem.live
    return _worms_first(model) if start is None and is_large else start


def improved_plan(model: PurchaseModel, start: Numbers, goal: float) -> Numbers:
    """Search again with every line of one supplier, and those that any plan before bought.

    Suppliers that are paid most freight come first. After each, what was bought in any plan is
    searched alone: it puts the plans together. It ends where the plan costs no more than the
    goal, or little more the later it is: the proof makes up for that sooner than another turn.
    """
    cost, line = np.concatenate(model.program.cost), model.steps.line
    owner = np.array([slot.supplier_id for slot in model.problem.slots])
    bought = start[model.packs] > BOUGHT
    idle = 0
    for turn, supplier in enumerate(_by_freight(model, start, owner) * ROUNDS):
        idle += 1
        everything = bought | (owner[model.slot_of_step()] == supplier)
        for near, effort in ((everything, NEARER), (bought, NEAREST)):
            if cost @ start <= goal * (1.0 + MADE_UP * (turn + 2)):
                return start
            better = _restricted(model, np.isin(line, line[near]), start, effort)
            if better is None or cost @ better > cost @ start - NEGLIGIBLE_COST:
                break
            start, idle = better, 0
            bought |= start[model.packs] > BOUGHT
        if idle == IDLE:
            break
    return start


def _worms_first(model: PurchaseModel) -> Numbers | None:
    """Plan the worms as if nothing else were bought, then the goods with them.

    Worms do not keep, so alone they cost nearly what they do in any plan. The goods may come by
    themselves or ride along.
    """
    problem = model.problem
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
    return _restricted(model, kept | (~live_step & np.isin(slot, sorted(apart))))


def _by_freight(model: PurchaseModel, start: Numbers, owner: NDArray[np.str_]) -> list[str]:
    """List the suppliers of a plan, those whose freight costs most first."""
    # nothing is put at the end for slots without a column, whose place is -1
    paid = np.append(np.concatenate(model.program.cost) * start, 0.0)
    freight = paid[model.used] + paid[model.pallets]
    delivers = np.append(start, 0.0)[model.used] > BOUGHT
    suppliers = np.unique(owner[delivers]).tolist()
    return sorted(suppliers, key=lambda one: -float(freight[owner == one].sum()))


def _restricted(
    model: PurchaseModel,
    kept: NDArray[np.bool_],
    start: Numbers | None = None,
    effort: Effort = NEAR,
) -> Numbers | None:
    """Search with packs of the kept price steps alone."""
    upper = np.concatenate(model.program.upper)
    upper[model.packs[~kept]] = 0.0
    return run_search(replace(model.program, upper=[upper]), effort, start).values
