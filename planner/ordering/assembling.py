"""The purchase problem from demand, records and the program file."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from planner.ordering.demand import WORMS, sent_kg_by_law
from planner.ordering.problem import BinStore, LiveNeed, PurchaseProblem, Quarter, StoredNeed
from planner.worms.transit import allowance_share, heat_multiplier, loss_law

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    import polars as pl
    from numpy.typing import NDArray

    from planner.ordering.demand import Demand
    from planner.ordering.problem import Supplier
    from planner.ordering.slots import Slots
    from planner.program.ordering import Ordering, QuarterBudget
    from planner.worms.transit import LossLaw

FAR_AHEAD = dt.date(2100, 1, 1)


@dataclass(frozen=True)
class Coming:
    """Goods on order that have not come, and bedding in store.

    Attributes
    ----------
    outstanding
        Rows of the query orders_outstanding.
    counted_date
        Day at whose end all this holds.
    bedding_in_stock_kg, worms_in_stock_kg
        Dry bedding and live worms in store.
    bins_in_stock
        Usable bins in store, by model.
    """

    counted_date: dt.date
    outstanding: pl.DataFrame
    bedding_in_stock_kg: float
    worms_in_stock_kg: float
    bins_in_stock: Mapping[str, int]

    def by(self, stock_item: str, day: dt.date, item_id: str | None = None) -> float:
        """Quantity of an item that is agreed to come by a day."""
        total = 0.0
        for row in self.outstanding.iter_rows(named=True):
            is_it = row["stock_item"] == stock_item and row["delivery_date"] <= day
            if is_it and item_id in (None, row["item_id"]):
                total += row["outstanding_quantity"]
        return total


def loss_laws(
    suppliers: pl.DataFrame, deliveries: pl.DataFrame, loss_share: float
) -> dict[str, LossLaw]:
    """Law of losses of each supplier: the allowance for its days, and its own record.

    Parameters
    ----------
    suppliers
        Frame of tables.Suppliers.
    deliveries
        Rows of the query live_deliveries.
    loss_share
        Allowance for three days on the way.
    """
    laws = {}
    for row in suppliers.iter_rows(named=True):
        own = deliveries.filter(supplier_id=row["supplier_id"])
        laws[row["supplier_id"]] = loss_law(
            allowance_share(loss_share, max(1, row["transit_days"])),
            own["received_kg"].to_numpy(),
            own["dead_kg"].to_numpy(),
        )
    return laws


def budget_quarters(
    quarters: Sequence[QuarterBudget], outstanding: pl.DataFrame
) -> tuple[Quarter, ...]:
    """Set out budgets with the days on which they hold, less what is on order already.

    Parameters
    ----------
    quarters
        Blocks of the program file, in order of time.
    outstanding
        Rows of the query orders_outstanding.
    """
    ends = [*(one.begins for one in quarters[1:]), FAR_AHEAD]
    found = []
    for one, end in zip(quarters, ends, strict=False):
        owed = sum(
            row["landed_amount"]
            for row in outstanding.iter_rows(named=True)
            if one.begins <= row["delivery_date"] < end
        )
        found.append(Quarter(one.begins, end, max(0.0, one.budget - owed)))
    return tuple(found)


def assemble(
    demand: Demand,
    slots: Slots,
    suppliers: Mapping[str, Supplier],
    laws: Mapping[str, LossLaw],
    coming: Coming,
    settings: Ordering,
    starter_kg: float,
    bedding_kg: Mapping[str, float],
    quarters: tuple[Quarter, ...],
) -> PurchaseProblem:
    """Put the purchase problem together.

    Parameters
    ----------
    demand
        Quantities at the levels of service.
    slots
        Slots, lines and offers.
    suppliers
        By code.
    laws
        Losses of live worms by supplier.
    coming
        What is on order and in store.
    settings
        Block [ordering] of the program file.
    starter_kg
        Worms for a bin [kg].
    bedding_kg
        Mass of each bought material for a household [kg].
    quarters
        Budgets.
    """
    there = worms_there_kg(demand, coming, settings, starter_kg)
    live = tuple(
        _live(number, demand, slots, laws, there[number], settings, starter_kg)
        for number in range(len(demand.events.event_ids))
    )
    return PurchaseProblem(
        suppliers,
        slots.offers,
        slots.slots,
        slots.lines,
        tuple(_stored_needs(demand, coming, settings, bedding_kg)),
        live,
        settings.holding_days_most,
        settings.holding_kg_most,
        quarters,
        settings.largest_supplier_share,
        _store(demand, coming, settings),
    )


def _stored_needs(
    demand: Demand, coming: Coming, settings: Ordering, bedding_kg: Mapping[str, float]
) -> list[StoredNeed]:
    """Bins by model and bedding by material, less what is in store and on order."""
    ready = tuple(
        day - dt.timedelta(days=settings.ready_days_before) for day in demand.events.event_dates
    )
    stored = [
        _stored(model, ready, plan.bought_count.astype(float), demand.events.event_ids, coming)
        for model, plan in demand.bins.items()
    ]
    all_kg = sum(bedding_kg.values())
    for material, kilos in bedding_kg.items():
        needed = demand.bedding_households_count * kilos
        in_stock = coming.bedding_in_stock_kg * kilos / all_kg
        left = np.maximum(needed - in_stock, 0.0)
        stored.append(_stored(material, ready, left, demand.events.event_ids, coming, "bedding"))
    return stored


def _store(demand: Demand, coming: Coming, settings: Ordering) -> BinStore | None:
    """Room for bins, less those on order; households that are expected take theirs along."""
    if settings.bins_stored_most is None:
        return None
    leaving = np.asarray(demand.events.booked_count * settings.show_up_share)
    on_order = sum(coming.by(model, FAR_AHEAD) for model in demand.bins)
    there = float(sum(coming.bins_in_stock.get(model, 0) for model in demand.bins))
    most = float(settings.bins_stored_most)
    return BinStore(most, there + on_order, demand.events.event_dates, leaving)


def _stored(
    item: str,
    ready: tuple[dt.date, ...],
    needed: NDArray[np.float64],
    event_ids: tuple[str, ...],
    coming: Coming,
    stock_item: str = "",
) -> StoredNeed:
    on_order = [coming.by(stock_item or item, day, item if stock_item else None) for day in ready]
    left = np.maximum.accumulate(np.maximum(needed - np.array(on_order), 0.0))
    return StoredNeed(item, ready, left, event_ids)


def worms_there_kg(
    demand: Demand, coming: Coming, settings: Ordering, starter_kg: float
) -> NDArray[np.float64]:
    """Worms in store or on order that can still be held for each event, the first served first.

    Parameters
    ----------
    demand
        Households for whom worms must be there.
    coming
        Worms in store on the first day, and on order.
    settings
        How long worms are held, and what dies in a day of it.
    starter_kg
        Worms for a bin [kg].
    """
    batches = [(coming.counted_date, coming.worms_in_stock_kg)]
    for row in coming.outstanding.filter(item_kind=WORMS).iter_rows(named=True):
        batches.append((row["delivery_date"], row["outstanding_quantity"]))
    left = {place: kilos for place, (_, kilos) in enumerate(batches)}
    there = np.zeros(len(demand.events.event_ids))
    for number, day in enumerate(demand.events.event_dates):
        wanted = float(demand.show_ups_count[number] * starter_kg)
        for place, (came, _) in sorted(enumerate(batches), key=lambda pair: pair[1][0]):
            days = (day - came).days
            if not 0 <= days <= settings.holding_days_most or left[place] <= 0.0:
                continue
            alive = (1.0 - settings.holding_loss_share_per_day) ** days
            taken = min(left[place], (wanted - there[number]) / alive)
            there[number] += taken * alive
            left[place] -= taken
    return there


def _live(
    number: int,
    demand: Demand,
    slots: Slots,
    laws: Mapping[str, LossLaw],
    there_kg: float,
    settings: Ordering,
    starter_kg: float,
) -> LiveNeed:
    """Worms for one event, less those that will be there for it already."""
    events = demand.events
    needed = float(demand.show_ups_count[number] * starter_kg)
    share_left = max(0.0, 1.0 - there_kg / needed) if needed else 0.0
    found = slots.live_slots.get(number, ())
    sent = [
        sent_kg_by_law(
            int(events.booked_count[number]),
            float(demand.worms_level[number]) - LEVEL_ROUNDING,
            settings,
            starter_kg,
            laws[slots.slots[slot].supplier_id],
            float(heat_multiplier(slots.warmest_c[slot]).mean()),
            days,
        )
        for slot, days in found
    ]
    return LiveNeed(
        events.event_ids[number],
        events.event_dates[number],
        needed * share_left,
        np.array([slot for slot, _ in found], dtype=np.int64),
        np.array(sent, dtype=np.float64) * share_left,
        np.array([days for _, days in found], dtype=np.int64),
    )


LEVEL_ROUNDING = 1e-9
"""Keeps a level that is reached exactly from being missed by the last bit."""
