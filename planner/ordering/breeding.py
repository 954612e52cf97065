"""Buy or breed: what a nursery would have to hold and cost, against buying the same worms."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import polars as pl

from planner.errors import OrderError
from planner.factors.draws import draw_factors
from planner.messages import say
from planner.ordering.demand import WORMS, live_show_ups
from planner.ordering.inputs import events_of, read_inputs, starter_kg, with_own_turnout
from planner.ordering.offers import folded, joined_by_or
from planner.units import DAYS_PER_WEEK, DAYS_PER_YEAR
from planner.worms.nursery_plan import FINEST_SHARE, NURSERY_FACTOR_IDS, Need, Nursery
from planner.worms.temperature import bed_temperature_c

if TYPE_CHECKING:
    from collections.abc import Callable, Collection, Sequence
    from pathlib import Path

    from numpy.typing import NDArray

    from planner.factors import FactorTable
    from planner.ordering.demand import Events
    from planner.ordering.request import OrderRequest
    from planner.program import Program
    from planner.program.ordering import Nursery as NurseryBlock
    from planner.worms.nursery_plan import NurseryPlan

SEEDINGS_APART_DAYS = 28
"""Seeding days that are compared lie this far apart."""

MOST_SEEDINGS = 13
TWO_SIDED_95 = 1.96
SIDES = np.array([-1.0, 0.0, 1.0])
BED = "bed"
"""Row of the doubling time for worked beds."""


@dataclass(frozen=True)
class Seeding:
    """One day on which the beds could be seeded, and what follows."""

    seed_date: dt.date
    plan: NurseryPlan | None  # the least seed that does; None where none does
    reason: str = ""  # why none does; empty where one does
    # worms to seed with, the beds' share of their life, and care [currency]
    seed_cost: float = 0.0
    bed_cost: float = 0.0
    care_cost: float = 0.0

    @property
    def cost(self) -> float:
        """All of it [currency]."""
        return self.seed_cost + self.bed_cost + self.care_cost

    def cost_within(self, needs: Sequence[Need]) -> tuple[float, float]:
        """Limits between which the draws and the search leave the cost, at 95% [currency].

        Each draw asks for the seed that just meets its needs, which is nearly in proportion
        to how far its beds fall short or are ahead; beds and care go with the seed. The seed
        of the plan is a quantile of those. Its limits are the two draws whose ranks bound
        that quantile (distribution-free interval by the binomial law, Conover, Practical
        Nonparametric Statistics, 3rd edition, chapter 3.2, from memory).
        """
        if self.plan is None:
            return 0.0, 0.0
        wanted = np.array([need.worms_kg for need in needs])
        asked = np.sort((wanted / self.plan.ready_kg[1:]).max(axis=1))
        share = self.plan.chance
        spread = TWO_SIDED_95 * np.sqrt(share * (1.0 - share) / asked.size)
        low, middle, high = np.quantile(asked, np.clip(share + spread * SIDES, 0.0, 1.0))
        return (
            float(self.cost * low / middle) * (1.0 - FINEST_SHARE),
            float(self.cost * high / middle) * (1.0 + FINEST_SHARE),
        )


@dataclass(frozen=True)
class BuyOrBreed:
    """A nursery's seedings beside the price of buying the same worms."""

    needs: tuple[Need, ...]  # worms for each hand-over day
    seedings: tuple[Seeding, ...]  # in order of time
    price_per_kg: float  # of worms bought [currency/kg]

    @property
    def needed_kg(self) -> float:
        """Worms for all hand-over days [kg]."""
        return sum(need.worms_kg for need in self.needs)

    @property
    def buying_cost(self) -> float:
        """Price of buying them all, before freight and losses [currency]."""
        return self.needed_kg * self.price_per_kg

    def verdict(self, best: Seeding) -> str:
        """Whether breeding costs less or more than buying, or the same as far as is known."""
        low, high = best.cost_within(self.needs)
        if low <= self.buying_cost <= high:
            return "same"
        return "less" if best.cost < self.buying_cost else "more"

    @property
    def cheapest(self) -> Seeding | None:
        """The seeding that costs least; None where none does."""
        found = [one for one in self.seedings if one.plan is not None]
        return min(found, key=lambda one: one.cost) if found else None


