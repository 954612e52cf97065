"""What every text column of a store may hold, and how details are taken out of each.

`tests/unit/store/test_free_text.py` fails where a column of a new table is not named here.
"""

from __future__ import annotations

import json
from enum import Enum
from typing import TYPE_CHECKING

import polars as pl

from planner.store.connection import change, fetch, offer
from planner.store.queries import read_query

if TYPE_CHECKING:
    import duckdb

    from planner.store.matching import Details


class Holds(Enum):
    """What a text column may hold of a person."""

    DETAIL = "personal details, deleted with the household"
    NOTE = "words that somebody typed, searched when a household is erased"
    KEY = "numbers and codes by which records are known, which stay"
    WORDS = "the planner's own words, which stay"


D, N, K, W = Holds.DETAIL, Holds.NOTE, Holds.KEY, Holds.WORDS

COLUMNS: dict[str, dict[str, Holds]] = {
    "areas": {"area_id": K, "area_name": N},
    "households": {"household_id": K, "area_id": K},
    "contacts": {
        "household_id": K,
        "full_name": D,
        "street_address": D,
        "postcode": D,
        "email": D,
        "phone": D,
    },
    "events": {"event_id": K, "area_id": K, "venue": N},
    "handovers": {
        "handover_id": K,
        "household_id": K,
        "event_id": K,
        "model_id": K,
        "serial": N,
    },
    "givebacks": {"handover_id": K},
    "registrations": {"household_id": K, "model_id": N, "event_id": K, "drop_point_id": K},
    "bookings": {
        "booking_id": K,
        "household_id": K,
        "event_id": K,
        "slot": K,
        "model_id": N,
    },
    "drop_points": {"drop_point_id": K, "area_id": K, "place_name": N},
    "waves": {"wave_id": K, "follows_wave_id": K},
    "samples": {"wave_id": K, "household_id": K, "stratum": N, "cluster_id": K},
    "answers": {"wave_id": K, "household_id": K},
    "weighings": {"household_id": K},
    "audits": {"audit_id": K, "area_id": K, "cluster_id": K},
    "costs": {"cost_id": K},
    "suppliers": {
        "supplier_id": K,
        "supplier_name": N,
        "postal_address": N,
        "tax_number": N,
        "payment_terms": N,
        "contract_reference": N,
        "currency": K,
    },
    "offers": {"offer_id": K, "supplier_id": K, "item_id": K},
    "orders": {"order_line_id": K, "supplier_id": K, "offer_id": K, "item_id": K},
    "deliveries": {"delivery_id": K, "order_line_id": K},
    "invoices": {"invoice_line_id": K, "supplier_id": K, "order_line_id": K},
    "stock_counts": {"count_id": K, "item_id": K},
    "calls": {"household_id": K},
    "cases": {
        "case_id": K,
        "household_id": K,
        "handover_id": K,
        "replacement_handover_id": K,
        "cost_id": K,
    },
    "sites": {"site_id": K, "area_id": K},
    "site_bins": {"site_id": K, "model_id": K},
    "site_weighings": {"site_id": K},
    "workshops": {"workshop_id": K, "area_id": K},
    "attendances": {"workshop_id": K, "household_id": K},
}
"""For each record table, what its columns of type text hold; closed lists are not among them."""

KEPT_BY_THE_TOOL: dict[str, dict[str, Holds]] = {
    "erasures": {"household_id": K, "reason": W},
    "history": {
        "table_name": W,
        "record_key": K,
        "record": N,
        "load_id": K,
        "replaced_by_load_id": K,
    },
    "household_decisions": {"load_id": K, "household_id_kept": K, "household_id_other": K},
    "household_merges": {"load_id": K, "household_id": K, "household_id_kept": K},
    "issued_reports": {"name": W, "manifest_sha256": K},
    "load_amounts": {"load_id": K, "sheet": N, "table_name": W},
    "load_counts": {"load_id": K, "sheet": N, "table_name": W},
    "load_readings": {
        "load_id": K,
        "table_name": W,
        "sheet": N,
        "column_name": W,
        "kind": W,
        "examples": N,
    },
    "load_totals": {"load_id": K, "sheet": N, "table_name": W},
    "loads": {"load_id": K, "file": N, "sha256": K},
    "refusals": {
        "load_id": K,
        "table_name": W,
        "record_key": K,
        "file": N,
        "sheet": N,
        "column_name": W,
        "value": N,
        "reason": W,
        "expected": W,
        "resolved_by_load_id": K,
    },
    "schema_versions": {"file_name": W},
    "store_identity": {"store_id": K},
    "undone_loads": {"load_id": K},
}
"""The same of the tables that the store keeps beside the records, in either of its files."""


