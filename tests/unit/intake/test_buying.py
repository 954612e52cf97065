"""Sheets of buying: good rows go in, wrong ones are refused with a word on what to write."""

from __future__ import annotations

import datetime as dt

import pytest
from openpyxl import Workbook

from planner.intake.reading import read_files
from planner.tables import TABLES

D = dt.date
SUPPLIER = ["W", "Worm farm", "thursday", "monday", "tuesday", 2, 0, 18, 0]
OFFER = {
    "offer_id": "O1",
    "supplier_id": "W",
    "item_kind": "worms",
    "item_id": "Eisenia fetida",
    "pack_quantity": 1,
    "minimum_packs_count": 2,
    "lead_days": 7,
    "valid_from_date": D(2026, 1, 1),
    "valid_until_date": D(2027, 12, 31),
    "price_per_pack": 34.5,
}
BREAK = {"second_from_packs_count": 10, "second_price_per_pack": 32.0}


def no_keys(table):
    """Keys of an empty store."""
    return TABLES[table].create_empty().select(TABLES[table].primary_key())


def problems(tmp_path, program, sheets, loaded_on=None):
    """Read a workbook of these sheets, given as rows by column, and return what is wrong."""
    book = Workbook()
    book.remove(book.active)
    sheet = book.create_sheet("suppliers")
    sheet.append(
        [
            "supplier_id",
            "supplier_name",
            "order_by_weekday",
            "first_dispatch_weekday",
            "last_dispatch_weekday",
            "transit_days",
            "minimum_order_amount",
            "freight_per_delivery",
            "freight_per_pallet",
        ]
    )
    sheet.append(SUPPLIER)
    for name, rows in sheets.items():
        sheet = book.create_sheet(name)
        headings = list(dict.fromkeys(key for row in rows for key in row))
        sheet.append(headings)
        for row in rows:
            sheet.append([row.get(key) for key in headings])
    path = tmp_path / "buying.xlsx"
    book.save(path)
    (intake,) = read_files([path], program, no_keys, loaded_on=loaded_on)
    return intake.problems().select("column_name", "reason", "expected").rows()


ORDER = {
    "order_line_id": "P1",
    "supplier_id": "W",
    "item_kind": "worms",
    "item_id": "Eisenia fetida",
    "order_date": D(2026, 3, 2),
    "delivery_date": D(2026, 3, 12),
    "packs_count": 10,
    "ordered_quantity": 10,
    "goods_amount": 320,
    "freight_amount": 18,
}
DELIVERY = {
    "delivery_id": "D1",
    "order_line_id": "P1",
    "delivered_date": D(2026, 3, 12),
    "received_quantity": 10,
    "unusable_quantity": 0.4,
    "short_quantity": 0,
}


INVOICE = {
    "invoice_line_id": "I118-1",
    "supplier_id": "W",
    "order_line_id": "P1",
    "invoice_date": D(2026, 3, 12),
    "invoiced_quantity": 9.6,
    "goods_amount": 307.2,
    "freight_amount": 18,
    "tax_amount": 32.52,
}


def test_good_rows_have_no_problems(tmp_path, program):
    sheets = {
        "offers": [OFFER, {**OFFER, **BREAK, "offer_id": "O2", "price_break_kind": "all_units"}],
        "orders": [ORDER],
        "deliveries": [DELIVERY],
        "invoices": [INVOICE, {**INVOICE, "invoice_line_id": "I118-2", "order_line_id": None}],
    }
    assert problems(tmp_path, program, sheets, D(2026, 3, 12)) == []


@pytest.mark.parametrize(
    ("changed", "found"),
    [
        ({**BREAK}, "price breaks that are not whole or do not rise, or no kind of break"),
        (
            {"second_from_packs_count": 10, "price_break_kind": "all_units"},
            "price breaks that are not whole or do not rise, or no kind of break",
        ),
        (
            {
                **BREAK,
                "price_break_kind": "incremental",
                "third_from_packs_count": 9,
                "third_price_per_pack": 30.0,
            },
            "price breaks that are not whole or do not rise, or no kind of break",
        ),
        ({"valid_until_date": D(2025, 12, 31)}, "ends before it begins"),
    ],
)
def test_an_offer_that_cannot_be_is_refused(tmp_path, program, changed, found):
    told = problems(tmp_path, program, {"offers": [{**OFFER, **changed}]})
    assert any(found in reason for _, reason, _ in told), told


