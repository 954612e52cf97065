"""The contract of every record table, declared once: name, type, unit, meaning, limits.

Headings of an intake file, columns of the store, fields of frames and the officer's
empty workbook all come from here. A column's ``unit`` and ``meaning`` stand in its
metadata; ``references`` names the table whose key a column must find there.
"""

from __future__ import annotations

import dataframely as dy

from planner.tables.aftercare import (
    ACCESS_NEEDS,
    AFTERCARE_RULES,
    BOOKING_RULES,
    BOOKING_STATES,
    CALL_OUTCOMES,
    CALL_REASONS,
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
    ARMS,
    CHANNELS,
    COST_CATEGORIES,
    DWELLINGS,
    EVENT_KINDS,
    GIVEAWAY_RULES,
    GIVEBACK_REASONS,
    KERBSIDE_SERVICES,
    PERIODS,
    PRIOR_SHARES,
    PROBLEMS,
    SHARE_SUM_TOLERANCE,
    WAVE_KINDS,
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
    BINS_OR_KG,
    BREAKS,
    ITEM_KINDS,
    PRICE_BREAK_KINDS,
    PURCHASE_RULES,
    WEEKDAYS,
    Deliveries,
    Invoices,
    Offers,
    Orders,
    StockCounts,
    Suppliers,
)

__all__ = [
    "ACCESS_NEEDS",
    "ARMS",
    "BINS_OR_KG",
    "BOOKING_STATES",
    "BREAKS",
    "CALL_OUTCOMES",
    "CALL_REASONS",
    "CASE_ACTIONS",
    "CHANNELS",
    "COST_CATEGORIES",
    "DWELLINGS",
    "EVENT_KINDS",
    "FIRST_DATE",
    "GIVEBACK_REASONS",
    "ITEM_KINDS",
    "KERBSIDE_SERVICES",
    "LAST_DATE",
    "LIVE_STATES",
    "NAMES",
    "PERIODS",
    "PRICE_BREAK_KINDS",
    "PRIOR_SHARES",
    "PROBLEMS",
    "RULES",
    "SHARE_SUM_TOLERANCE",
    "SITE_KINDS",
    "TABLES",
    "WAVE_KINDS",
    "WEEKDAYS",
    "Answers",
    "Areas",
    "Attendances",
    "Audits",
    "Bookings",
    "Calls",
    "Cases",
    "Contacts",
    "Costs",
    "Deliveries",
    "DropPoints",
    "Events",
    "Givebacks",
    "Handovers",
    "Households",
    "Invoices",
    "Offers",
    "Orders",
    "Registrations",
    "Samples",
    "SiteBins",
    "SiteWeighings",
    "Sites",
    "StockCounts",
    "Suppliers",
    "Waves",
    "Weighings",
    "Workshops",
    "codes",
    "references",
]

RULES = {**GIVEAWAY_RULES, **BOOKING_RULES, **PURCHASE_RULES, **AFTERCARE_RULES}
"""For each rule over several columns: the column to mark, what was found, what to write."""

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


def codes(table: str, column: str) -> tuple[str, ...]:
    """List the codes that a column may hold; empty where any text or number may stand.

    Examples
    --------
    >>> codes("households", "dwelling")
    ('house', 'townhouse', 'apartment')
    """
    declared = TABLES[table].columns()[column]
    return tuple(declared.categories) if isinstance(declared, dy.Enum) else ()
