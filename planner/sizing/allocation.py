"""Solve the allocation: an integer program by HiGHS, and the frontier along the budget."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
import scipy

from planner.arrays import Flags, Integers, Numbers
from planner.messages import paper, said
from planner.whole_programs import least_integer

if TYPE_CHECKING:
    from collections.abc import Sequence

    from planner.whole_programs import Rows


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


def total_row(values: Numbers) -> scipy.sparse.csr_array:
    """Make one row that sums the values over all variables."""
    return scipy.sparse.csr_array(values[None, :])


def rows_by(place: Integers, values: Numbers, rows_count: int) -> scipy.sparse.csr_array:
    """Make rows that each sum the values of the variables at their place; −1 stands for none."""
    used = np.flatnonzero((place >= 0) & (values != 0.0))
    shape = (rows_count, place.size)
    return scipy.sparse.csr_array((values[used], (place[used], used)), shape=shape)


def limit_on(
    name: str,
    words: str,
    rows: scipy.sparse.csr_array,
    *,
    low: Numbers | float = -np.inf,
    high: Numbers | float = np.inf,
    step: float = 1.0,
    unit: str | None = None,
    key: str = "",
) -> Limit:
    """Limit rows from below, from above or both; one number stands for every row."""
    lowest, highest = (np.full(rows.shape[0], end, dtype=float) for end in (low, high))
    unit = unit or said("plan.step.bin")
    return Limit(name, words, rows, lowest, highest, step, unit, key=key)


def share_floor(name: str, words: str, chosen: Flags, least_share: float, scale: float) -> Limit:
    """At least a share of all bins go to the chosen variables; one step is one per cent.

    `scale` is the number of bins against which a change is judged.
    """
    row = total_row(chosen.astype(float) - least_share)
    floor = limit_on(name, words, row, low=0.0, step=ONE_PER_CENT, unit=said("plan.step.point"))
    return replace(floor, share=least_share, chosen=chosen, scale=scale)


def objective_of(choices: Choices, objective: str) -> Numbers:
    """Coefficients of what is made as small as can be, shape (variables,)."""
    if objective == LEAST_COST:
        return choices.cost
    return -(choices.net_t_co2e if objective == MOST_NET_EMISSIONS else choices.tonnes)


RELATIVE_GAP = 1e-4
"""The plan found is at most this share away from the best there can be."""

TIME_LIMIT_SECONDS = 120.0

LEAST_GAP = 1e-6
"""In the units of what is served: the solver's own."""

SMALL_PROBLEM = 1500
"""Beyond so many variables the worth of a single bin is near enough too: where money buys but a few
hundred bins one of them is more than the gap, and the search would go on to its time limit."""


@dataclass(frozen=True)
class ExpectedSums:
    """Expected sums of bins, whole or split, over the horizon; their cost is theirs alone."""

    tonnes: float  # [t]
    net_t_co2e: float  # [t CO2-e]
    cost: float  # [currency]


@dataclass(frozen=True)
class Allocation(ExpectedSums):
    """A plan: bins by group, model and round, and what they are expected to do."""

    bins: Integers  # shape (variables,)
    bins_by_group: Integers  # shape (groups, models, rounds)
    gap_share: float  # how far at most the best plan is from this one, as a share of the objective

    @property
    def bins_count(self) -> int:
        """Bins in all."""
        return int(self.bins.sum())


class NoPlanError(Exception):
    """No choice keeps every limit."""