@pytest.mark.parametrize(
    ("changed", "column"),
    [
        ({"unusable_quantity": 11}, "unusable_quantity"),
        ({"sent_date": D(2026, 3, 13)}, "delivered_date"),
        ({"order_line_id": "P9"}, "order_line_id"),
    ],
)
def test_a_delivery_that_cannot_be_is_refused(tmp_path, program, changed, column):
    sheets = {"offers": [OFFER], "orders": [ORDER], "deliveries": [{**DELIVERY, **changed}]}
    assert column in [name for name, _, _ in problems(tmp_path, program, sheets)]


@pytest.mark.parametrize(
    ("changed", "column"),
    [
        ({"order_line_id": "P9"}, "order_line_id"),
        ({"tax_amount": -1}, "tax_amount"),
        ({"invoice_date": "soon"}, "invoice_date"),
    ],
)
def test_an_invoice_that_cannot_be_is_refused(tmp_path, program, changed, column):
    sheets = {"offers": [OFFER], "orders": [ORDER], "invoices": [{**INVOICE, **changed}]}
    assert column in [name for name, _, _ in problems(tmp_path, program, sheets)]


def test_orders_may_be_for_days_ahead_but_deliveries_may_not(tmp_path, program):
    sheets = {"offers": [OFFER], "orders": [ORDER], "deliveries": [DELIVERY]}
    told = problems(tmp_path, program, sheets, D(2026, 3, 5))
    assert [name for name, _, _ in told] == ["delivered_date"]


@pytest.mark.parametrize(
    ("kind", "item", "is_taken"),
    [
        ("bins", "two_tray", True),
        ("bins", "three_tray", False),
        ("worms", "Eisenia fetida", True),
        ("worms", "eisenia  andrei", True),
        ("worms", "Lumbricus terrestris", False),
        ("bedding", "coir", True),
        ("bedding", "gravel", False),
    ],
)
def test_an_item_must_be_a_model_or_a_good_that_there_is(tmp_path, program, kind, item, is_taken):
    offer = {**OFFER, "item_kind": kind, "item_id": item}
    found = problems(tmp_path, program, {"offers": [offer]})
    assert ([name for name, *_ in found] == []) is is_taken, found


@pytest.mark.parametrize("found", ["USD 30", "€ 30", "30 eur"])
def test_an_amount_in_another_currency_is_not_to_be_written_as_ours(tmp_path, program, found):
    ((column, _, wanted),) = problems(
        tmp_path, program, {"offers": [{**OFFER, "price_per_pack": found}]}
    )
    assert column == "price_per_pack"
    assert "in another currency" in wanted
    assert "the number alone" not in wanted


@pytest.mark.parametrize("code", ["GBP", "gbp", "£", None])
def test_a_supplier_in_the_councils_currency_is_taken(read, code):
    assert told_of(read, code) == []


def test_a_supplier_in_another_currency_is_refused_with_what_to_ask_for(read):
    ((column, wanted),) = told_of(read, "EUR")
    assert column == "currency"
    assert "prices and invoices in GBP" in wanted


def told_of(read, code):
    """Problems of a supplier that quotes in a currency, for a council in the United Kingdom."""
    headings = ("supplier_id,supplier_name,first_dispatch_weekday,last_dispatch_weekday,"
                "transit_days,freight_per_delivery,freight_per_pallet,currency")  # fmt: skip
    row = f"W,Worm farm,monday,tuesday,2,18,0,{code or ''}"
    (intake,) = read({"suppliers.csv": f"{headings}\n{row}\n"})
    return intake.problems().select("column_name", "expected").rows()


SUPPLIERS = (
    "supplier_id,supplier_name,first_dispatch_weekday,last_dispatch_weekday,transit_days,"
    "freight_per_delivery,freight_per_pallet\nW,Worm farm,monday,tuesday,2,18,0\n"
)


