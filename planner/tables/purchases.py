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
    flag_field,
    key_field,
    link_field,
    measure_field,
    text_field,
)

ITEM_KINDS = ("bins", "worms", "bedding")
WEEKDAYS = ("monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday")
PRICE_BREAK_KIND = "price_break_kind"
PRICE_BREAK_KINDS = ("all_units", "incremental")
PACKINGS = ("insulated", "cold_pack", "heat_pack")
"""How worms are packed for days outside the plain shipping window."""

BINS_OR_KG = "bins or kg"

_MOST_MONEY, _MOST_PACKS, _MOST_QUANTITY = 100_000_000.0, 1_000_000, 10_000_000.0


class Suppliers(dy.Schema):
    """A supplier, and what a delivery of it costs."""

    supplier_id = key_field()
    supplier_name = text_field()
    order_by_weekday = code_field(WEEKDAYS, nullable=True)
    first_dispatch_weekday = code_field(WEEKDAYS)
    last_dispatch_weekday = code_field(WEEKDAYS)
    transit_days = count_field(60, unit="days")
    minimum_order_amount = measure_field("currency", _MOST_MONEY, nullable=True)
    freight_per_delivery = measure_field("currency", _MOST_MONEY)
    freight_per_pallet = measure_field("currency", _MOST_MONEY)
    postal_address = text_field(nullable=True)
    tax_number = text_field(nullable=True)
    payment_terms = text_field(nullable=True)
    contract_reference = text_field(nullable=True)
    currency = text_field(nullable=True)
    prices_include_tax = flag_field(nullable=True)


class Offers(dy.Schema):
    """A supplier's offer of one item in one pack, with up to four prices."""

    offer_id = key_field()
    supplier_id = link_field("suppliers")
    item_kind = code_field(ITEM_KINDS)
    item_id = text_field()
    pack_quantity = measure_field(BINS_OR_KG, 100_000.0, least=0.001)
    packs_per_pallet = count_field(100_000, least=1, nullable=True)
    minimum_packs_count = count_field(_MOST_PACKS, least=1)
    weekly_limit_packs_count = count_field(_MOST_PACKS, least=1, nullable=True)
    lead_days = count_field(730, unit="days")
    valid_from_date = date_field()
    valid_until_date = date_field()
    price_per_pack = measure_field("currency", _MOST_MONEY)
    price_break_kind = code_field(PRICE_BREAK_KINDS, nullable=True)
    second_from_packs_count = count_field(_MOST_PACKS, least=2, nullable=True)
    second_price_per_pack = measure_field("currency", _MOST_MONEY, nullable=True)
    third_from_packs_count = count_field(_MOST_PACKS, least=2, nullable=True)
    third_price_per_pack = measure_field("currency", _MOST_MONEY, nullable=True)
    fourth_from_packs_count = count_field(_MOST_PACKS, least=2, nullable=True)
    fourth_price_per_pack = measure_field("currency", _MOST_MONEY, nullable=True)
    packing = code_field(PACKINGS, nullable=True)
    travels_from_c = measure_field("°C", 60.0, least=-40.0, nullable=True)
    travels_to_c = measure_field("°C", 60.0, least=-40.0, nullable=True)

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

PRICES = ("price_per_pack", *(f"{name}_price_per_pack" for name in BREAKS))
FROM_PACKS = dict(zip(PRICES[1:], (f"{name}_from_packs_count" for name in BREAKS), strict=True))
"""Columns of prices after the first, and those that say from how many packs on they hold."""


class Orders(dy.Schema):
    """A line of an order that was sent to a supplier."""

    order_line_id = key_field()
    supplier_id = link_field("suppliers")
    offer_id = link_field("offers", nullable=True)
    item_kind = code_field(ITEM_KINDS)
    item_id = text_field()
    order_date = date_field()
    delivery_date = date_field()
    packs_count = count_field(_MOST_PACKS, least=1)
    ordered_quantity = measure_field(BINS_OR_KG, _MOST_QUANTITY)
    goods_amount = measure_field("currency", _MOST_MONEY)
    freight_amount = measure_field("currency", _MOST_MONEY)

    @dy.rule()
    def delivery_is_not_before_order(cls) -> pl.Expr:  # noqa: N805 - a dataframely rule
        """Refuse a delivery agreed for a day before the order."""
        return pl.col("delivery_date") >= pl.col("order_date")


class Deliveries(dy.Schema):
    """What came of a line of an order on one day."""

    delivery_id = key_field()
    order_line_id = link_field("orders")
    sent_date = date_field(nullable=True)
    delivered_date = date_field()
    received_quantity = measure_field(BINS_OR_KG, _MOST_QUANTITY)
    unusable_quantity = measure_field(BINS_OR_KG, _MOST_QUANTITY)
    short_quantity = measure_field(BINS_OR_KG, _MOST_QUANTITY)

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

    invoice_line_id = key_field()
    supplier_id = link_field("suppliers")
    order_line_id = link_field("orders", nullable=True)
    invoice_date = date_field()
    invoiced_quantity = measure_field(BINS_OR_KG, _MOST_QUANTITY)
    goods_amount = measure_field("currency", _MOST_MONEY)
    freight_amount = measure_field("currency", _MOST_MONEY)
    tax_amount = measure_field("currency", _MOST_MONEY)


class StockCounts(dy.Schema):
    """A count of what lies in store at the end of a day."""

    count_id = key_field()
    item_kind = code_field(ITEM_KINDS)
    item_id = text_field()
    count_date = date_field()
    counted_quantity = measure_field(BINS_OR_KG, _MOST_QUANTITY)
    lost_quantity = measure_field(BINS_OR_KG, _MOST_QUANTITY)
