"""Figures of an order."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import polars as pl

from planner.figures import INTERVAL_PERCENT, Input
from planner.ordering.plan import cost_by_quarter, cost_by_supplier, event_table, overall_levels
from planner.ordering.spares import demand_pmf
from planner.program import label_of_date
from planner.report.inputs import WordedFigures
from planner.units import PER_CENT

if TYPE_CHECKING:
    from planner.figures import FigureRegister
    from planner.report.orders.order import Order

SETTINGS = Input("program", "[ordering]")
OFFERS = Input("query", "offers", "table offers")


def register_order(order: Order) -> FigureRegister:
    """Register every figure of an order."""
    label = label_of_date(order.plan.from_date, order.program.council.reporting_year_first_month)
    figures = WordedFigures.of(order.program, label, "order.figure.")
    _put_costs(figures, order)
    _put_quantities(figures, order)
    _put_levels(figures, order)
    return figures.register


def _put_costs(figures: WordedFigures, order: Order) -> None:
    solution, lines, currency = order.solution, order.lines, order.program.council.currency
    whole, least = "order_landed_cost", "order_least_cost_proven"
    for figure_id, label, value in (
        (whole, "landed_cost", solution.cost),
        ("order_goods_cost", "goods_cost", float(lines["goods_amount"].sum())),
        ("order_freight_cost", "freight_cost", float(lines["freight_amount"].sum())),
        (least, "least_cost", solution.bound),
    ):
        figures.put(figure_id, label, value, currency, "program", SETTINGS, OFFERS)
    figures.put("order_gap_share", "gap", solution.gap, "share", "gap_method", whole, least)
    for row in cost_by_supplier(lines).iter_rows(named=True):
        figure_id = f"order_supplier_cost[{row['supplier_id']}]"
        cost, supplier = row["landed_amount"], order.supplier_name(row["supplier_id"])
        method = "supplier_method"
        figures.put(figure_id, "supplier_cost", cost, currency, method, whole, supplier=supplier)
    for row in cost_by_quarter(order.plan, lines).iter_rows(named=True):
        day = row["begins"].isoformat() if row["begins"] else "no_budget"
        for name, value, rests_on in (
            ("quarter_cost", row["landed_amount"], (SETTINGS, OFFERS)),
            ("quarter_budget", row["budget"], (SETTINGS,)),
        ):
            method = "quarter_method" if name == "quarter_cost" else "quarter_budget_method"
            if value is not None:
                figures.put(
                    f"order_{name}[{day}]", name, value, currency, method, *rests_on, day=day
                )


def _put_quantities(figures: WordedFigures, order: Order) -> None:
    settings, events = order.plan.settings, order.plan.demand.events
    booked = int(events.booked_count.sum())
    up_to = np.cumsum(
        demand_pmf(events.booked_count, settings.show_up_share, settings.show_up_likeness)
    )
    low, high = (float(np.searchsorted(up_to, percent / PER_CENT)) for percent in INTERVAL_PERCENT)
    counted = Input("query", "upcoming_events", f"{len(events.event_ids)} hand-over days")
    unit, come = "households", (booked * settings.show_up_share, low, high)
    figures.put("order_booked", "booked", float(booked), unit, "booked_method", counted)
    figures.put(
        "order_show_ups", "show_ups", come, unit, "show_ups_method", "order_booked", SETTINGS
    )
    starter_kg = order.plan.starter_kg
    figures.put("order_starter_kg", "starter", starter_kg, "kg", "starter_method", SETTINGS)
    totals = order.lines.group_by("item_kind", "item_id").agg(pl.col("ordered_quantity").sum())
    for kind, item, quantity in totals.sort("item_kind", "item_id").iter_rows():
        name, unit = f"order_quantity[{item}]", "bins" if kind == "bins" else "kg"
        method, rests_on = "quantity_method", ("order_show_ups", SETTINGS)
        figures.put(name, "quantity", float(quantity), unit, method, *rests_on, item=item)


def _put_levels(figures: WordedFigures, order: Order) -> None:
    for item, level in overall_levels(order.plan, order.lines).items():
        name, rests_on = f"order_service_level[{item}]", (SETTINGS, "order_show_ups")
        figures.put(name, "level", level, "share", "level_method", *rests_on, item=item)
    for row in event_table(order.plan, order.lines).iter_rows(named=True):
        event, sent_kg = row["event_id"], row["worms_sent_kg"]
        name, rests_on = f"order_event_worms_kg[{event}]", (SETTINGS, "order_starter_kg")
        figures.put(name, "event_worms", sent_kg, "kg", "event_method", *rests_on, event=event)
    for supplier, law in sorted(order.plan.laws.items()):
        name = f"order_live_loss_share[{supplier}]"
        held = Input("query", "live_deliveries", f"{law.deliveries_count} deliveries")
        share = law.mean_share
        figures.put(name, "loss", share, "share", "loss_method", held, supplier=supplier)
