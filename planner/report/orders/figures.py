"""Figures of an order."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import polars as pl

from planner import __version__
from planner.figures import INTERVAL_PERCENT, Figure, FigureRegister, Input
from planner.messages import said
from planner.ordering.plan import cost_by_quarter, cost_by_supplier, event_table, overall_levels
from planner.ordering.spares import demand_pmf
from planner.program import label_of_date
from planner.units import PER_CENT

if TYPE_CHECKING:
    from planner.report.orders.order import Order

SETTINGS = Input("program", "[ordering]")
OFFERS = Input("query", "offers", "table offers")


def register_order(order: Order) -> FigureRegister:
    """Register every figure of an order."""
    label = label_of_date(order.plan.from_date, order.program.council.reporting_year_first_month)
    register = FigureRegister(order.program.council.name, label, __version__)
    _add_costs(register, order)
    _add_quantities(register, order)
    _add_levels(register, order)
    return register


def _said(key: str, **filled: str) -> str:
    return said(f"order.figure.{key}", **filled)


def _add_costs(register: FigureRegister, order: Order) -> None:
    solution, lines, currency = order.solution, order.lines, order.program.council.currency
    inputs = (SETTINGS, OFFERS)
    for figure_id, label, value in (
        ("order_landed_cost", "landed_cost", solution.cost),
        ("order_goods_cost", "goods_cost", float(lines["goods_amount"].sum())),
        ("order_freight_cost", "freight_cost", float(lines["freight_amount"].sum())),
        ("order_least_cost_proven", "least_cost", solution.bound),
    ):
        method = _said("program")
        register.add_exact(figure_id, _said(label), value, currency, method, inputs)
    register.add_exact(
        "order_gap_share",
        _said("gap"),
        solution.gap,
        "share",
        _said("gap_method"),
        (Input("figure", "order_landed_cost"), Input("figure", "order_least_cost_proven")),
    )
    _add_cost_parts(register, order)


def _add_cost_parts(register: FigureRegister, order: Order) -> None:
    inputs, currency = (SETTINGS, OFFERS), order.program.council.currency
    for row in cost_by_supplier(order.lines).iter_rows(named=True):
        name = order.supplier_name(row["supplier_id"])
        register.add_exact(
            f"order_supplier_cost[{row['supplier_id']}]",
            _said("supplier_cost", supplier=name),
            row["landed_amount"],
            currency,
            _said("supplier_method"),
            (Input("figure", "order_landed_cost"),),
        )
    for row in cost_by_quarter(order.plan, order.lines).iter_rows(named=True):
        part = row["begins"].isoformat() if row["begins"] else "no_budget"
        method = _said("quarter_method")
        register.add_exact(
            f"order_quarter_cost[{part}]", _said("quarter_cost", day=part),
            row["landed_amount"], currency, method, inputs,
        )  # fmt: skip
        if row["budget"] is not None:
            register.add_exact(
                f"order_quarter_budget[{part}]", _said("quarter_budget", day=part),
                row["budget"], currency, _said("quarter_budget_method"), (SETTINGS,),
            )  # fmt: skip


def _add_quantities(register: FigureRegister, order: Order) -> None:
    plan = order.plan
    settings, events = plan.settings, plan.demand.events
    booked = int(events.booked_count.sum())
    up_to = np.cumsum(
        demand_pmf(events.booked_count, settings.show_up_share, settings.show_up_likeness)
    )
    low, high = (float(np.searchsorted(up_to, percent / PER_CENT)) for percent in INTERVAL_PERCENT)
    counted = (Input("query", "upcoming_events", f"{len(events.event_ids)} hand-over days"),)
    register.add_exact(
        "order_booked", _said("booked"), float(booked), "households",
        _said("booked_method"), counted,
    )  # fmt: skip
    register.add(
        Figure(
            "order_show_ups",
            _said("show_ups"),
            booked * settings.show_up_share,
            low,
            high,
            "households",
            _said("show_ups_method"),
            (Input("figure", "order_booked"), SETTINGS),
        )
    )
    register.add_exact(
        "order_starter_kg", _said("starter"), plan.starter_kg, "kg",
        _said("starter_method"), (SETTINGS,),
    )  # fmt: skip
    _add_items(register, order.lines)


def _add_items(register: FigureRegister, lines: pl.DataFrame) -> None:
    totals = lines.group_by("item_kind", "item_id").agg(quantity=pl.col("ordered_quantity").sum())
    for kind, item, quantity in totals.sort("item_kind", "item_id").iter_rows():
        register.add_exact(
            f"order_quantity[{item}]", _said("quantity", item=item), float(quantity),
            "bins" if kind == "bins" else "kg", _said("quantity_method"),
            (Input("figure", "order_show_ups"), SETTINGS),
        )  # fmt: skip


def _add_levels(register: FigureRegister, order: Order) -> None:
    for item, level in overall_levels(order.plan, order.lines).items():
        register.add_exact(
            f"order_service_level[{item}]",
            _said("level", item=item),
            level,
            "share",
            _said("level_method"),
            (SETTINGS, Input("figure", "order_show_ups")),
        )
    for row in event_table(order.plan, order.lines).iter_rows(named=True):
        register.add_exact(
            f"order_event_worms_kg[{row['event_id']}]",
            _said("event_worms", event=row["event_id"]),
            row["worms_sent_kg"],
            "kg",
            _said("event_method"),
            (SETTINGS, Input("figure", "order_starter_kg")),
        )
    for supplier, law in sorted(order.plan.laws.items()):
        register.add_exact(
            f"order_live_loss_share[{supplier}]",
            _said("loss", supplier=supplier),
            law.mean_share,
            "share",
            _said("loss_method"),
            (Input("query", "live_deliveries", f"{law.deliveries_count} deliveries"),),
        )
