"""Past orders, deliveries and counts of stock that agree with what was handed over."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING

import numpy as np
import polars as pl

from sample_programs.generator.streams import stream

if TYPE_CHECKING:
    from sample_programs.generator.calendar import Calendar
    from sample_programs.generator.simulation import Simulation
    from sample_programs.generator.towns import Town

CountRow = tuple[str, str, dt.date, float, float]

MONTHS_A_QUARTER, MONTHS_A_YEAR = 3, 12
_SPARE = 1.06
_BROKEN_SHARE = 0.012
_DEAD_SHARE = {"WRIGL": 0.015, "LOAMY": 0.035}
_BIN_SUPPLIERS, _WORM_SUPPLIERS = ("BINCO", "TRAYS"), ("WRIGL", "LOAMY")
_BIN_PACK = {"BINCO": 1, "TRAYS": 6}
_WORM_PACK_KG = {"WRIGL": 1, "LOAMY": 5}
_COIR_PACK_KG = 5
_UNCHARGED_DAYS = 45
_TAX_SHARE = {"AU": 0.10, "GB": 0.20, "ES": 0.21}
_DEAD_SPREAD = 60.0
"""Deaths of a delivery vary as a beta law of this many pseudo-grams would."""


def tax_share(town: Town) -> float:
    """Tax on sales in a town's country."""
    return _TAX_SHARE[town.council.country_locale[-2:]]


def taxed_suppliers(town: Town) -> tuple[str, ...]:
    """Suppliers who quote and invoice with the tax in their prices: a shop, in one country."""
    return ("COCOS",) if town.council.country_locale.endswith("ES") else ()


def past_tables(
    simulation: Simulation,
    gone: pl.DataFrame,
    givebacks: pl.DataFrame,
    species: str,
    material: str,
) -> dict[str, pl.DataFrame]:
    """Write orders, deliveries, invoices and stock_counts.

    Parameters
    ----------
    simulation
        The town.
    gone
        What left the store, by day: model_index, bins_count, worms_kg, bedding_kg.
    givebacks
        Frame of tables.Givebacks; bins that were given out again come back into stock.
    species, material
        Items that were bought as worms and as bedding.
    """
    rng = stream(simulation.seed, "buying")
    lines = pl.concat(
        [
            _bin_lines(simulation, gone, rng),
            _worm_lines(simulation, gone, rng, species),
            _bedding_lines(simulation, gone, material),
        ]
    ).with_row_index("number", offset=1)
    tag = simulation.town.tag
    numbered = lines.with_columns(
        order_line_id=pl.format(f"{tag}-P{{}}", pl.col("number").cast(pl.String).str.zfill(3)),
        delivery_id=pl.format(f"{tag}-D{{}}", pl.col("number").cast(pl.String).str.zfill(3)),
        offer_id=pl.lit(None, pl.String),
        stock_item=pl.when(pl.col("item_kind") == "bins").then("item_id").otherwise("item_kind"),
        freight_amount=pl.lit(0.0),
    )
    return {
        "orders": numbered,
        "deliveries": numbered.rename({"delivery_date": "delivered_date"}),
        "invoices": _invoices(numbered, simulation),
        "stock_counts": _counts(simulation, gone, givebacks, numbered),
    }


