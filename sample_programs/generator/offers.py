"""Buying of a town: invented suppliers and their offers, past orders, deliveries, counts.

What was handed over fixes what was bought: bins quarter by quarter, worms month by month,
bedding once a year, each with spares. Counts at the end of each reporting year balance.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import polars as pl
import polars.selectors as cs

from sample_programs.generator.field_records import returned_bins
from sample_programs.generator.past_buying import past_tables, tax_share, taxed_suppliers

if TYPE_CHECKING:
    from sample_programs.generator.simulation import Simulation
    from sample_programs.generator.towns import Town

SPECIES = "Eisenia fetida"
_COIR = "coir"

_SUPPLIERS = (
    ("BINCO", "Fernholt Mouldings (invented)", "thursday", "monday", "friday", 3, 500.0,
     60.0, 75.0),
    ("TRAYS", "Ostrander Bin Works (invented)", None, "monday", "friday", 4, 0.0, 95.0, 48.0),
    ("WRIGL", "Deepbed Worm Farm (invented)", "wednesday", "monday", "tuesday", 2, 0.0,
     18.0, 30.0),
    ("LOAMY", "Harrowmead Vermiculture (invented)", "thursday", "monday", "wednesday", 1, 150.0,
     32.0, 30.0),
    ("COCOS", "Palmera Growing Media (invented)", None, "tuesday", "thursday", 5, 0.0, 40.0, 55.0),
)  # fmt: skip
"""Code, name, last day for orders, first and last day of sending, days in transit, least
order, freight of a delivery, freight of a pallet."""

_PAPERS = {
    "BINCO": ("4 Fernholt Way, Port Ansel (invented)", "INV-000-101", "45 days", "PANEL-7"),
    "TRAYS": ("19 Kiln Road, Ostrander (invented)", "INV-000-102", None, None),
    "WRIGL": ("Deepbed Lane, Nether Marle (invented)", "INV-000-103", None, None),
    "LOAMY": ("2 Harrow Mead, Upper Marle (invented)", None, "14 days", None),
    "COCOS": ("88 Dock Street, Palmera (invented)", "INV-000-105", None, None),
}
"""Postal address, number for the tax, terms of payment, contract; as a council has them."""

_FREIGHT = ("freight_per_delivery", "freight_per_pallet")

_SUPPLIER_COLUMNS = (
    "supplier_id",
    "supplier_name",
    "order_by_weekday",
    "first_dispatch_weekday",
    "last_dispatch_weekday",
    "transit_days",
    "minimum_order_amount",
    "freight_per_delivery",
    "freight_per_pallet",
    "postal_address",
    "tax_number",
    "payment_terms",
    "contract_reference",
)


def purchase_tables(simulation: Simulation, gone: pl.DataFrame) -> dict[str, pl.DataFrame]:
    """Write the tables suppliers, offers, orders, deliveries, invoices and stock_counts.

    Returns
    -------
    dict of pl.DataFrame
        One frame a table; the contract's types are set by the caller.
    """
    told = [(*row, *_PAPERS[row[0]]) for row in _SUPPLIERS]
    taxed = taxed_suppliers(simulation.town)
    with_tax = pl.when(pl.col("supplier_id").is_in(taxed)).then(1.0 + tax_share(simulation.town))
    suppliers = pl.DataFrame(told, schema=list(_SUPPLIER_COLUMNS), orient="row").with_columns(
        pl.col(_FREIGHT) * with_tax.otherwise(1.0),
        currency=pl.lit(None, pl.String),
        prices_include_tax=pl.when(pl.col("supplier_id").is_in(taxed)).then(statement=True),
    )
    rows = offer_rows(simulation.town, simulation.calendar.end_day, simulation)
    offers = pl.DataFrame(rows, infer_schema_length=None).with_columns(
        (cs.ends_with("price_per_pack") * with_tax.otherwise(1.0)).round(2)
    )
    return {
        "suppliers": suppliers,
        "offers": offers,
        **past_tables(simulation, gone, returned_bins(simulation), SPECIES, _COIR),
    }


def offer_rows(town: Town, end_day: int, simulation: Simulation) -> list[dict[str, object]]:
    """List the offers of the town's suppliers, valid in its last reporting year and the next."""
    first = simulation.calendar.date(end_day - 365)
    until = simulation.calendar.date(end_day + 364)
    rows: list[dict[str, object]] = []
    for model in town.bin_models:
        price = model.unit_price
        rows += [
            _offer("BINCO", "bins", model.model_id, 1, price, kind="all_units", lead=28,
                   breaks=((100, 0.95), (250, 0.91), (500, 0.88)), least=10, pallet=24),
            _offer("TRAYS", "bins", model.model_id, 6, price * 0.965, kind="incremental", lead=42,
                   breaks=((20, 0.93), (60, 0.89)), least=4, pallet=5),
        ]  # fmt: skip
    rows += _worms_and_bedding(town)
    return [
        {
            "offer_id": f"{town.tag}-Q{number:02d}",
            **row,
            "valid_from_date": first,
            "valid_until_date": until,
        }
        for number, row in enumerate(rows, start=1)
    ]


