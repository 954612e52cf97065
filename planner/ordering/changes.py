"""Limits that give way: changes of a purchase problem, put together and made."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any, Literal, get_args

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable

    from planner.ordering.problem import PurchaseProblem

Family = Literal[
    "budget",
    "store",
    "share",
    "minimum_order",
    "weekly_limit",
    "holding_kg",
    "holding_days",
    "held",
    "late",
    "not_offered",
    "live_need",
    "need",
]
"""Kinds of limits, in the order in which they are reported."""

FAMILIES: tuple[Family, ...] = get_args(Family)


@dataclass(frozen=True)
class Change:
    """One limit that must give way."""

    # kind of limit, and the places in the problem that it is about
    family: Family
    key: tuple[int | str, ...]
    # the limit as it is, and by how much it must change, in its own unit
    limit: float
    change: float


def joined_changes(first: tuple[Change, ...], more: tuple[Change, ...]) -> tuple[Change, ...]:
    """Put changes of changed limits to those before: what gives way twice is one change."""
    found = {(one.family, one.key): one for one in first}
    for one in more:
        before = found.get((one.family, one.key))
        if before is None:
            found[one.family, one.key] = one
        elif one.family == "live_need":
            # a share of what was left of the day
            left = (1.0 - before.change) * (1.0 - one.change)
            found[one.family, one.key] = replace(before, change=1.0 - left)
        else:
            found[one.family, one.key] = replace(before, change=before.change + one.change)
    return in_order(found.values())


def in_order(changes: Iterable[Change]) -> tuple[Change, ...]:
    """Put changes in the order in which they are reported."""
    return tuple(sorted(changes, key=lambda change: FAMILIES.index(change.family)))


MARGIN = 1e-4
"""Share by which a change is made larger, so that its rounding leaves no clash."""


def with_changes(problem: PurchaseProblem, changes: tuple[Change, ...]) -> PurchaseProblem:
    """Apply changes to the limits of a problem that has no plan, so that it can be solved."""
    for change in changes:
        problem = _CHANGES[change.family](problem, change)
    return problem


def _more(change: Change) -> float:
    return change.change * (1.0 + MARGIN)


def _changed(items: tuple[Any, ...], change: Change, **fields: object) -> tuple[Any, ...]:
    """Change the one that a change is about."""
    place = int(change.key[0])
    return (*items[:place], replace(items[place], **fields), *items[place + 1 :])


def _unlock(problem: PurchaseProblem, change: Change) -> PurchaseProblem:
    return replace(problem, lines=_changed(problem.lines, change, lock=""))


def _raise_budget(problem: PurchaseProblem, change: Change) -> PurchaseProblem:
    budget = problem.quarters[int(change.key[0])].budget + _more(change)
    return replace(problem, quarters=_changed(problem.quarters, change, budget=budget))


def _store_more(problem: PurchaseProblem, change: Change) -> PurchaseProblem:
    if problem.store is None:
        return problem
    # room that lacks on several days is the same room: the most of them, not all together
    taken = problem.store.bins_most - problem.store.room_on(_day_of(change))
    most = max(problem.store.bins_most, taken + change.limit + _more(change))
    return replace(problem, store=replace(problem.store, bins_most=most))


def _day_of(change: Change) -> dt.date:
    return dt.date.fromisoformat(str(change.key[-1]))


def _waive_minimum(problem: PurchaseProblem, change: Change) -> PurchaseProblem:
    below = problem.slots[int(change.key[0])].below_least_amount + _more(change)
    return replace(problem, slots=_changed(problem.slots, change, below_least_amount=below))


def _raise_weekly_limit(problem: PurchaseProblem, change: Change) -> PurchaseProblem:
    """Let more be sent in this week alone: as if fewer packs had been ordered for it before."""
    place, week = int(change.key[0]), _day_of(change)
    weekly = dict(problem.commitments.weekly_packs)
    most = problem.offers[place].weekly_limit_packs_count or 0
    weekly[place, week] = most - int(np.ceil(change.limit + change.change - MARGIN))
    return replace(problem, commitments=replace(problem.commitments, weekly_packs=weekly))


def _hold_more(problem: PurchaseProblem, change: Change) -> PurchaseProblem:
    needed = problem.commitments.held_on(_day_of(change)) + change.limit + _more(change)
    return replace(problem, holding_kg_most=max(problem.holding_kg_most, needed))


def _hold_longer(problem: PurchaseProblem, change: Change) -> PurchaseProblem:
    """Let worms of this delivery be held for this day alone, as if for no longer than others."""
    need = problem.live[int(change.key[0])]
    is_it = need.slots == int(change.key[1])
    held = np.where(is_it, problem.holding_days_most, need.held_days)
    return replace(problem, live=_changed(problem.live, change, held_days=held))


def _share_more(problem: PurchaseProblem, change: Change) -> PurchaseProblem:
    """Let this supplier alone have more, by what lacks."""
    one = problem.suppliers[str(change.key[0])]
    beyond = one.beyond_share_amount + _more(change)
    changed = {one.supplier_id: replace(one, beyond_share_amount=beyond)}
    return replace(problem, suppliers={**problem.suppliers, **changed})


def _serve_fewer_live(problem: PurchaseProblem, change: Change) -> PurchaseProblem:
    left, need = max(0.0, 1.0 - _more(change)), problem.live[int(change.key[0])]
    needed, sent = need.needed_kg * left, need.sent_kg * left
    return replace(problem, live=_changed(problem.live, change, needed_kg=needed, sent_kg=sent))


def _serve_fewer(problem: PurchaseProblem, change: Change) -> PurchaseProblem:
    stored = list(problem.stored)
    place, step = int(change.key[0]), int(change.key[1])
    quantities = stored[place].quantities.copy()
    # at another level of service the day needs more or less: the same share of it is left
    limit = float(quantities[step])
    left = limit * (1.0 - _more(change) / change.limit)
    # events that ask for no more than this one have no row of their own
    same = (np.arange(len(quantities)) >= step) & (quantities <= limit)
    quantities[same] = np.minimum(quantities[same], left)
    stored[place] = replace(stored[place], quantities=quantities)
    return replace(problem, stored=tuple(stored))


_CHANGES: dict[str, Callable[[PurchaseProblem, Change], PurchaseProblem]] = {
    "held": _unlock,
    "late": _unlock,
    "not_offered": _unlock,
    "budget": _raise_budget,
    "store": _store_more,
    "minimum_order": _waive_minimum,
    "weekly_limit": _raise_weekly_limit,
    "holding_kg": _hold_more,
    "holding_days": _hold_longer,
    "share": _share_more,
    "live_need": _serve_fewer_live,
    "need": _serve_fewer,
}