def _invoices(lines: pl.DataFrame, simulation: Simulation) -> pl.DataFrame:
    """Charge for each line of an order a week after it came.

    Most suppliers charge for what came usable at the price ordered. Every ninth line is
    charged as ordered, unusable goods and all, and every fourteenth a twentieth too dear: what
    a match is there to find. Lines that came in the last weeks are not charged yet.
    """
    calendar, tag = simulation.calendar, simulation.town.tag
    tax = tax_share(simulation.town)
    is_taxed = pl.col("supplier_id").is_in(taxed_suppliers(simulation.town))
    price = pl.col("goods_amount") / pl.col("ordered_quantity")
    usable = pl.col("received_quantity") - pl.col("unusable_quantity")
    charged = pl.when(pl.col("number") % 9 == 0).then("ordered_quantity").otherwise(usable)
    dearer = pl.when(pl.col("number") % 14 == 0).then(1.05).otherwise(1.0)
    return (
        lines.with_columns(
            invoice_line_id=pl.format(
                f"{tag}-I{{}}", pl.col("number").cast(pl.String).str.zfill(3)
            ),
            invoice_date=pl.col("delivery_date").dt.offset_by("7d"),
            invoiced_quantity=charged.round(2),
        )
        .filter(pl.col("invoice_date") < calendar.date(calendar.end_day - _UNCHARGED_DAYS))
        .with_columns(
            goods_amount=(price * pl.col("invoiced_quantity") * dearer).round(2),
        )
        .with_columns(tax_amount=(pl.col("goods_amount") * tax).round(2))
        .with_columns(
            goods_amount=pl.col("goods_amount")
            + pl.when(is_taxed).then("tax_amount").otherwise(0.0)
        )
        .sort("number")
    )