def quoted(read, items, lead=("Lead time (days)",), words=None, pack=1):
    """Read a sheet of quotes that has no column for the kind of item."""
    heading, *leads = lead
    head = f"supplier_id,item_id,pack_quantity,minimum_packs_count,{heading},"
    head += "valid_from_date,valid_until_date,price_per_pack\n"
    rows = [
        f'W,"{item}",{pack},2,{days},2026-01-01,2027-12-31,34.5\n'
        for item, days in zip(items, leads or ["7"] * len(items), strict=True)
    ]
    columns = {"offers": {heading: "lead_days"}}
    said = {"synonyms": {"item_id": words or {}}, "columns": columns}
    files = {"suppliers.csv": SUPPLIERS, "offers.csv": head + "".join(rows)}
    return read(files, **said)[1]


def test_an_item_tells_its_kind_where_no_column_does(read):
    words = {"Tiger worms (E. fetida), by the lb": "Eisenia fetida"}
    items = ("Two-tray stacked bin", "eisenia andrei", *words, "Coir")
    (rows,) = quoted(read, items, words=words).sheets
    assert rows.good().select("item_kind", "item_id").rows() == [
        ("bins", "two_tray"),
        ("worms", "Eisenia andrei"),
        ("worms", "Eisenia fetida"),
        ("bedding", "coir"),
    ]


def test_an_item_that_tells_no_kind_is_refused_once_by_its_own_name(read):
    found = quoted(read, ("Freight to depot", "Composting worms")).problems()
    told = found.select("row_number", "column_name", "value").rows()
    assert told == [(2, "item_id", "Freight to depot"), (3, "item_id", "Composting worms")]
    assert "two_tray" in found["expected"][0]
    assert "--word" in found["expected"][0]


@pytest.mark.parametrize(
    ("lead", "days"),
    [
        (("Lead time (weeks)", 2, 3), [14, 21]),
        (("Lead time", "2 weeks", "1 wk"), [14, 7]),
        (("Lead time (weeks)", "10 days", 1), [10, 7]),
    ],
)
def test_a_lead_time_in_weeks_is_seven_days_each(read, lead, days):
    (rows,) = quoted(read, ("two_tray", "coir"), lead).sheets
    assert rows.good()["lead_days"].to_list() == days


@pytest.mark.parametrize(
    ("pack", "quantity"),
    # a pound is 0.45359237 kg (international yard and pound agreement of 1 July 1959)
    [("lb", 0.45359237), ("each", 1.0), ("kg", 1.0), ("2 lb", 0.90718474), ("500 g", 0.5)],
)
def test_a_pack_is_of_what_it_is_sold_by(read, pack, quantity):
    (rows,) = quoted(read, ("coir",), pack=pack).sheets
    assert rows.good()["pack_quantity"].to_list() == [pytest.approx(quantity)]


def test_a_brick_says_no_mass(read):
    found = quoted(read, ("coir",), pack="brick").problems()
    assert found["column_name"].to_list() == ["pack_quantity"]


def test_dead_worms_may_be_in_kg_but_nothing_that_came_is_a_bare_unit(tmp_path, program):
    came = [{**DELIVERY, "unusable_quantity": "0.4 kg"}]
    came.append({**DELIVERY, "delivery_id": "D2", "unusable_quantity": "kg"})
    sheets = {"offers": [OFFER], "orders": [ORDER], "deliveries": came}
    assert [name for name, *_ in problems(tmp_path, program, sheets)] == ["unusable_quantity"]


def test_prices_by_quantity_that_are_not_read_are_told_of(read):
    head = "supplier_id,item_id,pack_quantity,minimum_packs_count,lead_days,"
    head += "valid_from_date,valid_until_date,price_per_pack,1-49,50+\n"
    row = "W,coir,5,2,7,2026-01-01,2027-12-31,34.5,34.5,31\n"
    _, offers = read({"suppliers.csv": SUPPLIERS, "offers.csv": head + row})
    (told,) = [note for note in offers.notes if "second_from_packs_count" in note]
    assert "1-49, 50+" in told
