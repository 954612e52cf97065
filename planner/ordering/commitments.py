"""What is in store and on order already, and what it leaves to be bought and spent.

Every order that was placed counts until it is settled: in the budget of the quarter in which
it is paid, in the weekly limit of its offer, in the room for bins and worms, and in the
share of its supplier. What has not come is expected on the day agreed, or as late as its
supplier's record makes likely.
"""

from __future__ import annotations

import datetime as dt
import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import polars as pl

from planner.messages import paper
from planner.ordering.demand import WORMS
from planner.ordering.problem import Commitments, Quarter
from planner.ordering.slots import Lateness, days_between
from planner.ordering.working_days import monday_of

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from numpy.typing import NDArray

    from planner.ordering.demand import Demand
    from planner.ordering.problem import Offer
    from planner.ordering.slots import Calendar
    from planner.program.ordering import Ordering, QuarterBudget

FAR_AHEAD = dt.date(2100, 1, 1)


@dataclass(frozen=True)
class InventoryPosition:
    """Goods in store, and goods on order with the day on which they are to be counted on."""

    counted_date: dt.date  # day at whose end all this holds
    # rows of the query orders_committed, with expected_date: the day by which what is outstanding
    # can be counted on
    committed: pl.DataFrame
    # dry bedding and live worms in store
    bedding_in_stock_kg: float
    worms_in_stock_kg: float
    bins_in_stock: Mapping[str, int]  # usable bins in store, by model

    @property
    def outstanding(self) -> pl.DataFrame:
        """Lines of which something is still to come."""
        return self.committed.filter(pl.col("outstanding_quantity") > 0.0)

    @property
    def overdue(self) -> pl.DataFrame:
        """Lines that were to have come by now."""
        return self.outstanding.filter(pl.col("delivery_date") <= self.counted_date)

    @property
    def has_bedding(self) -> bool:
        """Tell whether any bedding is in store or on order."""
        on_order = self.outstanding.filter(item_kind="bedding")
        return self.bedding_in_stock_kg > 0.0 or not on_order.is_empty()

    def on_order_by(self, stock_item: str, day: dt.date, item_id: str | None = None) -> float:
        """Quantity of an item that can be counted on to have come by a day."""
        mine = self.outstanding.filter(stock_item=stock_item)
        if item_id is not None:
            mine = mine.filter(item_id=item_id)
        return float(mine.filter(pl.col("expected_date") <= day)["outstanding_quantity"].sum())