def plan_nursery(
    folder: Path,
    program: Program,
    factors: FactorTable,
    request: OrderRequest,
    *,
    progress: Callable[[str], None],
) -> BuyOrBreed:
    """Compare seedings with buying, from the records of a program folder.

    Raises
    ------
    OrderError
        There are no hand-over days ahead, no nursery or no price of worms.
    StoreError
        The records cannot be read.
    """
    inputs = read_inputs(folder, request, program)
    program = with_own_turnout(program, inputs.turnout)
    events = events_of(inputs.events, request)
    needs = worms_needed(program, events, starter_kg(program, factors, inputs.people))
    progress(say("nursery.doing", len(needs)))
    return buy_or_breed(program, factors, needs, request.from_date, inputs.offers)


def worms_needed(program: Program, events: Events, starter_kg: float) -> tuple[Need, ...]:
    """Worms that each hand-over day takes, at the levels of service of an order."""
    settings = program.ordering
    households, _ = live_show_ups(
        events.booked_count,
        settings.show_up_share,
        settings.event_service_level,
        settings.overall_service_level,
        settings.show_up_likeness,
    )
    return tuple(
        Need(event_id, day, float(count) * starter_kg)
        for event_id, day, count in zip(
            events.event_ids, events.event_dates, households, strict=True
        )
    )


def buy_or_breed(
    program: Program,
    factors: FactorTable,
    needs: Sequence[Need],
    from_date: dt.date,
    offers: pl.DataFrame,
) -> BuyOrBreed:
    """Compare seedings of the nursery with buying.

    Parameters
    ----------
    from_date
        First day on which may be seeded, unless the program file names one.
    offers
        Records of offers, for the price of worms.

    Raises
    ------
    OrderError
        The program file has no nursery, or no price of worms is known.
    """
    block = program.nursery
    if block is None:
        raise OrderError(say("nursery.fail.no_block"), path="program.toml")
    price = block.worms_price_per_kg or _cheapest_per_kg(offers, program.ordering.species)
    drawn = _drawn(factors, program)
    bed_c = block.monthly_bed_temperature_c
    if bed_c is None:
        # a sheltered bed warms itself in the cold
        bed_c = bed_temperature_c(
            program.climate.monthly_mean_temperature_c,
            factors.find("bed_above_air_c").value,
            drawn["feeding_optimum_low_c"][0],
        ).tolist()
    nursery = Nursery(bed_c, drawn, block.bed_area_m2, block.chance)
    first = max(from_date, block.earliest_seed_date or from_date)
    last = min(need.on_date for need in needs)
    count = min(MOST_SEEDINGS, max(1, -((first - last).days // SEEDINGS_APART_DAYS)))
    days = [first + dt.timedelta(days=n * SEEDINGS_APART_DAYS) for n in range(count)]
    found = [_seeding(block, nursery, needs, day, price) for day in days]
    return BuyOrBreed(tuple(needs), tuple(found), price)


def _seeding(
    block: NurseryBlock, nursery: Nursery, needs: Sequence[Need], day: dt.date, price: float
) -> Seeding:
    try:
        plan = nursery.plan(day, needs)
    except OrderError as error:
        return Seeding(day, None, str(error).removeprefix("nursery: "))
    days = (max(need.on_date for need in needs) - day).days
    bed = plan.area_m2 * block.bed_cost_per_m2 / block.bed_life_years * days / DAYS_PER_YEAR
    care = plan.area_m2 * block.care_cost_per_m2_week * days / DAYS_PER_WEEK
    return Seeding(day, plan, "", plan.seed_kg * price, bed, care)


def _cheapest_per_kg(offers: pl.DataFrame, species: Collection[str]) -> float:
    """Price of a kilogram of a species that is taken; what is refused has no price here."""
    taken = {folded(name) for name in species}
    is_taken = [folded(name) in taken for name in offers["item_id"]]
    worms = offers.filter(pl.Series(is_taken, dtype=pl.Boolean) & (pl.col("item_kind") == WORMS))
    if worms.is_empty():
        message = say("nursery.fail.no_price", species=joined_by_or(species))
        raise OrderError(message, path="program.toml")
    return float((worms["price_per_pack"] / worms["pack_quantity"]).min())  # type: ignore[arg-type]


def _drawn(factors: FactorTable, program: Program) -> dict[str, NDArray[np.float64]]:
    rows = [
        factors.find(name, BED) if name == "doubling_days" else factors.find(name)
        for name in NURSERY_FACTOR_IDS
    ]
    method = program.method
    return draw_factors(rows, method.draws_count, method.seed)
