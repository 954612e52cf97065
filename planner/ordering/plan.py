"""The plan of an order: what is bought, from whom, when it comes, and what it costs."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import polars as pl

from planner.messages import paper
from planner.ordering.demand import WORMS, taking_law
from planner.ordering.spares import demand_pmf, enough_probability, overall_probability
from planner.survey.attendance import turnout

if TYPE_CHECKING:
    from collections.abc import Mapping

    from planner.arrays import Numbers
    from planner.ordering.alternatives import Alternative
    from planner.ordering.assembling import BeddingPlan
    from planner.ordering.clashes import Clashes
    from planner.ordering.climate import ClimateOption
    from planner.ordering.commitments import InventoryPosition
    from planner.ordering.demand import Demand
    from planner.ordering.problem import PurchaseProblem
    from planner.ordering.slots import Calendar, Lateness
    from planner.ordering.solving import Purchase, Solution
    from planner.program.ordering import Ordering
    from planner.worms.transit import LossLaw


@dataclass(frozen=True)
class ServiceCost:
    """What a level of service costs."""

    overall_level: float  # chance that no hand-over day runs short of anything
    cost: float | None  # least landed cost found; None where no plan meets every limit
    # whether the search ended by itself; if not, there may be a plan though none was found
    is_decided: bool = True


@dataclass(frozen=True)
class OrderPlan:
    """Everything that an order rests on, and the order where there is one."""

    from_date: dt.date  # first day on which may be ordered
    settings: Ordering
    # quantities needed, and the purchase problem they make
    demand: Demand
    problem: PurchaseProblem
    solution: Solution | None  # the cheapest plan; None where no plan meets every limit
    clashes: Clashes | None  # what must give way then
    alternatives: tuple[Alternative, ...]  # other choices of suppliers
    laws: dict[str, LossLaw]  # losses of live worms, by supplier
    starter_kg: float  # worms for a bin [kg]
    bedding: BeddingPlan  # what goes into the bins
    calendar: Calendar  # working days, weather and budgets
    # what is in store and on order, and how late each supplier came before
    position: InventoryPosition
    lateness: Mapping[str, Lateness]
    # share that a bin of each model takes of its household's scraps, by months since the hand-over
    run_in: dict[str, Numbers]
    reconciled: pl.DataFrame  # rows of the query stock_reconciled
    notes: tuple[str, ...] = ()  # what the officer should know
    service_costs: tuple[ServiceCost, ...] = ()  # what other levels of service would cost
    climate_options: tuple[ClimateOption, ...] = ()  # what can be done about heat and frost

    @property
    def has_lines(self) -> bool:
        """Tell whether there is anything to order."""
        return self.solution is not None and bool(self.solution.purchases)


def order_lines(solution: Solution) -> pl.DataFrame:
    """Lines of the order, by supplier and day of delivery.

    Returns
    -------
    DataFrame
        slot, supplier_id, offer_id, item_kind, item_id, order_date, latest_order_date,
        dispatch_date, delivery_date, packs_count, pack_quantity, ordered_quantity,
        goods_amount, freight_amount: of the whole delivery, on its first line, held_chance,
        and packing. The order date leaves some days to spare before the latest.
    """
    rows = []
    charged: set[int] = set()
    for one in solution.purchases:
        slot = solution.problem.lines[one.line].slot
        freight = 0.0 if slot in charged else solution.freight(slot)
        charged.add(slot)
        rows.append(_order_line(solution.problem, one, freight))
    lines = pl.DataFrame(rows, schema=LINE_COLUMNS, orient="row")
    # a delivery is one order, placed in time for the slowest of its lines
    first = [pl.col(name).min().over("slot") for name in ("order_date", "latest_order_date")]
    return lines.with_columns(first).sort(
        "order_date", "supplier_id", "delivery_date", "item_kind", "item_id", "offer_id"
    )


def _order_line(problem: PurchaseProblem, one: Purchase, freight: float) -> tuple[object, ...]:
    line = problem.lines[one.line]
    offer, slot = problem.offers[line.offer], problem.slots[line.slot]
    return (
        line.slot,
        slot.supplier_id,
        offer.offer_id,
        offer.item_kind,
        offer.item_name,
        line.order_date,
        line.latest_order_date or line.order_date,
        slot.dispatch_date,
        slot.delivery_date,
        one.packs_count,
        offer.pack_quantity,
        one.packs_count * offer.pack_quantity,
        one.goods_amount,
        freight,
        line.held_chance,
        offer.packing,
    )


LINE_COLUMNS = {
    "slot": pl.Int64(),
    "supplier_id": pl.String(),
    "offer_id": pl.String(),
    "item_kind": pl.String(),
    "item_id": pl.String(),
    "order_date": pl.Date(),
    "latest_order_date": pl.Date(),
    "dispatch_date": pl.Date(),
    "delivery_date": pl.Date(),
    "packs_count": pl.Int64(),
    "pack_quantity": pl.Float64(),
    "ordered_quantity": pl.Float64(),
    "goods_amount": pl.Float64(),
    "freight_amount": pl.Float64(),
    "held_chance": pl.Float64(),
    "packing": pl.String(),
}


def cost_by_quarter(plan: OrderPlan, lines: pl.DataFrame) -> pl.DataFrame:
    """Landed cost of the deliveries of each quarter, beside its budget.

    Returns
    -------
    DataFrame
        begins, landed_amount, budget; a row with begins null for days without a budget.
    """
    quarters = plan.problem.quarters
    budgets = pl.DataFrame(
        {"begins": [one.begins for one in quarters], "budget": [one.budget for one in quarters]},
        schema={"begins": pl.Date, "budget": pl.Float64},
    )
    landed = (
        lines.sort("delivery_date")
        .join_asof(budgets.select("begins"), left_on="delivery_date", right_on="begins",
                   coalesce=False)
        .group_by("begins")
        .agg(landed_amount=(pl.col("goods_amount") + pl.col("freight_amount")).sum())
    )  # fmt: skip
    joined = budgets.join(landed, on="begins", how="full", coalesce=True, nulls_equal=True)
    return joined.select("begins", pl.col("landed_amount").fill_null(0.0), "budget").sort(
        "begins", nulls_last=True
    )


def cost_by_supplier(lines: pl.DataFrame) -> pl.DataFrame:
    """Goods, freight and deliveries of each supplier, and when its first order is placed."""
    return (
        lines.group_by("supplier_id")
        .agg(
            goods_amount=pl.col("goods_amount").sum(),
            freight_amount=pl.col("freight_amount").sum(),
            deliveries_count=pl.col("slot").n_unique().cast(pl.Int64),
            order_date=pl.col("order_date").min(),
            latest_order_date=pl.col("latest_order_date").min(),
        )
        .with_columns(landed_amount=pl.col("goods_amount") + pl.col("freight_amount"))
        .sort("landed_amount", "supplier_id", descending=[True, False])
    )


def event_table(plan: OrderPlan, lines: pl.DataFrame) -> pl.DataFrame:
    """Set out what each hand-over day has, and how sure it is to have enough.

    Returns
    -------
    DataFrame
        event_id, event_date, place, booked_count, expected_count, bins_bought_count (of all
        models by then), bins_level (least of the models, by what was really bought),
        show_ups_count (for whom worms will be there), worms_alive_kg (that they need),
        worms_sent_kg (for them, before losses), worms_level.
    """
    events, settings = plan.demand.events, plan.settings
    served = served_count(plan)
    bought = {model: _bought_by_event(plan, lines, model) for model in plan.demand.bins}
    levels = _bins_levels(plan, bought)
    sent_kg = np.zeros(len(events.event_ids))
    for (number, _), kilos in (plan.solution.sent_kg if plan.solution else {}).items():
        sent_kg[number] += kilos
    return pl.DataFrame(
        {
            "event_id": events.event_ids,
            "event_date": events.event_dates,
            "place": events.places_names,
            "booked_count": events.booked_count,
            "expected_count": events.booked_count * settings.show_up_share,
            "bins_bought_count": sum(bought.values()),
            "bins_level": levels,
            "show_ups_count": served,
            "worms_alive_kg": served * plan.starter_kg,
            "worms_sent_kg": sent_kg,
            "worms_level": worms_levels(plan),
        }
    )


def _bought_by_event(plan: OrderPlan, lines: pl.DataFrame, model: str) -> np.ndarray:
    """Bins of a model that will have come in time for each event, with those on order."""
    events = plan.demand.events
    ready = [day - dt.timedelta(days=plan.settings.ready_days_before) for day in events.event_dates]
    mine = lines.filter((pl.col("item_kind") == "bins") & (pl.col("item_id") == model))
    came = [mine.filter(pl.col("delivery_date") <= day)["ordered_quantity"].sum() for day in ready]
    needed = plan.demand.bins[model].bought_count
    stored = next(one for one in plan.problem.stored if one.item == model)
    on_order = needed - stored.quantities
    return np.asarray(np.maximum(on_order, 0.0) + np.array(came)).astype(np.int64)


def _bins_levels(plan: OrderPlan, bought: dict[str, np.ndarray]) -> np.ndarray:
    settings, demand = plan.settings, plan.demand
    booked = demand.events.booked_count
    least = np.ones(len(booked))
    for model, counts in bought.items():
        taking = taking_law(settings, demand.model_shares[model])
        stock = plan.position.bins_in_stock.get(model, 0)
        levels = [
            enough_probability(
                int(count), settings.usable_share, demand_pmf(booked[:until], *taking), stock
            )
            for until, count in enumerate(counts, start=1)
        ]
        least = np.minimum(least, levels)
    return least


def served_count(plan: OrderPlan) -> np.ndarray:
    """Households for whom worms will be alive, by event: fewer where the plan asks for less."""
    served = plan.demand.show_ups_count.copy()
    for change in plan.clashes.least if plan.clashes else ():
        if change.family == "live_need":
            number = int(change.key[0])
            served[number] = int(np.floor(served[number] * (1.0 - change.change) + 1e-6))
    return np.asarray(served)


def overall_levels(plan: OrderPlan, lines: pl.DataFrame) -> dict[str, float]:
    """Chance that an item runs short at no event at all, by what was really bought."""
    settings, demand = plan.settings, plan.demand
    levels = {
        model: overall_probability(
            np.maximum.accumulate(_bought_by_event(plan, lines, model)),
            settings.usable_share,
            demand.events.booked_count,
            *taking_law(settings, demand.model_shares[model]),
            plan.position.bins_in_stock.get(model, 0),
        )
        for model in demand.bins
    }
    return {**levels, WORMS: float(np.prod(worms_levels(plan)))}


def events_without_worms(plan: OrderPlan) -> list[int]:
    """Places of the hand-over days for which no worms will be there at all."""
    needs = plan.demand.show_ups_count > 0
    return np.flatnonzero(needs & (served_count(plan) == 0)).tolist()


def events_with_fewer_worms(plan: OrderPlan) -> list[int]:
    """Places of the hand-over days with worms, but for fewer households than are to be served."""
    served = served_count(plan)
    return np.flatnonzero((served > 0) & (served < plan.demand.show_ups_count)).tolist()


def goes_short_of_goods(plan: OrderPlan) -> bool:
    """Tell whether the accepted changes leave hand-over days short of bins or bedding."""
    return plan.clashes is not None and any(one.family == "need" for one in plan.clashes.least)


def worms_levels(plan: OrderPlan) -> np.ndarray:
    """Chance that each event has worms enough: that asked for, or less where fewer are served."""
    served, booked = served_count(plan), plan.demand.events.booked_count
    settings = plan.settings
    law = turnout(booked, settings.show_up_share, settings.show_up_likeness)
    fewer = law.cdf(served) * (served > 0)
    return np.asarray(
        np.where(served >= plan.demand.show_ups_count, plan.demand.worms_level, fewer)
    )


EXCESS_SHARE = 0.5
"""Part of what is needed beyond which more is named."""


def excess_notes(plan: OrderPlan) -> list[str]:
    """Name what the plan buys far beyond need, since least orders or packs ask for it.

    What a pack or two bring on top is no excess.
    """
    if plan.solution is None:
        return []
    needed = {need.item: float(need.quantities[-1]) for need in plan.problem.stored}
    needed[WORMS] = float(sum(plan.solution.sent_kg.values()))
    item = pl.when(pl.col("item_kind") == WORMS).then(pl.lit(WORMS)).otherwise("item_id")
    bought = order_lines(plan.solution).group_by(item.alias("item"))
    sums = bought.agg(pl.col("ordered_quantity", "pack_quantity").sum()).sort("item")
    return [
        paper().say(
            "order.note.excess",
            quantity=paper().decimal(quantity, "#,##0"),
            item=item,
            needed=paper().decimal(needed[item], "#,##0"),
        )
        for item, quantity, packs in sums.iter_rows()
        if quantity > needed[item] * (1.0 + EXCESS_SHARE) + packs
    ]
