"""The contract of every record table, declared once: name, type, unit, meaning, limits.

Headings of an intake file, columns of the store, fields of frames and the officer's
empty workbook all come from here. A column's ``unit`` and ``meaning`` stand in its
metadata; ``references`` names the table whose key a column must find there.
"""

# mypy: implicit-reexport
# ruff: noqa: F401 - others take codes and limits from here
from __future__ import annotations

from typing import TYPE_CHECKING

import dataframely as dy

from planner.messages import say
from planner.tables.aftercare import (
    BOOKING_STATES,
    CALL_OUTCOMES,
    CASE_ACTIONS,
    LIVE_STATES,
    SITE_KINDS,
    Attendances,
    Bookings,
    Calls,
    Cases,
    DropPoints,
    Registrations,
    SiteBins,
    Sites,
    SiteWeighings,
    Workshops,
)
from planner.tables.fields import FIRST_DATE, LAST_DATE
from planner.tables.giveaway import (
    CHANNELS,
    COST_CATEGORIES,
    DWELLINGS,
    GIVEBACK_REASONS,
    KERBSIDE_SERVICES,
    PRIOR_ROUTES,
    PRIOR_SHARES,
    PROBLEMS,
    RESIDUAL_BIN,
    Answers,
    Areas,
    Audits,
    Contacts,
    Costs,
    Events,
    Givebacks,
    Handovers,
    Households,
    Samples,
    Waves,
    Weighings,
)
from planner.tables.purchases import (
    ITEM_KINDS,
    WEEKDAYS,
    Deliveries,
    Invoices,
    Offers,
    Orders,
    StockCounts,
    Suppliers,
)

if TYPE_CHECKING:
    from collections.abc import Collection

    import polars as pl


HELD_ROUND = "held_round"
DOUBTFUL = (
    *("brackets", "trailing_minus", "decimal_sign", "date_serial", "cross", "grams"),
    *(
        "hundredths",
        "near_name",
        "far_date",
        "thousands",
        "from_above",
        "first_choice",
        "held_day",
        HELD_ROUND,
    ),
)
"""Ways of reading that could be wrong, which the officer confirms once for each column."""

PLAIN = ("unit", "per_cent", "month_name", "tick", "name", "no_charge")
"""Ways of reading that can mean one thing alone; they are noted."""


def reading_notes(readings: pl.DataFrame, begun: str = "") -> list[str]:
    """Say for each column how its cells were read.

    Parameters
    ----------
    readings
        ``sheet``, ``table_name``, ``column_name``, ``kind``, ``cells_count``, ``examples``;
        ``load_id`` where they are of several loads.
    begun
        File that they are of; the load unless said.
    """
    notes = []
    for one in readings.iter_rows(named=True):
        file = begun or one["load_id"]
        place = say("place.sheet", file=file, sheet=one["sheet"]) if one["sheet"] else file
        note = say(
            "reading.cells",
            one["cells_count"],
            place=place,
            column=one["column_name"],
            way=say(f"reading.{one['kind']}"),
            examples=one["examples"],
        )
        notes.append(f"{note}.")
    return notes


RULES = {
    "closes_after_it_opens": "closes_date",
    "one_bin_a_row": "bins_count",
    "prior_shares_sum_to_one": "prior_residual_bin_share",
    "food_is_part_of_residual": "food_kg",
    "slot_is_a_time": "slot",
    "valid_until_is_not_before_from": "valid_until_date",
    "travels_to_is_above_from": "travels_to_c",
    "packing_is_of_worms": "packing",
    "price_breaks_are_whole_and_rise": "second_from_packs_count",
    "delivery_is_not_before_order": "delivery_date",
    "unusable_is_part_of_received": "unusable_quantity",
    "delivered_is_not_before_sent": "delivered_date",
    "closes_after_it_opened": "closed_date",
    "case_has_a_problem": "problem",
    "worms_have_a_day": "action_date",
    "replacement_is_told": "case_action",
    "stops_after_it_is_given": "stopped_date",
}
"""For each rule over several columns: the column to mark."""

