"""The allocation as an integer program: what may be chosen, what limits it, what it is worth.

A variable is the bins of one model given to one group (area × dwelling) in one funding
round. Every limit carries its words, so that a binding or clashing one can be named.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import scipy

from planner.arrays import Flags, Integers, Numbers
from planner.messages import said

MOST_TONNES, LEAST_COST, MOST_NET_EMISSIONS = "most_tonnes", "least_cost", "most_net_emissions"

ONE_PER_CENT = 0.01


@dataclass(frozen=True)
class Choices:
    """The variables: which group, model and round each stands for, and what a bin is worth."""

    # shape (variables,): places in the lists of groups, models and rounds
    group: Integers
    model: Integers
    round_: Integers
    # shape (variables,): expected scraps kept out of landfill over the horizon and in the year of
    # the target [t], net emissions avoided [t CO2-e] and cost [currency] of a bin
    tonnes: Numbers
    target_tonnes: Numbers
    net_t_co2e: Numbers
    cost: Numbers
    shape: tuple[int, int, int]  # numbers of groups, models and rounds

    @property
    def count(self) -> int:
        """Number of variables."""
        return self.group.size

    def as_array(self, bins: Integers) -> Integers:
        """Bins by group, model and round, shape `self.shape`."""
        full = np.zeros(self.shape, dtype=np.int64)
        full[self.group, self.model, self.round_] = bins
        return full


@dataclass(frozen=True)
class Limit:
    """A limit or a family of like limits: ``low <= rows @ bins <= high``."""

    name: str  # short name, as "stock of three_tray"
    # what it says, with its value, as "no more than 300 of Three-tray tower are in stock"
    words: str
    rows: scipy.sparse.csr_array  # shape (rows, variables)
    # shape (rows,); infinite where there is none
    low: Numbers
    high: Numbers
    step: float  # by how much "one more" relaxes each row, in `unit`
    unit: str  # what the step is, as "bin" or "percentage point"
    # For a floor on a share of all bins: the share. Its rows change with it.
    share: float | None = None
    chosen: Flags | None = None  # variables that the share is of
    # size against which a change of the limit is judged small or large; the limit's own value
    # unless said
    scale: float | None = None
    can_be_relaxed: bool = True  # false for what no decision moves, as the number of households
    key: str = ""  # where the program file says it

    def relaxed(self) -> Limit:
        """Give way by one step."""
        if self.share is not None and self.chosen is not None:
            less = max(0.0, self.share - self.step)
            return replace(self, share=less, rows=total_row(self.chosen.astype(float) - less))
        return replace(self, low=self.low - self.step, high=self.high + self.step)

    def slack(self, bins: Integers) -> Numbers:
        """Room left in each row, shape (rows,)."""
        value = self.rows @ bins
        return np.asarray(np.minimum(self.high - value, value - self.low))


@dataclass(frozen=True)
class Problem:
    """Choices, limits and the most that each variable may be."""

    choices: Choices
    most: Numbers
    limits: tuple[Limit, ...]

    def with_limits(self, *limits: Limit) -> Problem:
        """Put limits in place of those of the same name, and add the others."""
        named = {limit.name: limit for limit in (*self.limits, *limits)}
        return replace(self, limits=tuple(named.values()))

    def without(self, *names: str) -> Problem:
        """Leave limits out."""
        return replace(self, limits=tuple(one for one in self.limits if one.name not in names))

    def limit(self, name: str) -> Limit:
        """Find a limit by its name."""
        return next(limit for limit in self.limits if limit.name == name)


def total_row(values: Numbers) -> scipy.sparse.csr_array:
    """Make one row that sums the values over all variables."""
    return scipy.sparse.csr_array(values[None, :])


def rows_by(place: Integers, values: Numbers, rows_count: int) -> scipy.sparse.csr_array:
    """Make rows that each sum the values of the variables at their place; −1 stands for none."""
    used = np.flatnonzero((place >= 0) & (values != 0.0))
    shape = (rows_count, place.size)
    return scipy.sparse.csr_array((values[used], (place[used], used)), shape=shape)


def at_most(
    name: str,
    words: str,
    rows: scipy.sparse.csr_array,
    high: Numbers | float,
    step: float = 1.0,
    unit: str | None = None,
    key: str = "",
) -> Limit:
    """Limit rows from above; one number stands for every row."""
    most = np.broadcast_to(np.asarray(high, dtype=float), (rows.shape[0],)).copy()
    unit, none = unit or said("plan.step.bin"), np.full_like(most, -np.inf)
    return Limit(name, words, rows, none, most, step, unit, key=key)


def at_least(
    name: str,
    words: str,
    rows: scipy.sparse.csr_array,
    low: Numbers | float,
    step: float = 1.0,
    unit: str | None = None,
    key: str = "",
) -> Limit:
    """Limit rows from below; one number stands for every row."""
    above = at_most(name, words, rows, low, step, unit, key)
    return replace(above, low=above.high, high=np.full_like(above.high, np.inf))


def share_floor(name: str, words: str, chosen: Flags, least_share: float, scale: float) -> Limit:
    """At least a share of all bins go to the chosen variables; one step is one per cent.

    `scale` is the number of bins against which a change is judged.
    """
    row = total_row(chosen.astype(float) - least_share)
    floor = at_least(name, words, row, 0.0, ONE_PER_CENT, said("plan.step.point"))
    return replace(floor, share=least_share, chosen=chosen, scale=scale)


def objective_of(choices: Choices, objective: str) -> Numbers:
    """Coefficients of what is made as small as can be, shape (variables,)."""
    if objective == LEAST_COST:
        return choices.cost
    return -(choices.net_t_co2e if objective == MOST_NET_EMISSIONS else choices.tonnes)
