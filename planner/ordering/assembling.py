"""The purchase problem from demand, records and the program file, bedding of the bins among it."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from planner.errors import OrderError
from planner.messages import say
from planner.ordering.demand import sent_kg_by_law
from planner.ordering.problem import BinStore, LiveNeed, PurchaseProblem, Quarter, StoredNeed
from planner.units import LITRES_PER_M3
from planner.worms.bedding import material
from planner.worms.bedding_recipe import UNBOUNDED, Recipe, Supply, cheapest_mix
from planner.worms.transit import allowance_share, loss_law

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    import polars as pl
    from numpy.typing import NDArray

    from planner.factors import FactorTable
    from planner.ordering.commitments import Committed, InventoryPosition
    from planner.ordering.demand import Demand
    from planner.ordering.problem import Offer, Supplier
    from planner.ordering.slots import Slots
    from planner.program import Program
    from planner.program.ordering import Bedding, Ordering
    from planner.worms.bedding import Mix
    from planner.worms.transit import LossLaw


def loss_laws(
    suppliers: pl.DataFrame, deliveries: pl.DataFrame, loss_share: float
) -> dict[str, LossLaw]:
    """Law of losses of each supplier: the allowance for its days, and its own record.

    Parameters
    ----------
    deliveries
        Rows of the query live_deliveries.
    loss_share
        Allowance for three days on the way.
    """
    laws = {}
    for row in suppliers.iter_rows(named=True):
        record = deliveries.filter(supplier_id=row["supplier_id"])
        laws[row["supplier_id"]] = loss_law(
            allowance_share(loss_share, max(1, row["transit_days"])),
            record["received_kg"].to_numpy(),
            record["dead_kg"].to_numpy(),
        )
    return laws


def assemble(
    demand: Demand,
    slots: Slots,
    suppliers: Mapping[str, Supplier],
    laws: Mapping[str, LossLaw],
    committed: Committed,
    settings: Ordering,
    starter_kg: float,
    bedding_kg: Mapping[str, float],
    quarters: tuple[Quarter, ...],
) -> PurchaseProblem:
    """Put the purchase problem together; `bedding_kg` is of each bought material a household."""
    live = tuple(
        _live(
            number,
            demand,
            slots,
            laws,
            float(committed.worms_alive_kg[number]),
            settings,
            starter_kg,
        )
        for number in range(len(demand.events.event_ids))
    )
    return PurchaseProblem(
        suppliers,
        slots.offers,
        slots.slots,
        slots.lines,
        tuple(_stored_needs(demand, committed.position, settings, bedding_kg)),
        live,
        settings.holding_days_most,
        settings.holding_kg_most,
        quarters,
        settings.largest_supplier_share,
        _store(demand, committed.position, settings),
        commitments=committed.limits,
    )


def _stored_needs(
    demand: Demand, position: InventoryPosition, settings: Ordering, bedding_kg: Mapping[str, float]
) -> list[StoredNeed]:
    """Bins by model and bedding by material, less what is in store and on order."""
    ready = tuple(
        day - dt.timedelta(days=settings.ready_days_before) for day in demand.events.event_dates
    )
    stored = [
        _stored(model, ready, plan.bought_count.astype(float), demand.events.event_ids, position)
        for model, plan in demand.bins.items()
    ]
    all_kg = sum(bedding_kg.values())
    for name, kilos in bedding_kg.items():
        needed = demand.bedding_households_count * kilos
        in_stock = position.bedding_in_stock_kg * kilos / all_kg
        left = np.maximum(needed - in_stock, 0.0)
        stored.append(_stored(name, ready, left, demand.events.event_ids, position, "bedding"))
    return stored


def _store(demand: Demand, position: InventoryPosition, settings: Ordering) -> BinStore | None:
    """Room for bins: those on order fill it, households that are expected empty it."""
    if settings.bins_stored_most is None:
        return None
    leaving = np.asarray(demand.events.booked_count * settings.show_up_share)
    # bins of a model that nobody takes any more stand in the store all the same
    there = float(sum(position.bins_in_stock.values()))
    coming = position.outstanding.filter(item_kind="bins").sort("expected_date")
    return BinStore(
        float(settings.bins_stored_most),
        there,
        demand.events.event_dates,
        leaving,
        # room must be there on the day agreed, though bins are counted on later
        tuple(max(day, position.counted_date) for day in coming["delivery_date"]),
        tuple(coming["outstanding_quantity"]),
    )


def _stored(
    item: str,
    ready: tuple[dt.date, ...],
    needed: NDArray[np.float64],
    event_ids: tuple[str, ...],
    position: InventoryPosition,
    stock_item: str = "",
) -> StoredNeed:
    on_order = [
        position.on_order_by(stock_item or item, day, item if stock_item else None) for day in ready
    ]
    left = np.maximum.accumulate(np.maximum(needed - np.array(on_order), 0.0))
    return StoredNeed(item, ready, left, event_ids)


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
    found = slots.live_slots[number]
    sent = [
        sent_kg_by_law(
            int(events.booked_count[number]),
            float(demand.worms_level[number]) - LEVEL_ROUNDING,
            settings,
            starter_kg,
            laws[slots.slots[slot].supplier_id],
            slots.warmest_c[slot],
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


@dataclass(frozen=True)
class BeddingPlan:
    """What goes into the bins, as the mean household takes it."""

    # mass as bought of each material for a household [kg]; free ones are not ordered
    bought_kg: Mapping[str, float]
    free_kg: Mapping[str, float]
    water_litres: float  # water to add for a household [L]
    # bedding that fills the first tray of each bin model to its depth [L]
    litres_by_model: Mapping[str, float]
    # moisture, ratio of carbon to nitrogen, mass and volume of all of it; None where the program
    # file gives the masses itself
    watered: Mix | None


def plan_bedding(
    program: Program,
    factors: FactorTable,
    model_shares: Mapping[str, float],
    households_count: int,
    offers: Sequence[Offer],
    *,
    has_stock: bool = False,
) -> BeddingPlan:
    """Find the cheapest bedding mix from what is free and what is offered.

    Parameters
    ----------
    model_shares
        Share of households that take each bin model.
    households_count
        Households for whom bedding must be there; free material goes round among them.
    offers
        Offers of bedding; a material is priced at the dearest step of its cheapest offer.
    has_stock
        Bedding is in store or on order: what nobody offers may be used from there.

    Raises
    ------
    OrderError
        No mix keeps the recipe; the message tells what clashes.
    FactorError
        A material is not in the factor tables; the message lists those that are.
    """
    bedding = program.ordering.bedding
    if bedding is None:
        return BeddingPlan(dict(program.ordering.bedding_kg_per_bin), {}, 0.0, {}, None)
    litres = {
        model.model_id: model.tray_area_m2 * bedding.depth_m * LITRES_PER_M3
        for model in program.bin_models
        if model.model_id in model_shares
    }
    per_household = sum(litres[model] * share for model, share in model_shares.items())
    supplies = _supplies(bedding, factors, offers, has_stock=has_stock)
    made = cheapest_mix(supplies, _recipe(bedding, per_household * max(1, households_count)))
    bought: dict[str, float] = {}
    free: dict[str, float] = {}
    for supply, kilos in zip(supplies, made.masses_kg / max(1, households_count), strict=True):
        if kilos > NEGLIGIBLE_KG:
            into = bought if supply.price_per_kg > 0.0 else free
            into[supply.material.material_id] = float(kilos)
    water = made.water_kg / max(1, households_count)
    return BeddingPlan(bought, free, float(water), litres, made.watered)


NEGLIGIBLE_KG = 1e-6
"""Mass for a household below which a material is not in the mix."""


def _supplies(
    bedding: Bedding, factors: FactorTable, offers: Sequence[Offer], *, has_stock: bool
) -> list[Supply]:
    """List what is to be had: free up to what there is, at the cheapest offer, or in store."""
    found = []
    for one in bedding.materials:
        known = material(factors, one.material)
        if one.free_kg > 0.0:
            found.append(Supply(known, 0.0, one.free_kg))
        prices = [
            offer.steps[0].price_per_pack / offer.pack_quantity
            for offer in offers
            if offer.item == one.material
        ]
        if prices:
            found.append(Supply(known, max(min(prices), NEGLIGIBLE_KG)))
        elif has_stock and one.free_kg <= 0.0:
            found.append(Supply(known, NEGLIGIBLE_KG))
    if not found:
        names = ", ".join(one.material for one in bedding.materials)
        raise OrderError(say("order.fail.no_bedding", names=names))
    return found


def _recipe(bedding: Bedding, litres: float) -> Recipe:
    return Recipe(
        litres,
        bedding.moisture_share,
        bedding.carbon_to_nitrogen_low,
        bedding.carbon_to_nitrogen_high or UNBOUNDED,
        {m.material: m.most_volume_share for m in bedding.materials if m.most_volume_share < 1.0},
        {m.material: m.least_volume_share for m in bedding.materials if m.least_volume_share},
    )
