"""Record tables of buying: suppliers, their offers, orders, deliveries, counts of stock.

Quantities are bins for bins and kilograms for worms and bedding.
"""

from __future__ import annotations

import dataframely as dy
import polars as pl

from planner.tables.fields import (
    code_field,
    count_field,
    date_field,
    key_field,
    link_field,
    measure_field,
    text_field,
)

ITEM_KINDS = ("bins", "worms", "bedding")
WEEKDAYS = ("monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday")
PRICE_BREAK_KINDS = ("all_units", "incremental")
PACKINGS = ("insulated", "cold_pack", "heat_pack")
"""How worms are packed for days outside the plain shipping window."""

BINS_OR_KG = "bins or kg"

_MOST_MONEY, _MOST_PACKS, _MOST_QUANTITY = 100_000_000.0, 1_000_000, 10_000_000.0
_ITEM = "bin model as named in program.toml, species of the worms, or bedding material"


class Suppliers(dy.Schema):
    """A supplier, and what a delivery of it costs."""

    supplier_id = key_field("short code of the supplier")
    supplier_name = text_field("name of the business")
    order_by_weekday = code_field(
        WEEKDAYS, "last day of the week for orders; empty for any working day", nullable=True
    )
    first_dispatch_weekday = code_field(WEEKDAYS, "first day of the week on which it sends")
    last_dispatch_weekday = code_field(WEEKDAYS, "last day of the week on which it sends")
    transit_days = count_field("working days from sending to delivery", 60)
    minimum_order_amount = measure_field(
        "least value of goods in one order", "currency", _MOST_MONEY, nullable=True
    )
    freight_per_delivery = measure_field("freight of a delivery", "currency", _MOST_MONEY)
    freight_per_pallet = measure_field(
        "freight of each pallet, or part of one, on top", "currency", _MOST_MONEY
    )
    postal_address = text_field("address of the business, as on its invoices", nullable=True)
    tax_number = text_field("its number for the tax on sales", nullable=True)
    payment_terms = text_field(
        "when it is paid; empty for the terms of program.toml", nullable=True
    )
    contract_reference = text_field("contract or panel under which it supplies", nullable=True)
    currency = text_field(
        "currency of its prices and invoices, three letters; empty for the council's",
        nullable=True,
    )


class Offers(dy.Schema):
    """A supplier's offer of one item in one pack, with up to four prices."""

    offer_id = key_field("number of the offer, one for each item and pack")
    supplier_id = link_field("supplier that offers", "suppliers")
    item_kind = code_field(ITEM_KINDS, "bins, worms or bedding")
    item_id = text_field(_ITEM)
    pack_quantity = measure_field("bins or kg in a pack", BINS_OR_KG, 100_000.0, least=0.001)
    packs_per_pallet = count_field("packs on a pallet", 100_000, least=1, nullable=True)
    minimum_packs_count = count_field("least packs in one order", _MOST_PACKS, least=1)
    weekly_limit_packs_count = count_field(
        "most packs that it can send in a week", _MOST_PACKS, least=1, nullable=True
    )
    lead_days = count_field("days from order to sending", 730)
    valid_from_date = date_field("first day on which it may be ordered")
    valid_until_date = date_field("last day on which it may be ordered")
    price_per_pack = measure_field("price of a pack", "currency", _MOST_MONEY)
    price_break_kind = code_field(
        PRICE_BREAK_KINDS,
        "all_units: the lower price holds for every pack of the order; "
        "incremental: for the packs from the break on alone",
        nullable=True,
    )
    second_from_packs_count = count_field(
        "packs at which the second price begins", _MOST_PACKS, least=2, nullable=True
    )
    second_price_per_pack = measure_field(
        "second price of a pack", "currency", _MOST_MONEY, nullable=True
    )
    third_from_packs_count = count_field(
        "packs at which the third price begins", _MOST_PACKS, least=2, nullable=True
    )
    third_price_per_pack = measure_field(
        "third price of a pack", "currency", _MOST_MONEY, nullable=True
    )
    fourth_from_packs_count = count_field(
        "packs at which the fourth price begins", _MOST_PACKS, least=2, nullable=True
    )
    fourth_price_per_pack = measure_field(
        "fourth price of a pack", "currency", _MOST_MONEY, nullable=True
    )
    packing = code_field(
        PACKINGS,
        "how worms are packed at this price; empty for plain bags and boxes",
        nullable=True,
    )
    travels_from_c = measure_field(
        "coldest hour outdoors that the supplier sends these worms through",
        "°C",
        60.0,
        least=-40.0,
        nullable=True,
    )
    travels_to_c = measure_field(
        "warmest hour outdoors that the supplier sends these worms through",
        "°C",
        60.0,
        least=-40.0,
        nullable=True,
    )

    @dy.rule()
    def valid_until_is_not_before_from(cls) -> pl.Expr:  # noqa: N805 - a dataframely rule
        """Refuse an offer that ends before it begins."""
        return pl.col("valid_until_date") >= pl.col("valid_from_date")

    @dy.rule()
    def travels_to_is_above_from(cls) -> pl.Expr:  # noqa: N805 - a dataframely rule
        """Refuse worms that travel through no weather at all."""
        low, high = pl.col("travels_from_c"), pl.col("travels_to_c")
        return (high > low).fill_null(True)

    @dy.rule()
    def packing_is_of_worms(cls) -> pl.Expr:  # noqa: N805 - a dataframely rule
        """Refuse packing against heat or frost for bins and bedding."""
        return pl.col("packing").is_null() | (pl.col("item_kind").cast(pl.String) == "worms")

    @dy.rule()
    def price_breaks_are_whole_and_rise(cls) -> pl.Expr:  # noqa: N805 - a dataframely rule
        """Ask for each break with its price, in rising order, and for the kind of break."""
        whole = [
            pl.col(f"{name}_from_packs_count").is_null()
            == pl.col(f"{name}_price_per_pack").is_null()
            for name in BREAKS
        ]
        has = [pl.col(f"{name}_from_packs_count").is_not_null() for name in BREAKS]
        begins = [pl.col(f"{name}_from_packs_count") for name in BREAKS]
        second = ~has[1] | (has[0] & (begins[1] > begins[0]))
        third = ~has[2] | (has[1] & (begins[2] > begins[1]))
        kind = ~has[0] | pl.col("price_break_kind").is_not_null()
        return pl.all_horizontal([*whole, second.fill_null(False), third.fill_null(False), kind])


