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
    packs_count
        Whole packs that bring the quantity, or the least that the offer takes.
    goods_amount, freight_amount
        Price of the packs in one order, and of its deliveries [currency].
    lost_share
        Share expected to come dead, broken or faulty.
    usable_quantity
        Bins or kg that remain.
    """

    offer: Offer
    packs_count: int
    goods_amount: float
    freight_amount: float
    lost_share: float
    usable_quantity: float

    @property
    def landed_amount(self) -> float:
        """Goods and freight [currency]."""
        return self.goods_amount + self.freight_amount

    @property
    def landed_unit_cost(self) -> float:
        """Goods and freight over what is usable [currency per bin or kg]."""
        return self.landed_amount / self.usable_quantity


def quote(
    offer: Offer,
    supplier: Supplier,
    usable_quantity: float,
    deliveries_count: int,
    lost_share: float,
) -> Quote:
    """Work out what an offer comes to for a quantity that must be usable on arrival.

    Every offer is asked for the same quantity in the same number of deliveries, so that
    packs, price breaks, freight and losses show; lead times and limits by week do not, and the
    plan may still mix offers.

    Parameters
    ----------
    offer, supplier
        The offer, and what a delivery of its supplier costs.
    usable_quantity
        What is needed of the item [bins or kg].
    deliveries_count
        Deliveries in which it comes, as evenly as packs allow.
    lost_share
        Share of this supplier's goods expected to be unusable, below 1.

    Examples
    --------
    >>> from planner.ordering.problem import Offer, PriceStep, Supplier
    >>> steps = (PriceStep(1, 10.0), PriceStep(11, 8.0))
    >>> offer = Offer("O", "S", "bins", "m", "m", 6.0, 5, 1, None, False, steps)
    >>> one = quote(offer, Supplier("S", "S", 0.0, 20.0, 3.0), 90.0, 2, 0.1)
    >>> one.packs_count, one.goods_amount, one.freight_amount, one.usable_quantity
    (17, 136.0, 52.0, 91.8)
    """
    wanted = usable_quantity / (1.0 - lost_share)
    packs = max(math.ceil(wanted / offer.pack_quantity - 1e-9), offer.minimum_packs_count)
    freight = deliveries_count * supplier.freight_per_delivery
    if offer.packs_per_pallet is not None:
        # a part of a pallet costs as much as a whole one, in each delivery
        each = [packs // deliveries_count + (n < packs % deliveries_count)
                for n in range(deliveries_count)]  # fmt: skip
        pallets = sum(math.ceil(count / offer.packs_per_pallet) for count in each)
        freight += pallets * supplier.freight_per_pallet
    usable = packs * offer.pack_quantity * (1.0 - lost_share)
    return Quote(offer, packs, offer.goods_cost(packs), freight, lost_share, round(usable, 9))


def ranked(quotes: Sequence[Quote]) -> list[Quote]:
    """Order quotes of one item by what a usable unit costs."""
    return sorted(quotes, key=lambda one: (one.landed_unit_cost, one.offer.offer_id))
