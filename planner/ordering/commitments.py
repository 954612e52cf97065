"""What is in store and on order already, and what it leaves to be bought and spent."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from planner.ordering.demand import WORMS
from planner.ordering.problem import Quarter

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    import polars as pl
    from numpy.typing import NDArray

    from planner.ordering.demand import Demand
    from planner.program.ordering import Ordering, QuarterBudget

FAR_AHEAD = dt.date(2100, 1, 1)


@dataclass(frozen=True)
class InventoryPosition:
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


def position_on(
    day: dt.date, outstanding: pl.DataFrame, reconciled: pl.DataFrame
) -> InventoryPosition:
    """Read what is in store and on order at the end of a day.

    Parameters
    ----------
    day
        When.
    outstanding, reconciled
        Rows of the queries orders_outstanding and stock_reconciled.
    """
    return InventoryPosition(
        day,
        outstanding,
        _in_stock_kg(reconciled, "bedding"),
        _in_stock_kg(reconciled, WORMS),
        {
            row["stock_item"]: max(0, int(row["in_stock_quantity"]))
            for row in reconciled.filter(item_kind="bins").iter_rows(named=True)
        },
    )


def _in_stock_kg(reconciled: pl.DataFrame, item_kind: str) -> float:
    rows = reconciled.filter(item_kind=item_kind)
    return max(0.0, float(rows["in_stock_quantity"].sum()))


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


def worms_on_hand_kg(
    demand: Demand, position: InventoryPosition, settings: Ordering, starter_kg: float
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
    batches = [(position.counted_date, position.worms_in_stock_kg)]
    for row in position.outstanding.filter(item_kind=WORMS).iter_rows(named=True):
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
