"""Purchase orders, one a supplier: parties, lines with freight, terms, sign-off; and their tax."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import babel
import polars as pl

from planner.ordering.shipping_window import TravelLimits
from planner.report.orders.cautions import GOODS_CONDITIONS, live_conditions
from planner.report.orders.order import PACKING_WORDS, day_cell
from planner.report.orders.papers import Paper, PaperTable, Part
from planner.report.wording import listing

if TYPE_CHECKING:
    from planner.cells import Cell
    from planner.program import Program
    from planner.report.orders.order import Order


WIDTHS = (14, 17, 17, 17, 30, 8, 11, 11, 12, 9, 12, 14)
HEADINGS = (
    "Line",
    "Order by",
    "At the latest",
    "Deliver on",
    "Item",
    "Packs",
    "Quantity",
    "A pack",
    "Without tax",
    "Tax rate",
    "Tax",
    "Amount",
)
SIGN_HEADINGS = ("Role", "Name", "Signature", "Date")
UNNAMED = "not in program.toml; write it here before sending"


def purchase_orders(order: Order) -> list[Paper]:
    """Write a purchase order for each supplier of the plan."""
    suppliers = order.lines["supplier_id"].unique(maintain_order=True)
    return [_purchase_order(order, supplier) for supplier in suppliers]


def _purchase_order(order: Order, supplier_id: str) -> Paper:
    lines = order.lines.filter(pl.col("supplier_id") == supplier_id)
    number, name = order.number(supplier_id), order.supplier_name(supplier_id)
    tax = SalesTax.of(order.program)
    rows = [_line(order, tax, row) for row in lines.iter_rows(named=True)]
    rows += _freight(order, tax, lines)
    days = (min(lines[name].to_list()) for name in ("order_date", "latest_order_date"))
    by, last = (order.wording.day(day) for day in days)
    spare = f"by {by}" if by == last else f"by {by}, and no later than {last}"
    return Paper(
        f"purchase_order_{supplier_id}",
        name,
        f"Purchase order {number} to {name}",
        f"From {order.program.council.name}. To be placed {spare}. Draft until signed.",
        (
            _buyer(order, tax),
            _seller(order, supplier_id, tax),
            _terms(order, supplier_id, lines),
            _lines(order, tax, rows),
            _conditions(order, lines),
            _sign_off(order, sum(row[-1] for row in rows)),
            Part(
                "Accepted by the supplier",
                table=PaperTable(("Name", "Signature", "Date"), (("", "", ""),)),
            ),
        ),
        WIDTHS,
    )


def _buyer(order: Order, tax: SalesTax) -> Part:
    """Say who buys, where the goods and the invoice go."""
    council, terms = order.program.council.name, order.program.purchasing
    place = order.plan.settings.delivery_place
    slot = f" Slot: {terms.delivery_slot}." if terms.delivery_slot else ""
    where = (
        f"Deliver to: {UNNAMED} (ordering.delivery_place)."
        if place is None
        else f"Deliver to: {place.name}, {place.address}; open {place.opening_hours}. Contact: "
        f"{place.contact}.{slot}"
    )
    invoice = terms.invoice_address or terms.address
    return Part(
        "Buyer",
        (
            f"{council}, {terms.address or UNNAMED}. {_own(tax.number_name)}: "
            f"{terms.tax_number or UNNAMED}.",
            where,
            f"Invoice to: {invoice or UNNAMED}. Budget code: {terms.budget_code or UNNAMED}.",
        ),
    )


def _seller(order: Order, supplier_id: str, tax: SalesTax) -> Part:
    record = order.records.supplier(supplier_id)
    missing = "not in the sheet suppliers; ask the supplier"
    return Part(
        "Supplier",
        (
            f"{record['supplier_name']}, {record['postal_address'] or missing}. "
            f"{_own(tax.number_name)}: {record['tax_number'] or missing}.",
        ),
    )


def _own(name: str) -> str:
    """Begin a sentence with a name as it is written: ABN, NIF, but Tax number."""
    return name if name[:1].isupper() or name[:2].isupper() else f"{name[:1].upper()}{name[1:]}"


def _terms(order: Order, supplier_id: str, lines: pl.DataFrame) -> Part:
    terms, record = order.program.purchasing, order.records.supplier(supplier_id)
    contract = record["contract_reference"] or terms.contract_reference
    offers = listing(sorted(set(lines["offer_id"])))
    return Part(
        "Terms",
        points=(
            f"Contract: {contract or 'none; this order and its conditions'}. Offers: {offers}.",
            f"Prices {order.plan.settings.prices_are}.",
            f"Payment: {record['payment_terms'] or terms.payment_terms}. Quote order "
            f"{order.number(supplier_id)} and its lines on delivery note and invoice.",
            f"Delivery: {terms.delivery_terms}. Later deliveries are called off by the days under "
            "Order by.",
            f"Back orders: {terms.back_orders}.",
        ),
    )


def _line(order: Order, tax: SalesTax, row: dict[str, Any]) -> tuple[Any, ...]:
    """One line as it is summed: texts, then price without tax, rate, tax and amount."""
    kind, price = row["item_kind"], row["goods_amount"]
    label = order.item_name(kind, row["item_id"], row["packing"])
    return (row, label, *_taxed(tax, price, kind))


def _freight(order: Order, tax: SalesTax, lines: pl.DataFrame) -> list[tuple[Any, ...]]:
    """Freight of each delivery as a line of its own."""
    deliveries = lines.group_by("slot", maintain_order=True).agg(
        pl.col("delivery_date").first(), pl.col("freight_amount").sum()
    )
    return [
        (
            {"order_line_id": "Freight", "delivery_date": row["delivery_date"]},
            f"Freight of the delivery on {order.wording.day(row['delivery_date'])}",
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
        HEADINGS,
        tuple(_cells(order, row) for row in rows),
        ("Whole order", *[""] * 7, without, "", taxes, total),
    )
    by_rate = {row[3]: 0.0 for row in rows}
    for row in rows:
        by_rate[row[3]] += row[4]
    wording = order.wording
    at_each_rate = listing(
        f"{tax.name} at {wording.share(rate, 1)}: {wording.money(amount, 2)}"
        for rate, amount in sorted(by_rate.items(), reverse=True)
    )
    return Part("Lines", table=table, notes=(f"{at_each_rate}.",))


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
        order.money(without / line["packs_count"], places=2) if is_goods else None,
        order.money(without, places=2),
        order.share(rate),
        order.money(taxes, places=2),
        order.money(amount, places=2),
    )


def _conditions(order: Order, lines: pl.DataFrame) -> Part:
    worms = lines.filter(item_kind="worms")
    species = sorted(set(worms["item_id"]))
    windows = [
        (PACKING_WORDS[packing], limits)
        for packing, limits in sorted(travel_limits(order, worms).items())
    ]
    live = [one for name in species for one in live_conditions(name, windows)]
    has_goods = lines.filter(pl.col("item_kind") != "worms").height > 0
    return Part("Conditions", points=(*live, *(GOODS_CONDITIONS if has_goods else ())))


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
    """Name who signs an order of this amount, by the council's own limits."""
    terms, wording = order.program.purchasing, order.wording
    roles = terms.signers(amount) or ("Prepared by", "Budget holder", "Approved by")
    words = [f"Amount with tax: {wording.money(amount, 2)}."]
    if not terms.approvals:
        words.append("program.toml names no limits of approval ([[purchasing.approvals]]).")
    elif terms.is_beyond(amount):
        words.append("No limit of program.toml reaches this amount: it needs a decision above.")
    rows = tuple((role, "", "", "") for role in roles)
    return Part("Approved for the council", tuple(words), table=PaperTable(SIGN_HEADINGS, rows))


