"""Suppliers and their offers, from the records, and what a needed unit of each costs."""

from __future__ import annotations

import datetime as dt
import math
from dataclasses import dataclass
from functools import reduce
from typing import TYPE_CHECKING, Any

from planner.errors import OrderError
from planner.messages import paper, say
from planner.ordering.demand import WORMS
from planner.ordering.problem import Offer, PriceStep, Supplier
from planner.ordering.shipping_window import TravelLimits
from planner.tables.purchases import BREAKS, PACKINGS

if TYPE_CHECKING:
    from collections.abc import Collection, Iterable, Mapping, Sequence

    import polars as pl

    from planner.factors import FactorTable
    from planner.ordering.problem import PurchaseProblem


def read_suppliers(suppliers: pl.DataFrame) -> dict[str, Supplier]:
    """Read what a delivery of each supplier costs."""
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

    Items are bin models and bedding materials. Worms of species that the council does not take
    are left out, mixed ones too. Limits of packings, those of plain packing under "", hold where
    an offer names none.
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
        lacking.append(say("order.fail.worms", species=joined_by_or(species)))
    if lacking and not problem.suppliers:
        raise OrderError(say("order.fail.no_suppliers"))
    if lacking:
        raise OrderError(say("order.fail.no_offer", items=", ".join(lacking)))


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
    named = {"item": item, "events": ", ".join(events)}
    if soonest is None:
        return paper().say("order.note.too_late", **named)
    return paper().say("order.note.too_soon", day=soonest, **named)


def joined_by_or(names: Iterable[str]) -> str:
    """Join names with "or" in the officer's language."""
    return reduce(lambda first, second: say("order.or", first=first, second=second), names)


@dataclass(frozen=True)
class Quote:
    """One offer, had it to bring all that is needed of its item."""

    offer: Offer
    # whole packs of each delivery, each an order of its own; never fewer than the offer takes
    packs_counts: tuple[int, ...]
    # price of the packs so split, and of their deliveries [currency]
    goods_amount: float
    freight_amount: float
    whole_amount: float  # goods and freight of all packs in one order and one delivery [currency]
    lost_share: float  # share expected to come dead, broken or faulty
    usable_quantity: float  # bins or kg that remain
    needed_quantity: float  # bins or kg of them that are needed
    # deliveries whose goods are worth less than the supplier's least order
    below_least_count: int = 0

    @property
    def packs_count(self) -> int:
        """Packs of all deliveries."""
        return sum(self.packs_counts)

    @property
    def landed_amount(self) -> float:
        """Goods and freight of the deliveries as split [currency]."""
        return self.goods_amount + self.freight_amount

    @property
    def landed_unit_cost(self) -> float:
        """Goods and freight over what is needed [currency per bin or kg].

        What large packs bring beyond it is paid for, and saves nothing.
        """
        return self.landed_amount / self.needed_quantity


def quote(
    offer: Offer,
    supplier: Supplier,
    usable_quantities: Sequence[float],
    lost_share: float,
) -> Quote:
    """Work out what an offer comes to for quantities that must be usable on arrival.

    Every offer is asked for the same quantities in the same deliveries, so that packs, price
    breaks, freight and losses show; lead times and limits by week do not, and the plan may
    still mix offers. Price breaks count within a delivery, since each is ordered apart.

    Parameters
    ----------
    usable_quantities
        What is needed of the item in each delivery [bins or kg], in order of time. What whole
        packs bring beyond it counts for the next delivery, save of live worms.
    lost_share
        Share of this supplier's goods expected to be unusable, below 1.

    Examples
    --------
    >>> from planner.ordering.problem import Offer, PriceStep, Supplier
    >>> steps = (PriceStep(1, 10.0), PriceStep(11, 8.0))
    >>> offer = Offer("O", "S", "bins", "m", "m", 6.0, 5, 1, None, False, steps)
    >>> one = quote(offer, Supplier("S", "S", 0.0, 20.0, 3.0), [45.0, 45.0], 0.1)
    >>> one.packs_counts, one.goods_amount, one.freight_amount, one.whole_amount
    ((9, 8), 170.0, 52.0, 168.0)
    """
    counts = _packs(offer, usable_quantities, lost_share)
    packs = sum(counts)
    usable = packs * offer.pack_quantity * (1.0 - lost_share)
    goods = [offer.goods_cost(count) for count in counts]
    least = supplier.minimum_order_amount
    return Quote(
        offer,
        counts,
        sum(goods),
        sum(_freight(offer, supplier, count) for count in counts),
        offer.goods_cost(packs) + _freight(offer, supplier, packs),
        lost_share,
        round(usable, 9),
        sum(usable_quantities),
        sum(1 for amount in goods if amount < least),
    )


def _packs(offer: Offer, usable_quantities: Sequence[float], lost_share: float) -> tuple[int, ...]:
    """Whole packs of each delivery that is needed."""
    counts, over = [], 0.0
    for quantity in usable_quantities:
        wanted = quantity / (1.0 - lost_share) - over
        if wanted <= ROUNDING:
            over = -wanted
            continue
        count = math.ceil(wanted / offer.pack_quantity - ROUNDING)
        count = max(count, offer.minimum_packs_count)
        over = 0.0 if offer.is_live else count * offer.pack_quantity - wanted
        counts.append(count)
    return tuple(counts)


ROUNDING = 1e-9


def _freight(offer: Offer, supplier: Supplier, packs_count: int) -> float:
    """Freight of a delivery; a part of a pallet costs as much as a whole one."""
    pallets = math.ceil(packs_count / offer.packs_per_pallet) if offer.packs_per_pallet else 0
    return supplier.freight_per_delivery + pallets * supplier.freight_per_pallet
