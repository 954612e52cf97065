"""Quotes side by side: what a usable unit of each offer costs where it is needed."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Sequence

    from planner.ordering.problem import Offer, Supplier


@dataclass(frozen=True)
class Quote:
    """One offer, had it to bring all that is needed of its item.

    Parameters
    ----------
    offer
        The offer.
    packs_counts
        Whole packs of each delivery, each an order of its own; never fewer than the offer takes.
    goods_amount, freight_amount
        Price of the packs so split, and of their deliveries [currency].
    whole_amount
        Goods and freight of all packs in one order and one delivery [currency].
    lost_share
        Share expected to come dead, broken or faulty.
    usable_quantity
        Bins or kg that remain.
    below_least_count
        Deliveries whose goods are worth less than the supplier's least order.
    """

    offer: Offer
    packs_counts: tuple[int, ...]
    goods_amount: float
    freight_amount: float
    whole_amount: float
    lost_share: float
    usable_quantity: float
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
        """Goods and freight over what is usable [currency per bin or kg]."""
        return self.landed_amount / self.usable_quantity


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
    offer, supplier
        The offer, and what a delivery of its supplier costs.
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


def ranked(quotes: Sequence[Quote]) -> list[Quote]:
    """Order quotes of one item by what a usable unit costs."""
    return sorted(quotes, key=lambda one: (one.landed_unit_cost, one.offer.offer_id))