BREAKS = ("second", "third", "fourth")
"""Names of the prices after the first."""


class Orders(dy.Schema):
    """A line of an order that was sent to a supplier."""

    order_line_id = key_field("number of the line, as on the order")
    supplier_id = link_field("supplier to which it went", "suppliers")
    offer_id = link_field("offer on which it rests", "offers", nullable=True)
    item_kind = code_field(ITEM_KINDS, "bins, worms or bedding")
    item_id = text_field(_ITEM)
    order_date = date_field("day on which it was ordered")
    delivery_date = date_field("day of delivery agreed")
    packs_count = count_field("packs ordered", _MOST_PACKS, least=1)
    ordered_quantity = measure_field("bins or kg ordered", BINS_OR_KG, _MOST_QUANTITY)
    goods_amount = measure_field("price of the goods of this line", "currency", _MOST_MONEY)
    freight_amount = measure_field(
        "freight of the delivery; once a delivery, 0 on its other lines", "currency", _MOST_MONEY
    )

    @dy.rule()
    def delivery_is_not_before_order(cls) -> pl.Expr:  # noqa: N805 - a dataframely rule
        """Refuse a delivery agreed for a day before the order."""
        return pl.col("delivery_date") >= pl.col("order_date")


class Deliveries(dy.Schema):
    """What came of a line of an order on one day."""

    delivery_id = key_field("number of the delivery, one for each line of the order")
    order_line_id = link_field("line of the order", "orders")
    sent_date = date_field("day on which it was sent", nullable=True)
    delivered_date = date_field("day on which it came")
    received_quantity = measure_field(
        "bins or kg that came, usable or not", BINS_OR_KG, _MOST_QUANTITY
    )
    unusable_quantity = measure_field(
        "of those: worms dead on arrival, bins broken or faulty, bedding spoilt",
        BINS_OR_KG,
        _MOST_QUANTITY,
    )
    short_quantity = measure_field(
        "bins or kg that are missing and will not come", BINS_OR_KG, _MOST_QUANTITY
    )

    @dy.rule()
    def unusable_is_part_of_received(cls) -> pl.Expr:  # noqa: N805 - a dataframely rule
        """Refuse more unusable than came."""
        return pl.col("unusable_quantity") <= pl.col("received_quantity")

    @dy.rule()
    def delivered_is_not_before_sent(cls) -> pl.Expr:  # noqa: N805 - a dataframely rule
        """Refuse a delivery that came before it was sent."""
        return pl.col("sent_date").is_null() | (pl.col("delivered_date") >= pl.col("sent_date"))


class Invoices(dy.Schema):
    """A line of an invoice, for a line of an order."""

    invoice_line_id = key_field("number of the line: that of the invoice and of its line")
    supplier_id = link_field("supplier that sent it", "suppliers")
    order_line_id = link_field("line of the order that it charges for", "orders", nullable=True)
    invoice_date = date_field("day of the invoice")
    invoiced_quantity = measure_field("bins or kg charged for", BINS_OR_KG, _MOST_QUANTITY)
    goods_amount = measure_field(
        "price charged for the goods, without tax", "currency", _MOST_MONEY
    )
    freight_amount = measure_field(
        "freight charged on the line, without tax", "currency", _MOST_MONEY
    )
    tax_amount = measure_field("tax charged on goods and freight", "currency", _MOST_MONEY)


class StockCounts(dy.Schema):
    """A count of what lies in store at the end of a day."""

    count_id = key_field("number of the count, one for each item and day")
    item_kind = code_field(ITEM_KINDS, "bins, worms or bedding")
    item_id = text_field(
        "bin model as named in program.toml; worms or bedding where those are weighed together"
    )
    count_date = date_field("day of the count")
    counted_quantity = measure_field("usable bins or kg in store", BINS_OR_KG, _MOST_QUANTITY)
    lost_quantity = measure_field(
        "bins or kg known to be lost since the count before", BINS_OR_KG, _MOST_QUANTITY
    )


PURCHASE_RULES = {
    "valid_until_is_not_before_from": "valid_until_date",
    "travels_to_is_above_from": "travels_to_c",
    "packing_is_of_worms": "packing",
    "price_breaks_are_whole_and_rise": "second_from_packs_count",
    "delivery_is_not_before_order": "delivery_date",
    "unusable_is_part_of_received": "unusable_quantity",
    "delivered_is_not_before_sent": "delivered_date",
}
"""For each rule over several columns: the column to mark."""