def allocate(
    problem: Problem,
    objective: str,
    relative_gap: float = RELATIVE_GAP,
    time_limit_seconds: float = TIME_LIMIT_SECONDS,
) -> Allocation:
    """Choose the bins that serve the objective best within every limit.

    Parameters
    ----------
    objective
        ``most_tonnes``, ``least_cost`` or ``most_net_emissions``.
    relative_gap, time_limit_seconds
        When the search may stop.

    Raises
    ------
    NoPlanError
        The limits clash, so that no choice keeps them all.

    Notes
    -----
    ``min c·x`` subject to ``low <= A x <= high``, ``0 <= x <= most``, x whole.

    References
    ----------
    Huangfu, Q. and Hall, J. A. J. (2018), Parallelizing the dual revised simplex method,
    Mathematical Programming Computation 10, 119-142 (HiGHS).
    """
    choices, worth = problem.choices, objective_of(problem.choices, objective)
    one_bin = float(np.abs(worth).max()) if choices.count > SMALL_PROBLEM else 0.0
    values, gap_share = _solved(
        problem,
        objective,
        is_whole=True,
        mip_rel_gap=relative_gap,
        mip_abs_gap=max(LEAST_GAP, one_bin),
        time_limit=time_limit_seconds,
    )
    bins = np.rint(values).astype(np.int64)
    sums = vars(_sums(choices, bins))
    return Allocation(**sums, bins=bins, bins_by_group=choices.as_array(bins), gap_share=gap_share)


def allocate_split(problem: Problem, objective: str) -> ExpectedSums:
    """Solve the same program with bins that may be split, for small differences.

    The difference between two plans of whole bins is mostly that of two roundings: one bin
    more or less. Between two plans of split bins it is that of the limits.

    Raises
    ------
    NoPlanError
        The limits clash.
    """
    return _sums(problem.choices, _solved(problem, objective)[0])


def _solved(problem: Problem, objective: str, **options: float) -> tuple[Numbers, float]:
    """Best values of the variables, and by what share better ones may serve the objective."""
    if problem.choices.count == 0:
        if not are_kept_without_bins(problem.limits):
            raise NoPlanError
        return np.zeros(0), 0.0
    worth, rows = objective_of(problem.choices, objective), solver_rows(problem.limits)
    found = least_integer(worth, rows, 0.0, problem.most, **options)
    if found.values is None:
        raise NoPlanError(found.message)
    return found.values, found.gap_share


def _sums(choices: Choices, bins: Integers | Numbers) -> ExpectedSums:
    of_a_bin = (choices.tonnes, choices.net_t_co2e, choices.cost)
    return ExpectedSums(*(float(each @ bins) for each in of_a_bin))


def are_kept_without_bins(limits: Sequence[Limit]) -> bool:
    """Tell whether no bin at all keeps every limit, as it must where there is none to give."""
    return all(((limit.low <= 0.0) & (limit.high >= 0.0)).all() for limit in limits)


def solver_rows(limits: Sequence[Limit]) -> list[Rows]:
    """Put all rows of the limits together, each row on the scale of its bins.

    Money and tonnes beside counts would leave the solver's tolerance worth more in one row
    than in another.
    """
    if not limits:
        return []
    rows = scipy.sparse.vstack([limit.rows for limit in limits], format="csr")
    largest = np.ones(rows.shape[0])
    found = abs(rows).max(axis=1).toarray().ravel()
    largest[found > 0.0] = found[found > 0.0]
    low = np.concatenate([limit.low for limit in limits]) / largest
    high = np.concatenate([limit.high for limit in limits]) / largest
    return [(scipy.sparse.diags_array(1.0 / largest) @ rows, low, high)]


def least_cost_of(problem: Problem, tonnes: float) -> float:
    """Least cost of bins, split if need be, that keep so many tonnes out; infinite if none."""
    try:
        return allocate_split(with_target(problem, tonnes), LEAST_COST).cost
    except NoPlanError:
        return float("inf")


def with_target(problem: Problem, tonnes: float) -> Problem:
    """Ask for at least so many expected tonnes over the horizon."""
    target = paper().decimal(float(f"{tonnes:.4g}"), "#,##0.###")
    words = said("plan.limit.horizon_target", tonnes=target)
    row = total_row(problem.choices.tonnes)
    return problem.with_limits(limit_on("horizon_target", words, row, low=tonnes, unit="t"))