def notes() -> list[tuple[str, str]]:
    """List the columns that are searched when a household is erased, with their tables."""
    tables = {**COLUMNS, **KEPT_BY_THE_TOOL}
    return [
        (table, name)
        for table, columns in tables.items()
        for name, holds in columns.items()
        if holds is Holds.NOTE
    ]


ERASED = "(erased)"
"""Stands where a text was that may not be empty."""

_FORMER = ("history", "record")
_KEYS = {"refusals": "record_key"}
_HOUSEHOLD = "household_id"


def blank_records(
    program: duckdb.DuckDBPyConnection, households: list[str], details: Details
) -> None:
    """Blank the texts that hold details of households, in one transaction.

    A text is blanked whole: what stands round a name may tell who it is.

    Parameters
    ----------
    program
        Connection to the program's file, which may be of an older planner.
    households
        Their keys; in their own rows a part of a name is enough.
    details
        What is to be found.
    """
    there = fetch(program, read_query("text_columns").text)
    nullable = {(table, name): is_nullable for table, name, is_nullable in there.rows()}
    program.begin()
    for table, name in notes():
        if (table, name) == _FORMER or (table, name) not in nullable:
            continue
        place = {"table": table, "column": name}
        blank = "null" if nullable[table, name] else f"'{ERASED}'"
        _blank(program, place, details, blank)
        household = _KEYS.get(table, _HOUSEHOLD)
        if (table, household) in nullable:
            own = {**place, "household": household}
            _blank_own(program, own, households, details, blank)
    if _FORMER in nullable:
        _blank_former(program, details)
    program.commit()


def _blank(
    program: duckdb.DuckDBPyConnection, place: dict[str, str], details: Details, blank: str
) -> None:
    texts = fetch(program, read_query("distinct_texts").fill(**place))
    held = texts.filter(details.held(texts["text"]))
    if held.height:
        offer(program, held)
        change(program, read_query("blank_texts").fill(**place, blank=blank))


def _blank_own(
    program: duckdb.DuckDBPyConnection,
    place: dict[str, str],
    households: list[str],
    details: Details,
    blank: str,
) -> None:
    given = {"households": households}
    texts = fetch(program, read_query("household_texts").fill(**place), given)
    # of a refused row nobody knows which cell holds what: it goes whole
    is_refused = place["column"] == "value"
    held = texts if is_refused else texts.filter(details.held_by_own(texts["text"]))
    if held.height:
        offer(program, held)
        change(program, read_query("blank_household_texts").fill(**place, blank=blank), given)


def _blank_former(program: duckdb.DuckDBPyConnection, details: Details) -> None:
    former = fetch(program, read_query("former_records").text)
    held = former.filter(details.held(former["record"]) | _is_of(former["record"], details))
    cleaned = [
        {"table_name": table, "record": record, "cleaned": _cleaned(table, record, details)}
        for table, record in held.rows()
    ]
    if cleaned:
        offer(program, pl.DataFrame(cleaned))
        change(program, read_query("replace_former").text)


def _is_of(records: pl.Series, details: Details) -> pl.Series:
    keys = records.str.extract(rf'"{_HOUSEHOLD}":"([^"]*)"').str.to_lowercase()
    return keys.is_in(details.households).fill_null(value=False)


def _cleaned(table: str, record: str, details: Details) -> str:
    fields = json.loads(record)
    is_own = str(fields.get(_HOUSEHOLD, "")).casefold() in details.households
    find = details.held_by_own if is_own else details.held
    kept = {name for name, holds in COLUMNS.get(table, {}).items() if holds is Holds.KEY}
    for name, value in fields.items():
        if isinstance(value, str) and name not in kept and find(pl.Series([value])).item():
            fields[name] = None
    return json.dumps(fields, ensure_ascii=False, separators=(",", ":"))
