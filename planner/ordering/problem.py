"""What is to be bought, from whom and when it could come: the purchase problem in arrays.

Masses and counts of an offer are in packs; needs are in bins or kilograms. Times are days.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Literal

if TYPE_CHECKING:
    from collections.abc import Mapping

    import numpy as np
    from numpy.typing import NDArray

    from planner.ordering.shipping_window import TravelLimits

Lock = Literal["", "held", "late", "not_offered"]
"""Why a line may not be bought: parcels would be held, it is too late, the offer has ended."""


@dataclass(frozen=True)
class Supplier:
    """A supplier and what each of its deliveries costs."""

    supplier_id: str
    supplier_name: str
    minimum_order_amount: float
    freight_per_delivery: float
    freight_per_pallet: float
    # by how much what is spent with it may go beyond the largest share
    beyond_share_amount: float = 0.0


@dataclass(frozen=True)
class PriceStep:
    """A price that holds from a number of packs on."""

    from_packs_count: int
    price_per_pack: float


@dataclass(frozen=True)
class Offer:
    """A supplier's offer of one item in one pack."""

    offer_id: str
    supplier_id: str
    item_kind: str
    item: str  # item that it serves: a bin model, "worms" or a bedding material
    item_name: str  # what stands on the order: for worms the species
    pack_quantity: float
    packs_per_pallet: int | None
    minimum_packs_count: int
    weekly_limit_packs_count: int | None
    # lower prices hold for the packs from the break on alone, not for all: at "20 and more" the
    # twentieth pack is the first at the new price
    is_incremental: bool
    steps: tuple[PriceStep, ...]  # prices, the first from one pack on
    packing: str = ""  # how worms are packed against heat or frost; empty for plainly
    # weather through which they are sent; None for the council's shipping window
    travels: TravelLimits | None = None

    @property
    def is_live(self) -> bool:
        """Tell whether it is of live worms."""
        return self.item_kind == "worms"

    def goods_cost(self, packs_count: int) -> float:
        """Price of so many packs in one order.

        Examples
        --------
        >>> steps = (PriceStep(1, 10.0), PriceStep(11, 8.0))
        >>> offer = Offer("O", "S", "bins", "m", "m", 1.0, None, 1, None, False, steps)
        >>> offer.goods_cost(20)
        160.0
        """
        return sum((count * price for count, price in self.parts(packs_count)), 0.0)

    def parts(self, packs_count: int) -> list[tuple[int, float]]:
        """Packs of one order at each price, with the price of a pack."""
        reached = [step for step in self.steps if step.from_packs_count <= packs_count]
        if not self.is_incremental:
            return [(packs_count, step.price_per_pack) for step in reached[-1:]]
        ends = [*(step.from_packs_count - 1 for step in reached[1:]), packs_count]
        return [
            (end - begin, step.price_per_pack)
            for begin, end, step in zip([0, *ends], ends, reached, strict=False)
        ]


@dataclass(frozen=True)
class Slot:
    """A day on which a supplier could deliver."""

    supplier_id: str
    dispatch_date: dt.date
    delivery_date: dt.date
    quarter: int  # place of its budget in `PurchaseProblem.quarters`; -1 where none holds
    # days by which goods that keep may come late, at the wanted level of certainty
    late_days: int = 0
    # by how much the supplier takes an order for this day below its least
    below_least_amount: float = 0.0

    @property
    def counted_date(self) -> dt.date:
        """Day from which goods that keep are counted on: late by as much as is likely."""
        return self.delivery_date + dt.timedelta(days=self.late_days)


@dataclass(frozen=True)
class Line:
    """An offer that could be bought for a slot."""

    offer: int
    slot: int
    order_date: dt.date  # day on which to order: some days before the last, where there is time
    lock: Lock = ""  # why it may not be bought; empty where it may
    # last day on which it can be ordered; that of `order_date` where none is given
    latest_order_date: dt.date | None = None
    # probability that live worms so packed and sent on that day would have to wait
    held_chance: float = 0.0


