"""Suppliers and their offers, from the records."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING, Any

from planner.errors import OrderError
from planner.ordering.demand import WORMS
from planner.ordering.problem import Offer, PriceStep, Supplier
from planner.ordering.shipping_window import TravelLimits
from planner.tables.purchases import BREAKS, PACKINGS

if TYPE_CHECKING:
    from collections.abc import Collection, Mapping, Sequence

    import polars as pl

    from planner.factors import FactorTable
    from planner.ordering.problem import PurchaseProblem


def read_suppliers(suppliers: pl.DataFrame) -> dict[str, Supplier]:
    """Read what a delivery of each supplier costs.

    Parameters
    ----------
    suppliers
        Frame of tables.Suppliers.
    """
    return {
        row["supplier_id"]: Supplier(
            row["supplier_id"],
            row["supplier_name"],
            row["minimum_order_amount"] or 0.0,
            row["freight_per_delivery"],
            row["freight_per_pallet"],
        )
        for row in suppliers.iter_rows(named=True)
    }


def read_offers(
    offers: pl.DataFrame,
    items: Collection[str],
    species: Collection[str],
    packings: Mapping[str, TravelLimits],
) -> dict[str, Offer]:
    """Read the offers that serve what is needed.

    Parameters
    ----------
    offers
        Frame of tables.Offers.
    items
        Bin models and bedding materials that are needed.
    species
        Species of worms that the council takes; others are left out, mixed ones too.
    packings
        Limits of each packing, and of plain packing under "", where an offer names none.
    """
    known = {folded(name): name for name in items}
    taken = {folded(name) for name in species}
    found = {}
    for row in offers.iter_rows(named=True):
        name = folded(row["item_id"])
        is_live = row["item_kind"] == WORMS
        item = (WORMS if name in taken else None) if is_live else known.get(name)
        if item is not None:
            found[row["offer_id"]] = _offer(row, item, packings)
    return found


def folded(name: str) -> str:
    """Write a name without case and spaces around it.

    Examples
    --------
    >>> folded(" Eisenia  Fetida")
    'eisenia fetida'
    """
    return " ".join(name.split()).casefold()


def packing_limits(plain: TravelLimits, factors: FactorTable) -> dict[str, TravelLimits]:
    """Limits of plain packing, under "", and of each better one by the factor tables."""
    named = {
        packing: TravelLimits(
            factors.find("transit_coldest_c", packing).value,
            factors.find("transit_warmest_c", packing).value,
        )
        for packing in PACKINGS
    }
    return {"": plain, **named}


def _travels(row: dict[str, Any], packings: Mapping[str, TravelLimits]) -> TravelLimits | None:
    """Limits that the supplier names, those of the packing where it names none."""
    usual = packings[row["packing"] or ""]
    low, high = row["travels_from_c"], row["travels_to_c"]
    found = TravelLimits(
        usual.coldest_c if low is None else low, usual.warmest_c if high is None else high
    )
    return None if found == packings[""] else found


def _offer(row: dict[str, Any], item: str, packings: Mapping[str, TravelLimits]) -> Offer:
    breaks = [
        PriceStep(row[f"{name}_from_packs_count"], row[f"{name}_price_per_pack"])
        for name in BREAKS
        if row[f"{name}_from_packs_count"] is not None
    ]
    return Offer(
        row["offer_id"],
        row["supplier_id"],
        row["item_kind"],
        item,
        row["item_id"],
        row["pack_quantity"],
        row["packs_per_pallet"],
        row["minimum_packs_count"],
        row["weekly_limit_packs_count"],
        row["price_break_kind"] == "incremental",
        (PriceStep(1, row["price_per_pack"]), *breaks),
        row["packing"] or "",
        _travels(row, packings) if row["item_kind"] == WORMS else None,
    )


def check_offered(problem: PurchaseProblem, species: Sequence[str]) -> None:
    """Check that somebody offers everything that neither store nor earlier orders cover.

    Raises
    ------
    OrderError
        Names what nobody offers.
    """
    offered = {offer.item for offer in problem.offers}
    lacking = [
        need.item
        for need in problem.stored
        if need.quantities[-1] > 0.0 and need.item not in offered
    ]
    if WORMS not in offered and any(need.needed_kg > 0.0 for need in problem.live):
        lacking.append(f"worms ({' or '.join(species)})")
    if lacking and not problem.suppliers:
        message = (
            "There are no suppliers. Load the sheets suppliers and offers; `planner new` "
            "writes them empty, with what each column means."
        )
        raise OrderError(message)
    if lacking:
        message = (
            f"The sheet offers has no offer of {', '.join(lacking)}. Load offers of "
            "suppliers; item_id must be a bin model of program.toml, a species of "
            "ordering.species, or a bedding material of ordering.bedding."
        )
        raise OrderError(message)


def too_soon_notes(problem: PurchaseProblem) -> list[str]:
    """Say which hand-over days come before any supplier can deliver what they need."""
    soonest: dict[str, dt.date] = {}
    for line in problem.lines:
        item, slot = problem.offers[line.offer].item, problem.slots[line.slot]
        if line.lock != "late":
            came = slot.delivery_date if item == WORMS else slot.counted_date
            soonest[item] = min(came, soonest.get(item, came))
    short: dict[str, list[str]] = {}
    for need in problem.stored:
        for ready, quantity, event in zip(
            need.ready_dates, need.quantities, need.event_ids, strict=True
        ):
            if quantity > 0.0 and ready < soonest.get(need.item, dt.date.max):
                short.setdefault(need.item, []).append(event)
    for one in problem.live:
        if one.needed_kg > 0.0 and one.event_date <= soonest.get(WORMS, dt.date.max):
            short.setdefault(WORMS, []).append(one.event_id)
    return [_too_soon(item, events, soonest.get(item)) for item, events in short.items()]


def _too_soon(item: str, events: Sequence[str], soonest: dt.date | None) -> str:
    first = f"before {soonest:%Y-%m-%d}" if soonest else "before the last hand-over day"
    return (
        f"With the suppliers' lead times no {item} can be there {first}, too late for "
        f"{', '.join(events)}. Move the day, or ask a supplier to send sooner."
    )
