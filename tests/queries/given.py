"""Small stores for the query cases: rows named by what matters, the rest filled in."""

from __future__ import annotations

import datetime as dt
from contextlib import contextmanager
from dataclasses import dataclass, field

import polars as pl

from planner.checks import in_words
from planner.messages import messages_for
from planner.paths import QUERIES
from planner.store.opening import open_store
from planner.store.queries import folder_queries, read_query
from planner.store.writing import writing
from planner.tables import TABLES

DAY = dt.date(2025, 3, 10)
WRITTEN_AT = dt.datetime(2026, 7, 1, 12)

FILLED = {
    "areas": {
        "area_name": "North",
        "houses_count": 0,
        "townhouses_count": 0,
        "apartments_count": 0,
        "residents_count": 0,
        "kerbside_service": "residual_only",
        "is_priority": False,
    },
    "households": {
        "area_id": "A",
        "dwelling": "house",
        "people_count": 2,
        "registered_date": dt.date(2025, 1, 1),
        "may_contact": True,
    },
    "events": {"event_date": DAY, "places_count": 20},
    "drop_points": {"place_name": "Library", "latitude": 10.0, "longitude": 20.0},
    "registrations": {"registered_date": dt.date(2025, 1, 1)},
    "bookings": {
        "household_id": "H1",
        "event_id": "E1",
        "offered_date": dt.date(2025, 2, 1),
        "state": "offered",
    },
    "handovers": {
        "household_id": "H1",
        "model_id": "two_tray",
        "handover_date": DAY,
        "worms_kg": 0.5,
        "bedding_kg": 1.0,
    },
    "givebacks": {"giveback_date": DAY, "is_reissued": False},
    "waves": {"wave_kind": "followup", "opens_date": DAY, "closes_date": DAY},
    "samples": {"stratum": "all", "inclusion_probability": 0.5},
    "answers": {"wave_id": "F", "answer_date": DAY},
    "weighings": {"week_start_date": DAY, "fed_kg": 2.0},
    "audits": {
        "area_id": "A",
        "cluster_id": "street",
        "arm": "given",
        "period": "before",
        "audit_date": DAY,
        "households_count": 10,
        "residual_kg": 100.0,
        "food_kg": 30.0,
    },
    "costs": {"cost_date": DAY, "category": "bins", "amount": 100.0},
    "suppliers": {
        "supplier_name": "Farm",
        "first_dispatch_weekday": "monday",
        "last_dispatch_weekday": "friday",
        "transit_days": 2,
        "freight_per_delivery": 20.0,
        "freight_per_pallet": 0.0,
    },
    "offers": {
        "supplier_id": "S",
        "item_kind": "bins",
        "item_id": "two_tray",
        "pack_quantity": 1.0,
        "minimum_packs_count": 1,
        "lead_days": 7,
        "valid_from_date": dt.date(2025, 1, 1),
        "valid_until_date": dt.date(2025, 12, 31),
        "price_per_pack": 60.0,
    },
    "orders": {
        "supplier_id": "S",
        "item_kind": "bins",
        "item_id": "two_tray",
        "order_date": dt.date(2025, 2, 1),
        "delivery_date": dt.date(2025, 3, 1),
        "packs_count": 10,
        "ordered_quantity": 10.0,
        "goods_amount": 600.0,
        "freight_amount": 20.0,
    },
    "deliveries": {
        "order_line_id": "1",
        "delivered_date": dt.date(2025, 3, 1),
        "received_quantity": 10.0,
        "unusable_quantity": 0.0,
        "short_quantity": 0.0,
    },
    "invoices": {
        "supplier_id": "S",
        "invoice_date": dt.date(2025, 3, 8),
        "invoiced_quantity": 10.0,
        "goods_amount": 600.0,
        "freight_amount": 20.0,
        "tax_amount": 62.0,
    },
    "stock_counts": {
        "item_kind": "bins",
        "item_id": "two_tray",
        "count_date": dt.date(2025, 3, 31),
        "counted_quantity": 0.0,
        "lost_quantity": 0.0,
    },
    "calls": {"call_date": DAY, "call_reason": "first_check", "call_outcome": "reached"},
    "cases": {"household_id": "H1", "opened_date": DAY, "problem": "smell"},
    "sites": {"area_id": "A", "site_kind": "school", "people_count": 300},
    "site_bins": {
        "model_id": "two_tray",
        "given_date": DAY,
        "bins_count": 2,
        "worms_kg": 2.0,
        "bedding_kg": 4.0,
    },
    "site_weighings": {"week_start_date": DAY, "fed_kg": 6.0},
    "workshops": {"workshop_date": DAY},
}
"""What a row holds where a case does not say."""


def all_queries():
    """Read every query, in the order of folder and name."""
    folders = sorted(path.name for path in QUERIES.iterdir() if path.is_dir())
    return tuple(query for folder in folders for query in folder_queries(folder))


@dataclass(frozen=True)
class Case:
    """Given rows and parameters, and the rows that the query must return in this order.

    ``rows`` are compared on the columns named in ``columns`` alone; ``sentence`` says what
    is shown, as a test's name would.
    """

    query: str
    sentence: str
    given: dict[str, list[dict]]
    columns: tuple[str, ...]
    rows: list[tuple]
    params: dict[str, object] = field(default_factory=dict)

    def __str__(self):
        return f"{self.query}: {self.sentence}"


def frame(table, rows):
    """Rows of a record table, filled in, with exactly the contract's columns."""
    names = TABLES[table].column_names()
    filled = [{**FILLED.get(table, {}), **row} for row in rows]
    unknown = {name for row in filled for name in row} - set(names)
    assert not unknown, unknown
    return TABLES[table].cast(
        pl.DataFrame([{name: row.get(name) for name in names} for row in filled], strict=False)
        if len(filled)
        else pl.DataFrame(schema=dict.fromkeys(names, pl.String))
    )


@contextmanager
def store_with(folder, given):
    """Open a store that holds the given rows, written as one load."""
    with open_store(folder) as store:
        with writing(store, written_at=WRITTEN_AT) as writer:
            write(writer, given)
        yield store


def write(writer, given):
    """Write the given rows as one load."""
    load_id = writer.begin_load("given.xlsx", "mark")
    for table in TABLES:
        if table in given:
            writer.write(load_id, table, frame(table, given[table]))


def answer_of(store, case):
    """Run the case's query among its given rows, which leave the store again."""
    with writing(store, keep=False, written_at=WRITTEN_AT) as writer:
        write(writer, case.given)
        rows = store.query(case.query, **case.params)
    if read_query(case.query).folder == "check":
        rows = in_words(rows, case.query, messages_for("en"))
    return rows.select(case.columns).rows()
