"""Papers before the order: the request for quotes, and the quotes side by side."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING

import polars as pl

from planner.ordering.offers import Quote, quote, ranked
from planner.report.orders.cautions import GOODS_CONDITIONS, live_conditions
from planner.report.orders.order import PACKING_WORDS, day_cell, unit_of
from planner.report.orders.papers import Paper, PaperTable, Part
from planner.report.orders.purchase_orders import SalesTax

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from planner.cells import Cell
    from planner.report.orders.order import Order

QUOTE_HEADINGS = (
    "Your item",
    "In a pack",
    "Price of a pack",
    "Lower price from",
    "Freight of a delivery",
    "Lead time, days",
    "Holds until",
    "Tax rate",
)
BETTER_PACKING = (
    "Quote insulated boxes, cold packs and heat packs on separate lines, with the "
    "coldest and warmest hour outdoors through which you send worms so."
)
MOST_BESIDE = 6
"""Offers that fit side by side on a page; dearer ones are named below."""


def request_for_quotes(order: Order) -> Paper:
    """Ask suppliers for what the plan buys, without telling whom it would buy from."""
    terms, council = order.program.purchasing, order.program.council.name
    reply = order.wording.day(order.plan.from_date + dt.timedelta(days=terms.reply_days))
    species = sorted(set(order.lines.filter(item_kind="worms")["item_id"]))
    plain = [(PACKING_WORDS[""], order.plan.calendar.weather.plain)]
    live = [one for name in species for one in live_conditions(name, plain)]
    if live:
        live.append(BETTER_PACKING)
    place = order.plan.settings.delivery_place
    where = "the place named in the order" if place is None else f"{place.name}, {place.address}"
    return Paper(
        "request_for_quotes",
        "Request for quotes",
        f"Request for quotes of {order.wording.day(order.plan.from_date)}",
        f"From {council}. Reply by {reply}. This is not an order.",
        (
            Part("What is needed, by day of delivery", table=_needed(order)),
            Part(
                "Terms",
                points=(
                    f"Delivery: {terms.delivery_terms}. To {where}.",
                    f"Payment: {terms.payment_terms}.",
                    f"Back orders: {terms.back_orders}.",
                ),
            ),
            Part("Conditions", points=(*live, *GOODS_CONDITIONS)),
            Part(
                "Your quote",
                ("One line for each item and pack; quantities may be quoted in part.",),
                table=PaperTable(QUOTE_HEADINGS, (("",) * len(QUOTE_HEADINGS),) * 4),
            ),
        ),
        (30, 17, 17, 17, 17, 15, 15, 11),
    )


def _needed(order: Order) -> PaperTable:
    needed = order.lines.group_by("item_kind", "item_id", "delivery_date").agg(
        pl.col("ordered_quantity").sum()
    )
    rows = tuple(
        (
            order.item_name(kind, item),
            day_cell(day, order.wording),
            order.quantity(quantity, kind),
        )
        for kind, item, day, quantity in needed.sort(
            "item_kind", "item_id", "delivery_date"
        ).iter_rows()
    )
    return PaperTable(("Item", "Deliver on", "Quantity"), rows)


def quotes_compared(order: Order) -> Paper:
    """Set the quotes of each item side by side by what a usable unit costs on arrival."""
    items = order.lines.select("item_kind", "item_id").unique().sort("item_kind", "item_id")
    parts = tuple(_item(order, kind, item) for kind, item in items.iter_rows())
    return Paper(
        "quotes_compared",
        "Quotes compared",
        "Quotes compared by landed unit cost",
        "Each offer is asked for all that is needed of its item, split into the deliveries of the "
        "order, each ordered apart; below it, what one order of all would come to. The order "
        "itself may mix offers.",
        parts,
        (34, *[19] * MOST_BESIDE),
    )


def _item(order: Order, kind: str, item: str) -> Part:
    quotes = item_quotes(order, kind, item)
    shown, left = quotes[:MOST_BESIDE], quotes[MOST_BESIDE:]
    names = tuple(f"{order.supplier_name(q.offer.supplier_id)} {q.offer.offer_id}" for q in shown)
    notes = [
        f"Also quoted, dearer: {order.supplier_name(q.offer.supplier_id)} {q.offer.offer_id}, "
        f"{order.wording.money(q.landed_unit_cost, 2)}."
        for q in left
    ]
    return Part(
        order.item_name(kind, item),
        table=PaperTable(("Offer", *names), _rows(order, kind, shown)),
        notes=tuple(notes),
    )


def item_quotes(order: Order, kind: str, item: str) -> list[Quote]:
    """Quotes for what the order buys of an item, the cheapest first.

    Parameters
    ----------
    order
        The order.
    kind, item
        Item as on the order's lines; worms of every species taken stand in one comparison.
    """
    mine = order.lines.filter(item_kind=kind, item_id=item)
    problem, settings = order.plan.problem, order.plan.settings
    bins_lost = 1.0 - settings.usable_share

    def lost(supplier_id: str) -> float:
        if kind == "worms":
            return order.plan.laws[supplier_id].mean_share
        return bins_lost if kind == "bins" else 0.0

    usable: dict[dt.date, float] = {}
    needed = mine.select("delivery_date", "supplier_id", "ordered_quantity").sort("delivery_date")
    for day, supplier, quantity in needed.iter_rows():
        usable[day] = usable.get(day, 0.0) + quantity * (1.0 - lost(supplier))
    offers = [
        one
        for one in problem.offers
        if one.item_kind == kind and (kind == "worms" or one.item_name == item)
    ]
    return ranked(
        [
            quote(
                one, problem.suppliers[one.supplier_id], [*usable.values()], lost(one.supplier_id)
            )
            for one in offers
        ]
    )


def _rows(order: Order, kind: str, quotes: Sequence[Quote]) -> tuple[tuple[Cell, ...], ...]:
    tax, unit = SalesTax.of(order.program), "bin" if kind == "bins" else "kg"

    def taxed(one: Quote) -> float:
        return tax.amount(one.goods_amount, kind) + tax.amount(one.freight_amount, "freight")

    def total(one: Quote) -> float:
        return one.landed_amount + (0.0 if tax.is_included else taxed(one))

    lines: tuple[tuple[str, Callable[[Quote], Cell]], ...] = (
        *((("Packed", lambda q: PACKING_WORDS[q.offer.packing]),) if kind == "worms" else ()),
        ("In a pack", lambda q: order.quantity(q.offer.pack_quantity, kind)),
        ("Packs", lambda q: order.count(q.packs_count)),
        ("Deliveries", lambda q: order.count(len(q.packs_counts))),
        ("Goods, as so split", lambda q: order.money(q.goods_amount, places=2)),
        ("Freight", lambda q: order.money(q.freight_amount, places=2)),
        (f"{tax.name}{' in it' if tax.is_included else ''}",
         lambda q: order.money(taxed(q), places=2)),
        ("Whole, with tax", lambda q: order.money(total(q), places=2)),
        ("Lost on the way, broken or faulty", lambda q: order.share(q.lost_share)),
        (f"Usable {unit_of(kind)}", lambda q: order.quantity(q.usable_quantity, kind)),
        (f"Landed cost of a usable {unit}", lambda q: order.money(q.landed_unit_cost, places=2)),
        (f"The same with tax, a {unit}",
         lambda q: order.money(total(q) / q.usable_quantity, places=2)),
        ("All in one order and delivery, without tax",
         lambda q: order.money(q.whole_amount, places=2)),
        ("Deliveries below its least order", lambda q: order.count(q.below_least_count)),
        ("Dearer than the cheapest by",
         lambda q: order.share(q.landed_unit_cost / quotes[0].landed_unit_cost - 1.0)),
    )  # fmt: skip
    return tuple((words, *(cell(one) for one in quotes)) for words, cell in lines)
