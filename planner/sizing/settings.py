"""Settings of one plan: the program file's words, made definite, with what each rests on."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from planner.arrays import Flags, Numbers
from planner.diversion.cohorts import months_between
from planner.errors import ProgramError
from planner.messages import paper, said, say
from planner.program.giveaway import label_of_date, label_start, year_label
from planner.tables import DWELLINGS
from planner.units import MONTHS_PER_YEAR

if TYPE_CHECKING:
    from planner.program import BinModel, Program, ReportingYear
    from planner.program.sizing import FundingRound, Scenario, SizingLimits

MONTH_DIGITS = 2
DEFAULT_ROUND_MONTHS = (1, 4, 7, 10)
"""Months of the year, 0 for the first, of the four rounds when none are named."""


@dataclass(frozen=True)
class Round:
    """A funding round and its limits; None where there is none."""

    name: str
    month: dt.date
    budget: float | None
    hand_over_places: int | None
    workshop_places: int | None


@dataclass(frozen=True)
class Settings:
    """What one plan must keep to."""

    name: str  # of the plan or scenario
    # year that is planned, and first days of the months of the horizon
    reporting_year: str
    months: tuple[dt.date, ...]
    rounds: tuple[Round, ...]
    models: tuple[BinModel, ...]
    # shape (models,): bins that can be had, infinite where nothing limits them
    stock: Numbers
    suits: Flags  # shape (dwellings, models): whether a model may go to a dwelling
    objective: str  # what the plan serves
    # money for the plan, and what of it is spent however many bins are given
    budget: float
    fixed_cost: float | None
    unit_price: Numbers  # shape (models,)
    copayment: float  # what a household pays for a bin
    # from the program file; None leaves them to the beliefs
    other_cost_per_bin: float | None
    workshop_cost_per_bin: float | None
    with_workshop: bool  # every household takes part in a workshop before it is given a bin
    limits: SizingLimits
    price_per_t: float  # levy and gate fee of the year [currency/t]
    # tonnes wanted in one year of the plan, 1 for the first, and how sure to be
    target_t: float | None
    target_year: int
    target_confidence: float
    currency: str
    notes: tuple[str, ...]  # what was taken where the program file says nothing

    @property
    def horizon_years(self) -> int:
        """Years over which a bin's tonnes are counted."""
        return len(self.months) // MONTHS_PER_YEAR

    @property
    def start(self) -> dt.date:
        """First day of the plan."""
        return self.months[0]

    @property
    def handover_months(self) -> tuple[dt.date, ...]:
        """Month of each round."""
        return tuple(one.month for one in self.rounds)

    def changed_by(self, scenario: Scenario) -> Settings:
        """Change what a scenario changes."""
        changes = scenario.model_dump(exclude_none=True, exclude={"name", "price_multiplier"})
        names = set(type(self.limits).model_fields)
        limits = self.limits.model_copy(
            update={name: value for name, value in changes.items() if name in names}
        )
        return replace(
            self,
            name=scenario.name,
            limits=limits,
            unit_price=self.unit_price * scenario.price_multiplier,
            **{name: value for name, value in changes.items() if name not in names},
        )


def choose_plan_year(program: Program, label: str | None, latest: dt.date | None) -> str:
    """Name the year to plan: the one asked for, or the one after the newest record.

    Without records it is the last year of the program file.

    Raises
    ------
    ProgramError
        The name is not that of a reporting year.
    """
    first_month = program.council.reporting_year_first_month
    if label is not None:
        written = label.replace("/", "-")
        start = label_start(written)
        if start is None or year_label(start, first_month) != written:
            wanted = program.reporting_years[-1].reporting_year
            raise ProgramError(say("plan.fail.year", found=label, wanted=wanted))
        return written
    known = [year.reporting_year for year in program.reporting_years]
    if latest is None:
        return max(known, key=lambda name: label_start(name) or 0)
    newest = label_start(label_of_date(latest, first_month)) or 0
    return year_label(newest + 1, first_month)


def year_start(program: Program, label: str) -> dt.date:
    """First day of a reporting year, whether or not the program file has a block for it."""
    return dt.date(label_start(label) or 0, program.council.reporting_year_first_month, 1)


