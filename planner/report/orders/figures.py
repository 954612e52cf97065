"""Figures of an order."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import polars as pl

from planner import __version__
from planner.figures import INTERVAL_PERCENT, Figure, FigureRegister, Input
from planner.ordering.plan import cost_by_quarter, cost_by_supplier, event_table, overall_levels
from planner.ordering.spares import demand_pmf
from planner.program import label_of_date
from planner.report.wording import PERCENT_PER_SHARE

if TYPE_CHECKING:
    from planner.report.orders.order import Order

SETTINGS = Input("program", "[ordering]")
OFFERS = Input("query", "offers", "table offers")
PROGRAM_METHOD = (
    "Least landed cost of an integer program over suppliers, packs, price breaks, least "
    "orders, freight, budgets and dates."
)


def register_order(order: Order) -> FigureRegister:
    """Register every figure of an order.

    Parameters
    ----------
    order
        The order as it is written.
    """
    label = label_of_date(order.plan.from_date, order.program.council.reporting_year_first_month)
    register = FigureRegister(order.program.council.name, label, __version__)
    _add_costs(register, order)
    _add_quantities(register, order)
    _add_levels(register, order)
    return register


def _add_costs(register: FigureRegister, order: Order) -> None:
    solution, lines, currency = order.solution, order.lines, order.program.council.currency
    inputs = (SETTINGS, OFFERS)
    for figure_id, label, value in (
        ("order_landed_cost", "Goods and freight of the whole order", solution.cost),
        ("order_goods_cost", "Goods of the whole order", float(lines["goods_amount"].sum())),
        ("order_freight_cost", "Freight of the whole order", float(lines["freight_amount"].sum())),
        ("order_least_cost_proven", "Cost below which no plan can be", solution.bound),
    ):
        register.add_exact(figure_id, label, value, currency, PROGRAM_METHOD, inputs)
    register.add_exact(
        "order_gap_share",
        "Share of the cost by which a cheaper plan may exist",
        solution.gap,
        "share",
        "Landed cost minus the least cost proven, over the landed cost.",
        (Input("figure", "order_landed_cost"), Input("figure", "order_least_cost_proven")),
    )
    _add_cost_parts(register, order)


def _add_cost_parts(register: FigureRegister, order: Order) -> None:
    inputs, currency = (SETTINGS, OFFERS), order.program.council.currency
    for row in cost_by_supplier(order.lines).iter_rows(named=True):
        name = order.supplier_name(row["supplier_id"])
        register.add_exact(
            f"order_supplier_cost[{row['supplier_id']}]",
            f"Goods and freight from {name}",
            row["landed_amount"],
            currency,
            "Sum of its lines and deliveries.",
            (Input("figure", "order_landed_cost"),),
        )
    for row in cost_by_quarter(order.plan, order.lines).iter_rows(named=True):
        part = row["begins"].isoformat() if row["begins"] else "no_budget"
        method = "Deliveries of the quarter, counted on the day on which they come."
        register.add_exact(
            f"order_quarter_cost[{part}]", f"Goods and freight of the quarter from {part}",
            row["landed_amount"], currency, method, inputs,
        )  # fmt: skip
        if row["budget"] is not None:
            register.add_exact(
                f"order_quarter_budget[{part}]", f"Budget left for the quarter from {part}",
                row["budget"], currency, "Of program.toml, less what is on order.", (SETTINGS,),
            )  # fmt: skip


def _add_quantities(register: FigureRegister, order: Order) -> None:
    plan = order.plan
    settings, events = plan.settings, plan.demand.events
    booked = int(events.booked_count.sum())
    up_to = np.cumsum(
        demand_pmf(events.booked_count, settings.show_up_share, settings.show_up_likeness)
    )
    low, high = (
        float(np.searchsorted(up_to, percent / PERCENT_PER_SHARE)) for percent in INTERVAL_PERCENT
    )
    counted = (Input("query", "upcoming_events", f"{len(events.event_ids)} hand-over days"),)
    register.add_exact(
        "order_booked", "Households that are booked", float(booked), "households",
        "Places of the hand-over days ahead.", counted,
    )  # fmt: skip
    register.add(
        Figure(
            "order_show_ups",
            "Households that are expected to come",
            booked * settings.show_up_share,
            low,
            high,
            "households",
            "Binomial of those booked at each day with the show-up share, wider where days differ; "
            "its middle 95%.",
            (Input("figure", "order_booked"), SETTINGS),
        )
    )
    register.add_exact(
        "order_starter_kg", "Worms for a bin", plan.starter_kg, "kg",
        "Of program.toml, by mass or by what a household scraps.", (SETTINGS,),
    )  # fmt: skip
    _add_items(register, order.lines)


def _add_items(register: FigureRegister, lines: pl.DataFrame) -> None:
    totals = lines.group_by("item_kind", "item_id").agg(quantity=pl.col("ordered_quantity").sum())
    for kind, item, quantity in totals.sort("item_kind", "item_id").iter_rows():
        register.add_exact(
            f"order_quantity[{item}]", f"{item} ordered", float(quantity),
            "bins" if kind == "bins" else "kg", "Whole packs of the order's lines.",
            (Input("figure", "order_show_ups"), SETTINGS),
        )  # fmt: skip


def _add_levels(register: FigureRegister, order: Order) -> None:
    for item, level in overall_levels(order.plan, order.lines).items():
        register.add_exact(
            f"order_service_level[{item}]",
            f"Chance that {item} runs short at no hand-over day",
            level,
            "share",
            "Exact law of independent show-ups, breakages and faults; stock is carried on.",
            (SETTINGS, Input("figure", "order_show_ups")),
        )
    for row in event_table(order.plan, order.lines).iter_rows(named=True):
        register.add_exact(
            f"order_event_worms_kg[{row['event_id']}]",
            f"Worms sent for {row['event_id']}",
            row["worms_sent_kg"],
            "kg",
            "What must be sent so that, after losses, enough is alive.",
            (SETTINGS, Input("figure", "order_starter_kg")),
        )
    for supplier, law in sorted(order.plan.laws.items()):
        register.add_exact(
            f"order_live_loss_share[{supplier}]",
            f"Share of worms from {supplier} expected dead on arrival",
            law.mean_share,
            "share",
            "Allowance for its days on the way, and its own deliveries once there are any.",
            (Input("query", "live_deliveries", f"{law.deliveries_count} deliveries"),),
        )
