"""Purchase orders, one a supplier: parties, lines with freight, terms, sign-off; and their tax."""

from __future__ import annotations

from typing import Any

import polars as pl

from planner.cells import Cell, Number
from planner.messages import said
from planner.ordering.shipping_window import TravelLimits
from planner.program.money import SalesTax
from planner.report.orders.approval import prices_words
from planner.report.orders.order import Order, columns, day_cell, packing_words
from planner.report.orders.papers import Paper, PaperTable, Part, goods_conditions, live_conditions
from planner.report.wording import Wording, listing
from planner.report.workbook.formats import number_format

WIDTHS = (14, 17, 17, 17, 30, 8, 11, 11, 12, 9, 12, 14)
LINES = (
    "line order_by latest deliver_on item packs quantity pack_price without_tax tax_rate tax amount"
)
SIGNERS = ("prepared", "budget", "approved")


def purchase_orders(order: Order) -> list[Paper]:
    """Write a purchase order for each supplier of the plan."""
    suppliers = order.lines["supplier_id"].unique(maintain_order=True)
    return [_purchase_order(order, supplier) for supplier in suppliers]


def _purchase_order(order: Order, supplier_id: str) -> Paper:
    lines = order.lines.filter(pl.col("supplier_id") == supplier_id)
    number, name = order.number(supplier_id), order.supplier_name(supplier_id)
    tax = SalesTax.of(order.program)
    # each line as it is summed: texts, then price without tax, rate, tax and amount
    rows: list[tuple[Any, ...]] = [
        (
            row,
            _in_packs(order, row),
            *_taxed(tax, row["goods_amount"], row["item_kind"]),
        )
        for row in lines.iter_rows(named=True)
    ]
    rows += _freight(order, tax, lines)
    days = (min(lines[name].to_list()) for name in ("order_date", "latest_order_date"))
    by, last = (order.wording.day(day) for day in days)
    lead = "order.purchase.lead" if by == last else "order.purchase.lead_latest"
    return Paper(
        f"purchase_order_{supplier_id}",
        name,
        said("order.purchase.title", number=number, supplier=name),
        said(lead, council=order.program.council.name, day=by, last=last),
        (
            _buyer(order, tax),
            _seller(order, supplier_id, tax),
            _lines(order, tax, rows),
            _terms(order, supplier_id, lines, tax),
            _conditions(order, lines),
            _sign_off(order, sum(row[-1] for row in rows)),
        ),
        WIDTHS,
    )


def _in_packs(order: Order, row: dict[str, Any]) -> str:
    """Name what is bought and what a pack of it holds: it is to come in the packs named."""
    item = order.item_name(row["item_kind"], row["item_id"], row["packing"])
    held = row["ordered_quantity"] / row["packs_count"]
    if row["item_kind"] != "bins" or held != 1.0:
        pack = order.pack(held, row["item_kind"])
        item = said("order.item.in_packs", item=item, pack=pack.words)
    (offer,) = (one for one in order.plan.problem.offers if one.offer_id == row["offer_id"])
    parts = offer.parts(row["packs_count"])
    if len(parts) == 1:
        return item
    money = order.wording.money
    prices = listing(
        said("order.item.packs_at", count, price=money(price, PENNIES)) for count, price in parts
    )
    return said("order.item.at_prices", item=item, prices=prices)


def _buyer(order: Order, tax: SalesTax) -> Part:
    """Say who buys, where the goods and the invoice go."""
    council, terms = order.program.council.name, order.program.purchasing
    place, unnamed = order.plan.settings.delivery_place, said("order.purchase.unnamed")
    if place is None:
        where = said("order.purchase.deliver_nowhere", unnamed=unnamed)
    else:
        where = said(
            "order.purchase.deliver",
            name=place.name,
            address=place.address,
            hours=place.opening_hours or said("place_of.hours"),
            contact=place.contact or said("place_of.contact"),
        )
        if terms.delivery_slot:
            where += f" {said('order.purchase.slot', slot=terms.delivery_slot)}"
    invoice = terms.invoice_address or terms.address or unnamed
    code = terms.budget_code or unnamed
    return Part(
        said("order.purchase.buyer"),
        (
            _party(council, terms.address, tax, terms.tax_number, unnamed),
            where,
            said("order.purchase.invoice", address=invoice, code=code),
        ),
    )


