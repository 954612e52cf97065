"""Bedding for every bin: the cheapest mix that fills the first tray to its depth."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from planner.errors import OrderError
from planner.worms.bedding import LITRES_PER_M3, material
from planner.worms.bedding_recipe import UNBOUNDED, Recipe, Supply, cheapest_mix

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from planner.factors import FactorTable
    from planner.ordering.problem import Offer
    from planner.program import Program
    from planner.program.ordering import Bedding
    from planner.worms.bedding import Mix


@dataclass(frozen=True)
class BeddingPlan:
    """What goes into the bins, as the mean household takes it.

    Attributes
    ----------
    bought_kg, free_kg
        Mass as bought of each material for a household [kg]; free ones are not ordered.
    water_litres
        Water to add for a household [L].
    litres_by_model
        Bedding that fills the first tray of each bin model to its depth [L].
    watered
        Moisture, ratio of carbon to nitrogen, mass and volume of all of it; None where
        the program file gives the masses itself.
    """

    bought_kg: Mapping[str, float]
    free_kg: Mapping[str, float]
    water_litres: float
    litres_by_model: Mapping[str, float]
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
    program
        Bin models, and the block [ordering.bedding] or masses of its own.
    factors
        Moisture, nitrogen, carbon and bulk density of the materials.
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
        message = (
            f"No material of [ordering.bedding] ({names}) is free or offered. Load an offer of "
            "one, or write free_kg with it in program.toml."
        )
        raise OrderError(message)
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