def settings_of(program: Program, label: str) -> Settings:
    """Make the program file's words definite for the plan of one year.

    Raises
    ------
    ProgramError
        A model, a round or the horizon does not fit the rest of the program file.
    """
    sizing, start = program.sizing, year_start(program, label)
    months = months_between(start, start.replace(year=start.year + sizing.horizon_years))
    block, notes = _block_of(program, label)
    budget = sizing.budget if sizing.budget is not None else block.budget
    if budget is None:
        raise ProgramError(say("plan.fail.no_budget", year=label))
    target = sizing.target_t
    if target is None:
        target = block.kept_out_of_landfill_t_target or None
    stock, suits = _supply(program)
    rounds, more = _rounds(program, months)
    return Settings(
        name="Main plan",
        reporting_year=label,
        months=tuple(months),
        rounds=rounds,
        models=program.bin_models,
        stock=stock,
        suits=suits,
        objective=sizing.objective,
        budget=float(budget),
        fixed_cost=sizing.fixed_cost,
        unit_price=np.array([model.unit_price for model in program.bin_models], dtype=float),
        copayment=sizing.copayment,
        other_cost_per_bin=sizing.other_cost_per_bin,
        workshop_cost_per_bin=sizing.workshop_cost_per_bin,
        with_workshop=sizing.with_workshop,
        limits=sizing.limits,
        price_per_t=sum(_prices_of(program, label, block)),
        target_t=target,
        target_year=sizing.target_year,
        target_confidence=sizing.target_confidence,
        currency=program.council.currency,
        notes=(*notes, *more),
    )


def _prices_of(program: Program, label: str, block: ReportingYear) -> tuple[float, float]:
    """Levy and gate fee of the year: of its block, or of a scenario that holds by then."""
    start, stated = label_start(label) or 0, program.prices()
    newest = label_start(block.reporting_year) or 0
    by_then = [year for year in stated if newest <= year <= start]
    return stated[max(by_then, default=newest)]


def _block_of(program: Program, label: str) -> tuple[ReportingYear, list[str]]:
    """Prices and targets of the year, or of the newest year there is."""
    for year in program.reporting_years:
        if year.reporting_year == label:
            return year, []
    newest = max(program.reporting_years, key=lambda year: label_start(year.reporting_year) or 0)
    note = said("plan.note.no_year", year=label, newest=newest.reporting_year)
    return newest, [note]


def _supply(program: Program) -> tuple[Numbers, Flags]:
    models = [model.model_id for model in program.bin_models]
    stock = np.full(len(models), np.inf)
    suits = np.ones((len(DWELLINGS), len(models)), dtype=bool)
    for supply in program.sizing.models:
        if supply.model_id not in models:
            named = {"model": supply.model_id, "models": ", ".join(models)}
            raise ProgramError(say("plan.fail.model", **named))
        place = models.index(supply.model_id)
        if supply.stock_count is not None:
            stock[place] = supply.stock_count
        suits[:, place] = [name in supply.dwellings for name in DWELLINGS]
    return stock, suits


def _rounds(program: Program, months: list[dt.date]) -> tuple[tuple[Round, ...], list[str]]:
    if not program.sizing.rounds:
        rounds = tuple(
            Round(f"Round {n}", months[place], None, None, None)
            for n, place in enumerate(DEFAULT_ROUND_MONTHS, 1)
        )
        named = ", ".join(paper().month(one.month) for one in rounds)
        return rounds, [said("plan.note.no_rounds", months=named)]
    rounds = tuple(_round(one, months) for one in program.sizing.rounds)
    in_order = [one.month for one in rounds]
    if in_order != sorted(set(in_order)):
        found = ", ".join(f"{month:%Y-%m}" for month in in_order)
        raise ProgramError(say("plan.fail.rounds", found=found))
    return rounds, []


def _round(one: FundingRound, months: list[dt.date]) -> Round:
    year = months[:MONTHS_PER_YEAR]
    stated = one.hand_over_month
    if len(stated) == MONTH_DIGITS:
        month = next(m for m in year if m.month == int(stated))
    else:
        month = dt.date.fromisoformat(f"{stated}-01")
    if month not in year:
        named = {"name": one.name, "found": one.hand_over_month}
        first, last = f"{year[0]:%Y-%m}", f"{year[-1]:%Y-%m}"
        raise ProgramError(say("plan.fail.round", first=first, last=last, **named))
    return Round(one.name, month, one.budget, one.hand_over_places, one.workshop_places)
