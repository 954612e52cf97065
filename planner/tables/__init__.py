"""The contract of every record table, declared once: name, type, unit, meaning, limits.

Headings of an intake file, columns of the store, fields of frames and the officer's
empty workbook all come from here. A column's ``unit`` and ``meaning`` stand in its
metadata; ``references`` names the table whose key a column must find there.
"""

from __future__ import annotations

import dataframely as dy

from planner.tables.aftercare import (
    AFTERCARE_RULES,
    BOOKING_RULES,
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
    GIVEAWAY_RULES,
    GIVEBACK_REASONS,
    KERBSIDE_SERVICES,
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
    "BOOKING_STATES",
    "CALLED_BY_KEY",
    "CALL_OUTCOMES",
    "CASE_ACTIONS",
    "CHANNELS",
    "COST_CATEGORIES",
    "DWELLINGS",
    "FIRST_DATE",
    "GIVEBACK_REASONS",
    "KERBSIDE_SERVICES",
    "LAST_DATE",
    "LIVE_STATES",
    "NAMES",
    "PRIOR_SHARES",
    "PROBLEMS",
    "RESIDUAL_BIN",
    "RULES",
    "SITE_KINDS",
    "TABLES",
    "WEEKDAYS",
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

CALLED_BY_KEY = ("areas", "suppliers")
"""Tables whose key serves as the name where a sheet gives no other: "Riverside" needs no code."""


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