TABLES: dict[str, type[dy.Schema]] = {
    "areas": Areas,
    "households": Households,
    "contacts": Contacts,
    "events": Events,
    "drop_points": DropPoints,
    "registrations": Registrations,
    "bookings": Bookings,
    "handovers": Handovers,
    "givebacks": Givebacks,
    "waves": Waves,
    "samples": Samples,
    "answers": Answers,
    "weighings": Weighings,
    "audits": Audits,
    "costs": Costs,
    "suppliers": Suppliers,
    "offers": Offers,
    "orders": Orders,
    "deliveries": Deliveries,
    "invoices": Invoices,
    "stock_counts": StockCounts,
    "calls": Calls,
    "cases": Cases,
    "sites": Sites,
    "site_bins": SiteBins,
    "site_weighings": SiteWeighings,
    "workshops": Workshops,
    "attendances": Attendances,
}
"""Every record table in an order in which each refers only to those before it."""


NAMES = {
    "areas": "area_name",
    "events": "venue",
    "drop_points": "place_name",
    "suppliers": "supplier_name",
}
"""Tables whose records people call by a name, and the column that holds it."""

CALLED_BY = {**NAMES, "handovers": "household_id"}
"""The same, with what stands for a record where only one is meant: a bin is a household's."""

MADE_KEYS = {
    "events": ("event_date", "venue"),
    "bookings": ("household_id", "event_id"),
    "handovers": ("household_id", "handover_date"),
    "audits": ("cluster_id", "period", "audit_date"),
    "costs": ("cost_date", "category", "amount"),
    "offers": ("supplier_id", "item_id", "pack_quantity", "valid_from_date"),
    "deliveries": ("order_line_id", "delivered_date"),
    "stock_counts": ("item_id", "count_date"),
    "cases": ("household_id", "opened_date", "problem"),
}
"""Tables that few number their rows of, and the columns by which a row is known without one."""

ALIKE_AND_TWO = ("costs",)
"""Tables in which two rows that say the same are two records: two lines of a ledger."""

ON_ONE_SHEET = ("households", "contacts", "handovers", "registrations")
"""Tables that councils keep as one sheet: a row a household, with all that is known of it."""

CALLED_BY_KEY = ("areas", "suppliers")
"""Tables whose key serves as the name where a sheet gives no other: "Riverside" needs no code."""


ITEM_KIND, ITEM = "item_kind", "item_id"

TOLD_BY = {ITEM_KIND: ITEM}
"""Columns that another one tells where no heading gives them: worms are worms by their name."""


def references(table: str) -> dict[str, str]:
    """Name the table that each column of `table` refers to.

    Examples
    --------
    >>> references("givebacks")
    {'handover_id': 'handovers'}
    """
    columns = TABLES[table].columns()
    targets = {name: (column.metadata or {})["references"] for name, column in columns.items()}
    return {name: target for name, target in targets.items() if target}


def made_key(table: str, there: Collection[str]) -> str | None:
    """Name the key that is made where the columns that are there lack it; None where none is.

    Examples
    --------
    >>> made_key("handovers", ("household_id", "handover_date"))
    'handover_id'
    >>> made_key("handovers", ("household_id",)) is None
    True
    """
    key = TABLES[table].primary_key()[0]
    is_made = table in MADE_KEYS and key not in there and {*MADE_KEYS[table]} <= {*there}
    return key if is_made else None


def needed_columns(table: str) -> list[str]:
    """List the columns that a sheet of the table must have."""
    return [name for name, column in TABLES[table].columns().items() if not column.nullable]


def lacking_columns(table: str, there: Collection[str]) -> list[str]:
    """List the needed columns that are not there; a key that serves as the name stands for it.

    A key that is made of other columns is not needed where those are there, nor what one tells.

    Examples
    --------
    >>> lacking_columns("areas", ("area_id", "kerbside_service", "is_priority", "houses_count"))
    ['townhouses_count', 'apartments_count', 'residents_count']
    """
    named = NAMES[table] if is_called_by_key(table, there) else None
    given = {*there, named, *(name for name, teller in TOLD_BY.items() if teller in there)}
    lacking = [name for name in needed_columns(table) if name not in given]
    made = made_key(table, {*there, *lacking} - set(TABLES[table].primary_key()))
    return [name for name in lacking if name != made]


def is_called_by_key(table: str, there: Collection[str]) -> bool:
    """Tell whether the key of a table serves as the name that its columns lack."""
    return (
        table in CALLED_BY_KEY
        and TABLES[table].primary_key()[0] in there
        and NAMES[table] not in there
    )


def codes(table: str, column: str) -> tuple[str, ...]:
    """List the codes that a column may hold; empty where any text or number may stand.

    Examples
    --------
    >>> codes("households", "dwelling")
    ('house', 'townhouse', 'apartment')
    """
    declared = TABLES[table].columns()[column]
    return tuple(declared.categories) if isinstance(declared, dy.Enum) else ()