def position_on(
    day: dt.date,
    committed: pl.DataFrame,
    reconciled: pl.DataFrame,
    lateness: Mapping[str, Lateness],
    on_time_level: float,
) -> InventoryPosition:
    """Read what is in store and on order at the end of a day.

    Worms are expected on the day agreed, since they are ordered for one hand-over; goods
    that keep are counted on when they have come with the wanted probability. What is
    overdue has that wait still ahead. Rows are of the queries orders_committed and
    stock_reconciled.
    """
    expected = [
        max(agreed, day + dt.timedelta(days=1))
        if kind == WORMS
        else max(agreed, day)
        + dt.timedelta(days=lateness.get(supplier, Lateness()).buffer_days(on_time_level))
        for supplier, kind, agreed in committed.select(
            "supplier_id", "item_kind", "delivery_date"
        ).iter_rows()
    ]
    return InventoryPosition(
        day,
        committed.with_columns(expected_date=pl.Series(expected, dtype=pl.Date)),
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


def overdue_notes(position: InventoryPosition) -> list[str]:
    """Say which orders were to have come and have not, and when they are counted on."""
    return [
        paper().say(
            "order.note.overdue",
            line=row["order_line_id"],
            supplier=row["supplier_id"],
            quantity=paper().decimal(row["outstanding_quantity"], "#,##0.##"),
            item=row["item_id"],
            due=row["delivery_date"],
            day=row["expected_date"],
        )
        for row in position.overdue.iter_rows(named=True)
    ]


def budget_quarters(
    quarters: Sequence[QuarterBudget], committed: pl.DataFrame
) -> tuple[Quarter, ...]:
    """Set out budgets with the days on which they hold, less what is spent or on order.

    Parameters
    ----------
    quarters
        Blocks of the program file, in order of time.
    committed
        Rows of the query orders_committed: an order is paid whether or not it has come.
    """
    paid = payments(committed)
    ends = [*(one.begins for one in quarters[1:]), FAR_AHEAD]
    found = []
    for one, end in zip(quarters, ends, strict=False):
        is_paid = pl.col("paid_date").is_between(one.begins, end, closed="left")
        owed = float(paid.filter(is_paid)["amount"].sum())
        found.append(Quarter(one.begins, end, max(0.0, one.budget - owed)))
    return tuple(found)


def payments(committed: pl.DataFrame) -> pl.DataFrame:
    """Set out what is paid on each day: what came when it came, the rest when it is to come."""
    return committed.select("supplier_id", "payments").explode("payments").unnest("payments")


@dataclass(frozen=True)
class WormBatch:
    """Worms in store or on order: when they come, how many kilograms, and on which line."""

    came_date: dt.date
    kilos: float
    order_line_id: str = ""


def worm_batches(
    position: InventoryPosition,
    calendar: Calendar,
    transit_days: Mapping[str, int],
    offers: Sequence[Offer] = (),
) -> tuple[list[WormBatch], list[str]]:
    """List worms in store and on order that may travel, and say which may not.

    Worms on order meet the same heat and frost as new ones: a parcel that would have to
    wait is not counted on, and the officer is told to move it. Offers tell how they are packed.
    """
    travels = {offer.offer_id: offer.travels for offer in offers}
    batches = [WormBatch(position.counted_date, position.worms_in_stock_kg)]
    warnings = []
    most = calendar.weather.held_chance_most
    for row in position.outstanding.filter(item_kind=WORMS).iter_rows(named=True):
        came, transit = row["expected_date"], transit_days.get(row["supplier_id"], 0)
        sent = calendar.working_days.sent_for(came, transit)
        if row["delivery_date"] <= position.counted_date:
            # nobody knows that it was sent: it is expected as if it went on the next day that may
            sent = _next_sending(position, calendar)
            came = calendar.working_days.delivery(sent, transit)
        is_on_its_way = sent <= position.counted_date
        limits = travels.get(row["offer_id"])
        chance = calendar.weather.held_chance(days_between(sent, came), limits)
        if not is_on_its_way and chance > most:
            warnings.append(
                paper().say(
                    "order.note.worms_held",
                    line=row["order_line_id"],
                    kilos=paper().decimal(row["outstanding_quantity"], "#,##0.##"),
                    due=f"{came}",
                    share=paper().share(chance),
                )
            )
            continue
        kilos = float(row["outstanding_quantity"])
        batches.append(WormBatch(came, kilos, row["order_line_id"]))
    return batches, warnings


def allot_worms(
    demand: Demand, batches: Sequence[WormBatch], settings: Ordering, starter_kg: float
) -> tuple[NDArray[np.float64], tuple[tuple[dt.date, dt.date, float], ...], list[float]]:
    """Allot worms in store or on order to the events for which they can be held, the first first.

    What is left over serves no hand-over: worms do not keep.

    Returns
    -------
    tuple
        Worms alive for each event [kg], shape (events,); what is held from a day until
        before another: triples of both days and the mass; and what is left of each batch.
    """
    left = [one.kilos for one in batches]
    alive_kg = np.zeros(len(demand.events.event_ids))
    held: list[tuple[dt.date, dt.date, float]] = []
    by_date = sorted(range(len(batches)), key=lambda place: batches[place].came_date)
    for number, day in enumerate(demand.events.event_dates):
        wanted = float(demand.show_ups_count[number] * starter_kg)
        for place in by_date:
            days = (day - batches[place].came_date).days
            if not 0 <= days <= settings.holding_days_most or left[place] <= 0.0:
                continue
            alive = (1.0 - settings.holding_loss_share_per_day) ** days
            taken = min(left[place], (wanted - alive_kg[number]) / alive)
            alive_kg[number] += taken * alive
            left[place] -= taken
            held.append((batches[place].came_date, day, taken))
    return alive_kg, tuple(one for one in held if one[2] > 0.0), left


SPARE_KG = 0.1
SPARE_SHARE = 0.5
"""Worms on order without a hand-over are named from this mass, and this share of the line, on."""


def spare_worm_notes(batches: Sequence[WormBatch], left_kg: Sequence[float]) -> list[str]:
    """Name worms on order that no hand-over day takes: of cancelled days, or ordered twice."""
    return [
        paper().say(
            "order.note.worms_idle",
            line=one.order_line_id,
            due=f"{one.came_date}",
            left=paper().decimal(left, "#,##0.0"),
            kilos=paper().decimal(one.kilos, "#,##0.0"),
        )
        for one, left in zip(batches, left_kg, strict=True)
        if one.order_line_id and left > max(SPARE_KG, SPARE_SHARE * one.kilos)
    ]


@dataclass(frozen=True)
class Committed:
    """What earlier orders and the store leave of needs and limits."""

    position: InventoryPosition  # goods in store and on order
    worms_alive_kg: NDArray[np.float64]  # alive for each event out of them [kg], shape (events,)
    limits: Commitments  # what they take of weekly limits, holding room and suppliers' shares
    warnings: tuple[str, ...]  # worms on order that are not counted on, and why


def commit(
    position: InventoryPosition,
    offers: Sequence[Offer],
    calendar: Calendar,
    suppliers: pl.DataFrame,
    demand: Demand,
    settings: Ordering,
    starter_kg: float,
) -> Committed:
    """Work out what earlier orders and the store leave of needs and limits.

    `offers` stand in the order in which the purchase problem numbers them.
    """
    transit_days = dict(suppliers.select("supplier_id", "transit_days").iter_rows())
    batches, warnings = worm_batches(position, calendar, transit_days, offers)
    worms_alive_kg, held_kg, left_kg = allot_worms(demand, batches, settings, starter_kg)
    warnings += spare_worm_notes(batches, left_kg)
    begins = calendar.quarters[0].begins if calendar.quarters else calendar.from_date
    paid = payments(position.committed).filter(pl.col("paid_date") >= begins)
    spent = paid.group_by("supplier_id").agg(pl.col("amount").sum())
    weekly = _packs_by_week(position, offers, calendar, transit_days)
    limits = Commitments(weekly, held_kg, dict(spent.iter_rows()))
    return Committed(position, worms_alive_kg, limits, tuple(warnings))


def _next_sending(position: InventoryPosition, calendar: Calendar) -> dt.date:
    """First day after the one of the position on which what is overdue can be sent."""
    tomorrow = position.counted_date + dt.timedelta(days=1)
    return calendar.working_days.delivery(tomorrow, 0)


def _packs_by_week(
    position: InventoryPosition,
    offers: Sequence[Offer],
    calendar: Calendar,
    transit_days: Mapping[str, int],
) -> dict[tuple[int, dt.date], int]:
    """Packs of each offer ordered before, by the Monday of the week in which they are sent.

    What is overdue was not sent in the week agreed: it takes of the week in which its
    supplier can first send it now.
    """
    place = {offer.offer_id: number for number, offer in enumerate(offers)}
    next_sent = _next_sending(position, calendar)
    weekly: dict[tuple[int, dt.date], int] = {}
    for row in position.committed.iter_rows(named=True):
        if row["offer_id"] in place:
            transit = transit_days.get(row["supplier_id"], 0)
            sent = calendar.working_days.sent_for(row["delivery_date"], transit)
            packs = int(row["packs_count"])
            owed = math.ceil(packs * row["outstanding_share"] - ROUNDING)
            overdue = owed if row["delivery_date"] <= position.counted_date else 0
            for count, day in ((packs - overdue, sent), (overdue, next_sent)):
                key = (place[row["offer_id"]], monday_of(day))
                weekly[key] = weekly.get(key, 0) + count
    return weekly


ROUNDING = 1e-9