def _seller(order: Order, supplier_id: str, tax: SalesTax) -> Part:
    record = order.supplier(supplier_id)
    missing = said("order.purchase.unnamed_supplier")
    name, address = record["supplier_name"], record["postal_address"]
    party = _party(name, address, tax, record["tax_number"], missing)
    return Part(said("order.purchase.supplier"), (party,))


def _party(
    name: str, address: str | None, tax: SalesTax, tax_number: str | None, missing: str
) -> str:
    # a sentence begins with the number's name as it is written: ABN, NIF, but Tax number
    named = tax.number_name[:1].upper() + tax.number_name[1:]
    told = {"number_name": named, "tax_number": tax_number or missing}
    return said("order.purchase.party", name=name, address=address or missing, **told)


def _terms(order: Order, supplier_id: str, lines: pl.DataFrame, tax: SalesTax) -> Part:
    terms, record = order.program.purchasing, order.supplier(supplier_id)
    contract = record["contract_reference"] or terms.contract_reference
    payment = record["payment_terms"] or terms.payment_terms or said("order.terms.payment")
    offers = listing(sorted(set(lines["offer_id"])))
    prices = prices_words(order)
    if record["prices_include_tax"]:
        prices = said("order.purchase.untaxed", tax=tax.name)
    contract = contract or said("order.purchase.no_contract")
    delivery = terms.delivery_terms or said("order.terms.delivery")
    return Part(
        said("order.purchase.terms"),
        points=(
            said("order.purchase.contract", contract=contract, offers=offers),
            prices,
            said("order.purchase.payment", terms=payment, number=order.number(supplier_id)),
            said("order.purchase.delivery", terms=delivery),
            back_order_words(order),
        ),
    )


def back_order_words(order: Order) -> str:
    """Say what happens to goods that cannot come on their day."""
    terms = order.program.purchasing.back_orders or said("order.terms.back_orders")
    return said("order.purchase.back_orders", terms=terms)


def _freight(order: Order, tax: SalesTax, lines: pl.DataFrame) -> list[tuple[Any, ...]]:
    """Freight of each delivery as a line of its own."""
    deliveries = lines.group_by("slot", maintain_order=True).agg(
        pl.col("delivery_date").first(), pl.col("freight_amount").sum()
    )
    return [
        (
            {"order_line_id": said("order.column.freight"), "delivery_date": row["delivery_date"]},
            said("order.purchase.freight"),
            *_taxed(tax, row["freight_amount"], "freight"),
        )
        for row in deliveries.iter_rows(named=True)
    ]


def _taxed(tax: SalesTax, price: float, kind: str) -> tuple[float, float, float, float]:
    without, amount = tax.without(price, kind), tax.amount(price, kind)
    return without, tax.rate(kind), amount, round(without + amount, 2)


def _lines(order: Order, tax: SalesTax, rows: list[tuple[Any, ...]]) -> Part:
    sums = [round(sum(row[place] for row in rows), 2) for place in (2, 4, 5)]
    without, taxes, total = (order.money(value, places=2) for value in sums)
    table = PaperTable(
        columns(LINES),
        tuple(_cells(order, row) for row in rows),
        (said("order.whole"), *[""] * 7, without, "", taxes, total),
    )
    by_rate = {row[3]: 0.0 for row in rows}
    for row in rows:
        by_rate[row[3]] += row[4]
    wording = order.wording
    at_each_rate = listing(
        said("order.purchase.tax_at", tax=tax.name, share=share, amount=wording.money(amount, 2))
        for rate, amount in sorted(by_rate.items(), reverse=True)
        for share in (wording.rate(rate),)
    )
    return Part(said("order.purchase.lines"), table=table, notes=(f"{at_each_rate}.",))