def _need(
    handover_day: np.ndarray, amounts: np.ndarray, calendar: Calendar, months: int
) -> np.ndarray:
    """Sum what was handed over in each period of so many months."""
    month = np.searchsorted(calendar.month_edges, handover_day, "right") - 1
    last = int(np.searchsorted(calendar.month_edges, calendar.end_day, "left"))
    return np.bincount(month // months, amounts, minlength=-(-last // months))


def _lines(
    calendar: Calendar,
    months: int,
    suppliers: tuple[str, ...],
    packs: np.ndarray,
    pack_quantity: np.ndarray,
    unusable: np.ndarray,
    order_days_before: int,
) -> pl.DataFrame:
    starts = calendar.month_edges[: len(packs) * months : months]
    supplier = np.resize(np.array(suppliers), len(packs))
    ordered = packs * pack_quantity
    return pl.DataFrame(
        {
            "supplier_id": supplier,
            "order_date": calendar.dates(np.maximum(starts - order_days_before, 0)),
            "sent_date": calendar.dates(np.maximum(starts - 2, 0)),
            "delivery_date": calendar.dates(starts),  # hand-over days come after it
            "packs_count": packs,
            "ordered_quantity": ordered.astype(float),
            "received_quantity": ordered.astype(float),
            "unusable_quantity": np.minimum(unusable, ordered).astype(float),
            "short_quantity": np.zeros(len(packs)),
        }
    ).filter(pl.col("packs_count") > 0)


def _bin_lines(
    simulation: Simulation, gone: pl.DataFrame, rng: np.random.Generator
) -> pl.DataFrame:
    calendar = simulation.calendar
    parts = []
    for index, model in enumerate(simulation.town.bin_models):
        mine = gone.filter(pl.col("model_index") == index)
        need = _need(
            mine["day"].to_numpy(), mine["bins_count"].to_numpy(), calendar, MONTHS_A_QUARTER
        )
        supplier = np.resize(np.array(_BIN_SUPPLIERS), len(need))
        pack = np.array([_BIN_PACK[code] for code in supplier])
        packs = np.ceil(_SPARE * need / pack).astype(int)
        broken = rng.binomial(packs * pack, _BROKEN_SHARE)
        lines = _lines(calendar, MONTHS_A_QUARTER, _BIN_SUPPLIERS, packs, pack, broken, 25)
        amount = (pl.col("ordered_quantity") * model.unit_price).round(2)
        parts.append(
            lines.with_columns(
                item_kind=pl.lit("bins"), item_id=pl.lit(model.model_id), goods_amount=amount
            )
        )
    return pl.concat(parts)


def _worm_lines(
    simulation: Simulation, gone: pl.DataFrame, rng: np.random.Generator, species: str
) -> pl.DataFrame:
    calendar = simulation.calendar
    need = _need(gone["day"].to_numpy(), gone["worms_kg"].to_numpy(), calendar, 1)
    supplier = np.resize(np.array(_WORM_SUPPLIERS), len(need))
    pack = np.array([_WORM_PACK_KG[code] for code in supplier])
    packs = np.ceil(_SPARE * need / pack).astype(int)
    mean = np.array([_DEAD_SHARE[code] for code in supplier])
    share = rng.beta(mean * _DEAD_SPREAD, (1.0 - mean) * _DEAD_SPREAD)
    dead = np.round(packs * pack * share, 2)
    lines = _lines(calendar, 1, _WORM_SUPPLIERS, packs, pack, dead, 9)
    price = simulation.town.prices.worms_per_kg
    return lines.with_columns(
        item_kind=pl.lit("worms"),
        item_id=pl.lit(species),
        goods_amount=(pl.col("ordered_quantity") * price).round(2),
    )


def _bedding_lines(simulation: Simulation, gone: pl.DataFrame, material: str) -> pl.DataFrame:
    calendar = simulation.calendar
    day, given = gone["day"].to_numpy(), gone["bedding_kg"].to_numpy()
    need = _need(day, given, calendar, MONTHS_A_YEAR)
    packs = np.ceil(_SPARE * need / _COIR_PACK_KG).astype(int)
    pack = np.full(len(packs), _COIR_PACK_KG)
    lines = _lines(calendar, MONTHS_A_YEAR, ("COCOS",), packs, pack, np.zeros(len(packs)), 25)
    price = simulation.town.prices.bedding_per_kg
    return lines.with_columns(
        item_kind=pl.lit("bedding"),
        item_id=pl.lit(material),
        goods_amount=(pl.col("ordered_quantity") * price).round(2),
    )


def _counts(
    simulation: Simulation, gone: pl.DataFrame, givebacks: pl.DataFrame, deliveries: pl.DataFrame
) -> pl.DataFrame:
    """Count each item at the end of each reporting year; worms left over were lost by then."""
    rows: list[CountRow] = []
    calendar = simulation.calendar
    reissued = simulation.bins.join(
        givebacks.filter("is_reissued").select("handover_id", "giveback_date"), on="handover_id"
    )
    for edge in calendar.year_edges[1:]:
        last = calendar.date(int(edge) - 1)
        rows += _counts_on(last, simulation, gone, reissued, deliveries, rows)
    names = ["item_kind", "item_id", "count_date", "counted_quantity", "lost_quantity"]
    counted = pl.DataFrame(rows, schema=names, orient="row").with_row_index("number", offset=1)
    tag = simulation.town.tag
    return counted.with_columns(
        count_id=pl.format(f"{tag}-C{{}}", pl.col("number").cast(pl.String).str.zfill(2))
    )


def _counts_on(
    last: dt.date,
    simulation: Simulation,
    gone: pl.DataFrame,
    reissued: pl.DataFrame,
    deliveries: pl.DataFrame,
    before: list[CountRow],
) -> list[CountRow]:
    """Count each item on one day: kind, item, day, counted, lost since the count before."""
    usable = deliveries.filter(pl.col("delivery_date") <= last)
    handed = gone.filter(pl.col("day") <= (last - simulation.calendar.origin).days)
    back = reissued.filter(pl.col("giveback_date") <= last)
    net = pl.col("received_quantity") - pl.col("unusable_quantity")
    got = dict(usable.group_by("stock_item").agg(net.sum()).iter_rows())
    rows: list[CountRow] = []
    for index, model in enumerate(simulation.town.bin_models):
        given = int(handed.filter(pl.col("model_index") == index)["bins_count"].sum())
        returned = back.filter(pl.col("model_id") == model.model_id).height
        left = got.get(model.model_id, 0.0) + returned - given
        rows.append(("bins", model.model_id, last, left, 0.0))
    lost_before = sum(row[4] for row in before if row[0] == "worms")
    lost = got["worms"] - float(handed["worms_kg"].sum()) - lost_before
    rows.append(("worms", "worms", last, 0.0, round(lost, 2)))
    left = got["bedding"] - float(handed["bedding_kg"].sum())
    rows.append(("bedding", "bedding", last, round(left, 1), 0.0))
    return rows