def _worms_and_bedding(town: Town) -> list[dict[str, object]]:
    worms = town.prices.worms_per_kg
    return [
        _offer("WRIGL", "worms", SPECIES, 1, worms, kind="all_units", lead=7,
               breaks=((10, 0.95), (25, 0.9)), least=2, pallet=200, weekly=40),
        _offer("LOAMY", "worms", SPECIES, 5, worms * 0.93, kind="incremental", lead=10,
               breaks=((4, 0.92),), least=1, pallet=40, weekly=6),
        _packed("WRIGL", 1, worms * 1.18, "cold_pack", weekly=20, lead=7),
        _packed("WRIGL", 1, worms * 1.15, "heat_pack", weekly=20, lead=7),
        _packed("LOAMY", 5, worms * 1.04, "insulated", weekly=4, lead=10, travels=(-3.0, 31.0)),
        _offer("COCOS", "bedding", _COIR, 5, town.prices.bedding_per_kg, kind="all_units", lead=14,
               breaks=((40, 0.94), (160, 0.9)), least=8, pallet=80),
        _offer("BINCO", "bedding", _COIR, 5, town.prices.bedding_per_kg * 1.06, kind=None,
               lead=28, breaks=(), least=1, pallet=80),
    ]  # fmt: skip


def _packed(
    supplier: str,
    pack: int,
    unit_price: float,
    packing: str,
    *,
    weekly: int,
    lead: int,
    travels: tuple[float | None, float | None] = (None, None),
) -> dict[str, object]:
    """Offer worms packed against heat or frost; the farm may name limits of its own."""
    row = _offer(supplier, "worms", SPECIES, pack, unit_price, kind=None, lead=lead, breaks=(),
                 least=1, pallet=100, weekly=weekly)  # fmt: skip
    return {**row, "packing": packing, "travels_from_c": travels[0], "travels_to_c": travels[1]}


def _offer(
    supplier: str,
    item_kind: str,
    item_id: str,
    pack: int,
    unit_price: float,
    *,
    kind: str | None,
    lead: int,
    breaks: tuple[tuple[int, float], ...],
    least: int,
    pallet: int,
    weekly: int | None = None,
) -> dict[str, object]:
    price = round(pack * unit_price, 2)
    row: dict[str, object] = {
        "supplier_id": supplier,
        "item_kind": item_kind,
        "item_id": item_id,
        "pack_quantity": float(pack),
        "packs_per_pallet": pallet,
        "minimum_packs_count": least,
        "weekly_limit_packs_count": weekly,
        "lead_days": lead,
        "price_per_pack": price,
        "price_break_kind": kind,
        "packing": None,
        "travels_from_c": None,
        "travels_to_c": None,
    }
    for name, (begins, ratio) in zip(
        ("second", "third", "fourth"), (*breaks, *((None, None),) * 3), strict=False
    ):
        row[f"{name}_from_packs_count"] = begins
        row[f"{name}_price_per_pack"] = None if ratio is None else round(price * ratio, 2)
    return row
