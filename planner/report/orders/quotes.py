"""Papers before the order: the request for quotes, and the quotes side by side."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Sequence

import polars as pl

from planner.cells import Cell
from planner.messages import said
from planner.ordering.offers import Quote, quote
from planner.program.money import SalesTax
from planner.report.orders.order import Order, columns, day_cell, packing_words
from planner.report.orders.papers import Paper, PaperTable, Part, goods_conditions, live_conditions
from planner.report.orders.purchase_orders import back_order_words

ASKED = (
    "your_item in_a_pack price_of_a_pack lower_price_from freight_of_a_delivery lead_time "
    "holds_until tax_rate"
)
MOST_BESIDE = 6
"""Offers that fit side by side on a page; dearer ones are named below."""


def request_for_quotes(order: Order) -> Paper:
    """Ask suppliers for what the plan buys, without telling whom it would buy from."""
    terms, council = order.program.purchasing, order.program.council.name
    reply = order.wording.day(order.plan.from_date + dt.timedelta(days=terms.reply_days))
    species = sorted(set(order.lines.filter(item_kind="worms")["item_id"]))
    plain = [(packing_words(""), order.plan.calendar.weather.plain)]
    live = [one for name in species for one in live_conditions(name, plain)]
    if live:
        live.append(said("order.condition.better_packing"))
    place = order.plan.settings.delivery_place
    where = f"{place.name}, {place.address}" if place else said("order.request.place")
    delivery = terms.delivery_terms or said("order.request.terms_delivery")
    payment = terms.payment_terms or said("order.terms.payment")
    headings = columns(ASKED)
    blank = PaperTable(headings, (("",) * len(headings),) * 4)
    lead = said("order.request.quote_lead", tax=SalesTax.of(order.program).name)
    return Paper(
        "request_for_quotes",
        said("order.request.sheet"),
        said("order.request.title", day=order.wording.day(order.plan.from_date)),
        said("order.request.lead", council=council, day=reply),
        (
            Part(said("order.request.needed"), table=_needed(order)),
            Part(said("order.request.quote"), (lead,), table=blank),
            Part(
                said("order.purchase.terms"),
                points=(
                    said("order.request.delivery", terms=delivery, where=where),
                    said("order.request.payment", terms=payment),
                    back_order_words(order),
                ),
            ),
            Part(said("order.purchase.conditions"), points=(*live, *goods_conditions())),
        ),
        (30, 17, 17, 17, 17, 15, 15, 11),
    )


def _needed(order: Order) -> PaperTable:
    by = ("item_kind", "item_id", "delivery_date")
    needed = order.lines.group_by(by).agg(pl.col("ordered_quantity").sum()).sort(by)
    rows = tuple(
        (order.item_name(kind, item), day_cell(day, order.wording), order.quantity(quantity, kind))
        for kind, item, day, quantity in needed.iter_rows()
    )
    return PaperTable(columns("item deliver_on quantity"), rows)


def quotes_compared(order: Order) -> Paper:
    """Set the quotes of each item side by side by what a needed unit costs on arrival."""
    items = order.lines.select("item_kind", "item_id").unique().sort("item_kind", "item_id")
    parts = tuple(_item(order, kind, item) for kind, item in items.iter_rows())
    lead = said("order.quotes.lead")
    if order.suppliers["prices_include_tax"].any():
        lead += f" {said('order.quotes.untaxed')}"
    return Paper(
        "quotes_compared",
        said("order.quotes.sheet"),
        said("order.quotes.title"),
        lead,
        parts,
        (34, *[19] * MOST_BESIDE),
    )


def _item(order: Order, kind: str, item: str) -> Part:
    quotes = item_quotes(order, kind, item)
    names = [f"{order.supplier_name(q.offer.supplier_id)} {q.offer.offer_id}" for q in quotes]
    headings = (*columns("offer"), *names[:MOST_BESIDE])
    notes = tuple(
        said("order.quotes.dearer", offer=name, cost=order.wording.money(q.landed_unit_cost, 2))
        for name, q in list(zip(names, quotes, strict=True))[MOST_BESIDE:]
    )
    table = PaperTable(headings, _rows(order, kind, quotes[:MOST_BESIDE]))
    return Part(order.item_name(kind, item), table=table, notes=notes)


def item_quotes(order: Order, kind: str, item: str) -> list[Quote]:
    """Quotes for what is needed of what the order buys of an item, the cheapest first.

    Worms of every species taken stand in one comparison.
    """
    mine = order.lines.filter(item_kind=kind, item_id=item)
    problem, settings = order.plan.problem, order.plan.settings
    bins_lost = 1.0 - settings.usable_share

    def lost(supplier_id: str) -> float:
        if kind == "worms":
            return order.plan.laws[supplier_id].mean_share
        return bins_lost if kind == "bins" else 0.0

    # what packs bring beyond the need is asked of nobody: it hangs on the packs of whom we buy from
    sent: dict[int, float] = {}
    for (_, slot), kilos in (order.plan.solution.sent_kg if order.plan.solution else {}).items():
        sent[slot] = sent.get(slot, 0.0) + kilos
    left = next((float(one.quantities[-1]) for one in problem.stored if one.item == item), 0.0)
    usable: dict[dt.date, float] = {}
    deliveries = mine.group_by("delivery_date", "supplier_id", "slot").agg(
        pl.col("ordered_quantity").sum()
    )
    for day, supplier, slot, quantity in deliveries.sort("delivery_date", "slot").iter_rows():
        needed = min(quantity, sent.get(slot, 0.0) if kind == "worms" else left)
        left -= needed
        usable[day] = usable.get(day, 0.0) + needed * (1.0 - lost(supplier))
    found = [
        quote(one, problem.suppliers[one.supplier_id], [*usable.values()], lost(one.supplier_id))
        for one in problem.offers
        if one.item_kind == kind and (kind == "worms" or one.item_name == item)
    ]
    return sorted(found, key=lambda one: (one.landed_unit_cost, one.offer.offer_id))


def _rows(order: Order, kind: str, quotes: Sequence[Quote]) -> tuple[tuple[Cell, ...], ...]:
    tax = SalesTax.of(order.program)
    unit = "bins" if kind == "bins" else "kg"
    tax_words = said("order.quotes.tax_in_it", tax=tax.name) if tax.is_included else tax.name

    def taxed(one: Quote) -> float:
        return tax.amount(one.goods_amount, kind) + tax.amount(one.freight_amount, "freight")

    def total(one: Quote) -> float:
        return one.landed_amount + (0.0 if tax.is_included else taxed(one))

    def bought(one: Quote) -> float:
        mine = order.lines.filter(offer_id=one.offer.offer_id, item_kind=kind)
        return float(mine["ordered_quantity"].sum())

    packed = ((said("order.quotes.packed"), lambda q: packing_words(q.offer.packing)),)
    lines: tuple[tuple[str, Callable[[Quote], Cell]], ...] = (
        *(packed if kind == "worms" else ()),
        (said("order.column.in_a_pack"), lambda q: order.pack(q.offer.pack_quantity, kind)),
        (said("order.column.packs"), lambda q: order.count(q.packs_count)),
        (said("order.column.deliveries"), lambda q: order.count(len(q.packs_counts))),
        (said("order.quotes.goods"), lambda q: order.money(q.goods_amount, places=2)),
        (said("order.column.freight"), lambda q: order.money(q.freight_amount, places=2)),
        (tax_words, lambda q: order.money(taxed(q), places=2)),
        (said("order.quotes.whole"), lambda q: order.money(total(q), places=2)),
        (said("order.quotes.lost"), lambda q: order.share(q.lost_share)),
        (said(f"order.quotes.usable_{unit}"), lambda q: order.quantity(q.usable_quantity, kind)),
        (said(f"order.quotes.landed_{unit}"), lambda q: order.money(q.landed_unit_cost, places=2)),
        (said(f"order.quotes.taxed_{unit}"),
         lambda q: order.money(total(q) / q.needed_quantity, places=2)),
        (said("order.quotes.whole_untaxed"),
         lambda q: order.money(q.whole_amount, places=2)),
        (said("order.quotes.bought"), lambda q: order.quantity(bought(q), kind)),
        (said("order.quotes.below_least"), lambda q: order.count(q.below_least_count)),
        (said("order.quotes.dearer_by"),
         lambda q: order.share(q.landed_unit_cost / quotes[0].landed_unit_cost - 1.0)),
    )  # fmt: skip
    return tuple((words, *(cell(one) for one in quotes)) for words, cell in lines)
