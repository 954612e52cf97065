"""Papers of a purchase: tax, who signs, and how orders, deliveries and invoices are matched."""

from __future__ import annotations

import datetime as dt

import pytest
from pydantic import ValidationError

from planner.cells import Day, Number
from planner.paths import PROGRAM_FILE, TEMPLATES
from planner.program import read_program
from planner.program.money import SalesTax
from planner.program.ordering import Approval, Purchasing, Tax
from planner.report.orders.order import Order
from planner.report.orders.papers import Paper, PaperTable, Part, cell_words, paper_document
from planner.report.orders.under_way import agreed_amount, differences
from planner.report.wording import Wording

PROGRAM = read_program(TEMPLATES / PROGRAM_FILE)
ORDER = Order(None, None, None, PROGRAM, None, None, Wording("en_AU", "AUD"))
GST = SalesTax("GST", 0.1, "ABN")
LINE = {
    "line_id": "P1",
    "is_ordered": True,
    "supplier_id": "S",
    "item_kind": "bins",
    "item_id": "two_tray",
    "ordered_quantity": 20.0,
    "goods_amount": 1000.0,
    "freight_amount": 50.0,
    "received_quantity": 20.0,
    "unusable_quantity": 0.0,
    "short_quantity": 0.0,
    "invoices_count": 1,
    "invoiced_quantity": 20.0,
    "invoiced_goods_amount": 1000.0,
    "invoiced_freight_amount": 50.0,
    "invoiced_tax_amount": 105.0,
}


def found(**changes):
    return differences({**LINE, **changes}, ORDER, GST)


def program(country, **purchasing):
    council = PROGRAM.council.model_copy(update={"country_locale": country})
    terms = Purchasing(**purchasing)
    return PROGRAM.model_copy(update={"council": council, "purchasing": terms})


@pytest.mark.parametrize(
    ("country", "name", "share"),
    [("en_AU", "GST", 0.10), ("en_NZ", "GST", 0.15), ("en_GB", "VAT", 0.20), ("es_ES", "IVA", 0.21),
     ("de_DE", "USt", 0.19)],
)  # fmt: skip
def test_the_standard_rate_of_a_country(country, name, share):
    """Rates of the tax offices (ATO, IRD, HMRC, Agencia Tributaria, UStG 12); from memory."""
    tax = SalesTax.of(program(country))
    assert (tax.name, tax.share, tax.is_named) == (name, share, False)


def test_a_tax_of_the_program_file_takes_its_place():
    tax = SalesTax.of(program("en_AU", tax=Tax(name="levy", share=0.05, free_of_tax=("worms",))))
    assert (tax.name, tax.is_named) == ("levy", True)
    assert tax.amount(100.0, "worms") == 0.0
    assert tax.amount(100.0, "bins") == 5.0


@pytest.mark.parametrize("price", [0.0, 0.05, 19.99, 110.0, 12_345.67])
def test_tax_that_is_in_the_price_and_what_is_left_make_the_price(price):
    included = SalesTax("VAT", 0.2, "VAT number", is_included=True)
    assert included.without(price, "bins") + included.amount(price, "bins") == pytest.approx(price)
    # a sixth of a price with 20% in it is tax: HMRC's VAT fraction, from memory
    assert included.amount(price, "bins") == pytest.approx(price / 6, abs=0.005)


def test_those_sign_whose_limit_is_passed_and_the_next():
    terms = Purchasing(approvals=(Approval(who="A", up_to=100.0), Approval(who="B", up_to=500.0)))
    assert terms.signers(100.0) == ("A",)
    assert terms.signers(100.01) == ("A", "B")
    assert not terms.is_beyond(500.0)
    assert terms.is_beyond(500.01)
    assert Purchasing().signers(1e9) == ()


@pytest.mark.parametrize("limits", [(500.0, 100.0), (100.0, 100.0), (None, 100.0)])
def test_limits_of_approval_must_rise(limits):
    with pytest.raises(ValidationError, match="rise from line to line"):
        Purchasing(approvals=tuple(Approval(who="A", up_to=limit) for limit in limits))


def test_a_line_that_came_and_was_charged_as_ordered_agrees():
    assert found() == ""
    assert found(invoices_count=0, invoiced_quantity=0.0) == ""


def test_charged_for_broken_bins():
    assert found(unusable_quantity=2.0) == "Charged for 2 bins more than came usable."


def test_charged_for_more_than_ordered_though_it_came():
    more = {"received_quantity": 22.0, "invoiced_quantity": 22.0, "invoiced_tax_amount": 115.0}
    words = found(**more, invoiced_goods_amount=1100.0)
    assert words == "Charged for 2 bins more than ordered."


def test_charged_above_the_price_ordered():
    words = found(invoiced_goods_amount=1050.0, invoiced_tax_amount=110.0)
    assert words == "$50.00 above the price and freight ordered."


def test_part_of_a_line_is_held_to_its_share_of_the_price():
    part = {"received_quantity": 5.0, "invoiced_quantity": 5.0, "invoiced_tax_amount": 30.0}
    assert agreed_amount({**LINE, **part}) == 300.0
    assert found(**part, invoiced_goods_amount=250.0) == ""


def test_tax_at_another_rate_is_named_and_a_cent_of_rounding_is_not():
    assert found(invoiced_tax_amount=105.01) == ""
    assert found(invoiced_tax_amount=210.0) == "$105.00 more GST than is due."


def test_an_invoice_without_tax_is_matched_where_prices_include_it():
    # of 1,050 with a tenth of tax in it 954.55 are goods and freight, and 95.45 are tax
    def told(goods, freight, taxes, **changes):
        charged = {"invoiced_goods_amount": goods, "invoiced_freight_amount": freight}
        tax = SalesTax("GST", 0.1, "ABN", is_included=True)
        return differences({**LINE, **charged, "invoiced_tax_amount": taxes, **changes}, ORDER, tax)

    assert told(1000.0, 50.0, 95.45) == told(909.09, 45.45, 95.45) == ""
    assert told(929.09, 45.45, 97.45) == "$21.99 above the price and freight ordered."
    # a part of the goods with tax in them, and no freight
    half = {"invoiced_quantity": 10.0, "received_quantity": 10.0, "freight_amount": 0.0}
    assert told(500.0, 0.0, 45.45, **half) == told(454.55, 0.0, 45.45, **half) == ""


def test_a_charge_without_an_order_is_named():
    assert found(is_ordered=False) == "Charged without a line of an order."


def test_cells_read_in_running_text_as_they_say():
    day = dt.date(2026, 5, 4)
    cells = [Number(2.0, words="2 bins"), Day(day, words="4 May 2026"), "text", None, Number(3.0)]
    assert [cell_words(cell) for cell in cells] == ["2 bins", "4 May 2026", "text", "", "3.0"]


def test_a_paper_says_the_same_in_word_as_on_its_sheet():
    table = PaperTable(("Item", "Amount"), (("Bins", ORDER.money(12.5, places=2)),), ("Sum",))
    paper = Paper("order", "Works", "Order 1", "Draft.", (Part("Lines", ("Now.",), (), table),), ())
    document = paper_document(paper, ORDER, dt.datetime(2026, 5, 4))
    (section,) = document.sections
    words, shown = section.blocks
    assert (section.heading, words.words) == ("Lines", "Now.")
    assert [[cell.words for cell in row] for row in shown.rows] == [["Bins", "$12.50"], ["Sum", ""]]
    assert [column.is_number for column in shown.columns] == [False, True]