def _cells(order: Order, row: tuple[Any, ...]) -> tuple[Cell, ...]:
    line, label, without, rate, taxes, amount = row
    is_goods = "packs_count" in line
    return (
        line["order_line_id"],
        day_cell(line["order_date"], order.wording) if is_goods else "",
        day_cell(line["latest_order_date"], order.wording) if is_goods else "",
        day_cell(line["delivery_date"], order.wording),
        label,
        order.count(line["packs_count"]) if is_goods else None,
        order.quantity(line["ordered_quantity"], line["item_kind"]) if is_goods else None,
        pack_price(order.wording, line["goods_amount"], line["packs_count"]) if is_goods else None,
        order.money(without, places=2),
        order.share(rate, 0 if order.wording.rate(rate) == order.wording.share(rate) else 1),
        order.money(taxes, places=2),
        order.money(amount, places=2),
    )


PENNIES, FRACTIONS = 2, 4
"""Decimals of a price; more where the tax that is taken out leaves parts of a penny."""


def pack_price(wording: Wording, goods_amount: float, packs_count: int) -> Number:
    """Write a pack's price as offered, with as many decimals as it takes for the line to add up.

    Where the packs of a line have prices of their own it is their mean, and the item tells each.
    """
    each = goods_amount / packs_count
    adds_up = round(round(each, PENNIES) * packs_count, PENNIES) == round(goods_amount, PENNIES)
    places = PENNIES if adds_up else FRACTIONS
    code = number_format(wording.currency, places, wording)
    return Number(round(each, places), code, wording.money(each, places))


def _conditions(order: Order, lines: pl.DataFrame) -> Part:
    worms = lines.filter(item_kind="worms")
    species = sorted(set(worms["item_id"]))
    windows = [
        (packing_words(packing), limits)
        for packing, limits in sorted(travel_limits(order, worms).items())
    ]
    live = [one for name in species for one in live_conditions(name, windows)]
    has_goods = lines.filter(pl.col("item_kind") != "worms").height > 0
    goods = goods_conditions() if has_goods else []
    return Part(said("order.purchase.conditions"), points=(*live, *goods))


def travel_limits(order: Order, worms: pl.DataFrame) -> dict[str, TravelLimits]:
    """Weather through which the worms on some lines may travel, by packing.

    Where offers of one packing differ, the narrower limits hold.
    """
    plain = order.plan.calendar.weather.plain
    ordered = set(worms["offer_id"])
    found: dict[str, TravelLimits] = {}
    for offer in order.plan.problem.offers:
        if offer.offer_id in ordered:
            mine = offer.travels or plain
            there = found.get(offer.packing, mine)
            found[offer.packing] = TravelLimits(
                max(mine.coldest_c, there.coldest_c), min(mine.warmest_c, there.warmest_c)
            )
    return found


def _sign_off(order: Order, amount: float) -> Part:
    """Name who signs an order of this amount, by the council's own limits, and the supplier."""
    terms, wording = order.program.purchasing, order.wording
    roles = terms.signers(amount) or [said(f"order.signer.{one}") for one in SIGNERS]
    words = [said("order.purchase.amount", amount=wording.money(amount, 2))]
    if not terms.approvals:
        words.append(said("order.purchase.no_approvals"))
    elif terms.is_beyond(amount):
        words.append(said("order.purchase.beyond"))
    rows = tuple((role, "", "", "") for role in (*roles, said("order.purchase.accepted")))
    headings = columns("role name signature date")
    return Part(said("order.purchase.sign_off"), tuple(words), table=PaperTable(headings, rows))