@dataclass(frozen=True)
class StoredNeed:
    """Quantities of an item that keeps, to have received by days, beyond what is there."""

    item: str
    ready_dates: tuple[dt.date, ...]  # days by which they must be there, rising
    # received by then in all, never falling, of the same length [bins or kg]
    quantities: NDArray[np.float64]
    event_ids: tuple[str, ...]  # hand-over day that asks for each


@dataclass(frozen=True)
class LiveNeed:
    """Worms that one hand-over day needs alive, and from which slots they could come."""

    event_id: str
    event_date: dt.date
    needed_kg: float  # alive at the hand-over
    # Slots from which it can be served; what must be sent from each to serve it alone [kg]; days of
    # holding. All of one length.
    slots: NDArray[np.int64]
    sent_kg: NDArray[np.float64]
    held_days: NDArray[np.int64]


@dataclass(frozen=True)
class Quarter:
    """A budget that holds for deliveries from one day until before another."""

    begins: dt.date
    ends: dt.date
    budget: float


@dataclass(frozen=True)
class BinStore:
    """Room for bins of all models together."""

    bins_most: float  # most bins in store at a time
    in_stock_count: float  # bins there now
    # hand-over days, and bins expected to leave the store on each
    event_dates: tuple[dt.date, ...]
    leaving_count: NDArray[np.float64]
    # days on which bins on order come, and how many
    coming_dates: tuple[dt.date, ...] = ()
    coming_count: tuple[float, ...] = ()

    def room_on(self, day: dt.date) -> float:
        """Bins that may have come by a day in all, next to those on order."""
        came = sum(
            count
            for date, count in zip(self.coming_dates, self.coming_count, strict=True)
            if date <= day
        )
        left = sum(
            float(count)
            for date, count in zip(self.event_dates, self.leaving_count, strict=True)
            if date < day
        )
        return self.bins_most - self.in_stock_count - came + left


@dataclass(frozen=True)
class Commitments:
    """What orders placed before take of the limits."""

    # packs of an offer, by its place and the Monday of the week of sending
    weekly_packs: Mapping[tuple[int, dt.date], int] = field(default_factory=dict)
    # worms held from a day until before another: both days and the mass [kg]
    held_kg: tuple[tuple[dt.date, dt.date, float], ...] = ()
    # spent with each supplier in the time over which its share is judged
    spent: Mapping[str, float] = field(default_factory=dict)

    def packs_left(self, limit: int, offer: int, week: dt.date) -> int:
        """Packs of an offer that may still be sent in a week, of so many in all."""
        return max(0, limit - self.weekly_packs.get((offer, week), 0))

    def held_on(self, day: dt.date) -> float:
        """Worms held on a day [kg]."""
        return sum(kilos for came, leaves, kilos in self.held_kg if came <= day < leaves)


@dataclass(frozen=True)
class PurchaseProblem:
    """What may be bought, what is needed, and the limits."""

    suppliers: Mapping[str, Supplier]  # by their code
    offers: tuple[Offer, ...]
    slots: tuple[Slot, ...]
    lines: tuple[Line, ...]
    stored: tuple[StoredNeed, ...]
    live: tuple[LiveNeed, ...]
    # longest that worms are kept, and most of them at a time
    holding_days_most: int
    holding_kg_most: float
    quarters: tuple[Quarter, ...] = ()
    largest_supplier_share: float = 1.0
    store: BinStore | None = None  # room for bins; None where there is enough for any number
    # suppliers from whom nothing is bought
    barred_suppliers: frozenset[str] = field(default_factory=frozenset)
    # what earlier orders take of weekly limits, holding room and suppliers' shares; budgets and
    # needs are given less what is on order
    commitments: Commitments = field(default_factory=Commitments)

    def least_order(self, slot: int) -> float:
        """Least value of an order for a slot."""
        one = self.slots[slot]
        least = self.suppliers[one.supplier_id].minimum_order_amount
        return max(0.0, least - one.below_least_amount)