STANDARD_RATES = {
    "AU": ("GST", 0.10, "ABN"),
    "AT": ("USt", 0.20, "UID"),
    "BE": ("VAT", 0.21, "VAT number"),
    "CA": ("GST", 0.05, "business number"),
    "CH": ("VAT", 0.081, "UID"),
    "DE": ("USt", 0.19, "USt-IdNr."),
    "DK": ("moms", 0.25, "CVR number"),
    "ES": ("IVA", 0.21, "NIF"),
    "FI": ("VAT", 0.255, "business ID"),
    "FR": ("TVA", 0.20, "numéro de TVA"),
    "GB": ("VAT", 0.20, "VAT number"),
    "IE": ("VAT", 0.23, "VAT number"),
    "IT": ("IVA", 0.22, "partita IVA"),
    "NL": ("btw", 0.21, "btw number"),
    "NO": ("mva", 0.25, "organisation number"),
    "NZ": ("GST", 0.15, "GST number"),
    "PT": ("IVA", 0.23, "NIF"),
    "SE": ("moms", 0.25, "VAT number"),
}
"""Name of the tax, its standard rate, and what its number is called, by country.

Rates of 2025, from memory of the tax offices' own tables; `purchasing.tax` takes their place.
"""

NO_TAX = ("sales tax", 0.0, "tax number")


@dataclass(frozen=True)
class SalesTax:
    """Tax on what a council buys.

    Parameters
    ----------
    name, number_name
        What the tax, and a business's number for it, are called.
    share
        Tax over price without tax.
    free_of_tax
        Kinds of goods that bear none.
    is_named
        Whether program.toml names it, rather than the table of standard rates.
    is_included
        Whether prices hold the tax already.
    """

    name: str
    share: float
    number_name: str
    free_of_tax: tuple[str, ...] = ()
    is_named: bool = False
    is_included: bool = False

    @classmethod
    def of(cls, program: Program) -> SalesTax:
        """Find the tax that a program's council pays."""
        territory = babel.Locale.parse(program.council.country_locale).territory
        name, share, number_name = STANDARD_RATES.get(str(territory), NO_TAX)
        own, includes = program.purchasing.tax, program.purchasing.prices_include_tax
        if own is None:
            return cls(name, share, number_name, is_included=includes)
        return cls(own.name, own.share, number_name, own.free_of_tax, True, includes)

    def rate(self, item_kind: str) -> float:
        """Rate of a kind of goods, or of "freight"."""
        return 0.0 if item_kind in self.free_of_tax else self.share

    def amount(self, price: float, item_kind: str) -> float:
        """Tax in or on a price, to the cent.

        Examples
        --------
        >>> SalesTax("GST", 0.1, "ABN").amount(110.0, "bins")
        11.0
        >>> SalesTax("GST", 0.1, "ABN", is_included=True).amount(110.0, "bins")
        10.0
        """
        rate = self.rate(item_kind)
        return round(price * rate / (1.0 + rate) if self.is_included else price * rate, 2)

    def without(self, price: float, item_kind: str) -> float:
        """Price without tax, to the cent."""
        included = self.amount(price, item_kind) if self.is_included else 0.0
        return round(price - included, 2)
