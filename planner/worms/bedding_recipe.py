"""The cheapest bedding inside a recipe's bands, as a linear program."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
import scipy

from planner.arrays import Numbers
from planner.errors import OrderError
from planner.messages import officer_messages, say
from planner.worms.bedding import Mix, material_words, mix, water_to_add_kg

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from planner.worms.bedding import Material


UNBOUNDED = float("inf")

LEFT_OVER = 1e-6
"""Share by which a mix overflows its trays before it is asked whether so much is needed."""

ROUNDING = 1e-9
"""Share by which the least cost may be missed then, so that its last bits leave a mix."""

LEAST_LITRES = 1.0
"""Where less than this can be made, the volume is not what clashes."""


@dataclass(frozen=True)
class Supply:
    """A material to be had: free up to what there is, or bought."""

    material: Material  # What it is. A material may be supplied twice, free and bought.
    price_per_kg: float  # 0 where the council gets it free [currency/kg as bought]
    most_kg: float = UNBOUNDED  # most there is of it [kg]


@dataclass(frozen=True)
class Recipe:
    """Bands that a mix must keep."""

    volume_litres: float  # bedding wanted [L]
    moisture_share: float  # moisture once watered; the mix may not be wetter before
    # band of the ratio of carbon to nitrogen
    carbon_to_nitrogen_low: float = 0.0
    carbon_to_nitrogen_high: float = UNBOUNDED
    # for a material_id, the largest share of the volume it may be
    most_volume_share: Mapping[str, float] | None = None
    least_volume_share: Mapping[str, float] | None = None  # for a material_id, the smallest


@dataclass(frozen=True)
class BeddingMix:
    """A mix that keeps its recipe."""

    masses_kg: Numbers  # mass as bought from each supply, shape (supplies,) [kg]
    water_kg: float  # water to add [kg, a litre each]
    cost: float  # price of what is bought [currency]
    watered: Mix  # the mix with its water


@dataclass(frozen=True)
class _Band:
    """``row @ masses <= limit``, and the words for it.

    A band on a ratio has its numerator and denominator, so that the best that the other
    bands allow can be found; that on the volume has none.
    """

    name: str
    row: Numbers
    limit: float
    ratio: tuple[Numbers, Numbers] | None = None
    is_floor: bool = False


def cheapest_mix(supplies: Sequence[Supply], recipe: Recipe) -> BeddingMix:
    """Find the cheapest mix that fills the volume inside every band.

    Raises
    ------
    OrderError
        No mix keeps every band; the message names, for each band that could give way
        alone, the least change that makes one.

    Notes
    -----
    Bands on ratios are linear in the masses: ``C/N >= r`` is
    ``sum x n (c_i - r) >= 0`` with n the nitrogen and c_i the ratio of each material.

    Examples
    --------
    >>> from planner.worms.bedding import Material
    >>> card = Supply(Material("corrugated_cardboard", 560.0, 0.08, 0.001, 60.0), 0.0, 6.0)
    >>> coir = Supply(Material("coir", 100.0, 0.15, 0.005, 80.0), 2.0)
    >>> made = cheapest_mix([card, coir], Recipe(200.0, 0.75))
    >>> made.masses_kg.tolist(), made.cost
    ([6.0, 8.0], 16.0)
    """
    bands = _bands(supplies, recipe)
    prices = np.array([one.price_per_kg for one in supplies])
    found = _solve(prices, bands, supplies)
    if found is None:
        raise OrderError(_why_not(bands, supplies, recipe))
    materials = [one.material for one in supplies]
    litres = np.array([one.litres_per_kg for one in materials])
    if litres @ found > recipe.volume_litres * (1.0 + LEFT_OVER):
        # what is free costs nothing to add: of all mixes at that cost take the least
        as_cheap = _Band("cost", prices, float(prices @ found) * (1.0 + ROUNDING))
        least = _solve(litres, [*bands, as_cheap], supplies)
        found = found if least is None else least
    water_kg = water_to_add_kg(materials, found, recipe.moisture_share)
    return BeddingMix(found, water_kg, float(prices @ found), mix(materials, found, water_kg))


def _bands(supplies: Sequence[Supply], recipe: Recipe) -> list[_Band]:
    materials = [one.material for one in supplies]
    litres = np.array([one.litres_per_kg for one in materials])
    ones = np.ones(len(materials))
    water = np.array([one.moisture_share for one in materials])
    carbon = np.array([one.carbon_kg_per_kg for one in materials])
    nitrogen = np.array([one.nitrogen_kg_per_kg for one in materials])
    bands = [
        _Band("volume", -litres, -recipe.volume_litres, is_floor=True),
        _at_most(say("mixing.moisture"), water, ones, recipe.moisture_share),
    ]
    if recipe.carbon_to_nitrogen_low > 0.0:
        bands.append(_at_least("C:N", carbon, nitrogen, recipe.carbon_to_nitrogen_low))
    if np.isfinite(recipe.carbon_to_nitrogen_high):
        bands.append(_at_most("C:N", carbon, nitrogen, recipe.carbon_to_nitrogen_high))
    for make, shares in (
        (_at_most, recipe.most_volume_share),
        (_at_least, recipe.least_volume_share),
    ):
        for material_id, share in (shares or {}).items():
            litres_of_it = litres * np.array([one.material_id == material_id for one in materials])
            name = say("mixing.share", material=material_words(material_id, officer_messages()))
            bands.append(make(name, litres_of_it, litres, share))
    return bands


def _at_most(name: str, numerator: Numbers, denominator: Numbers, limit: float) -> _Band:
    return _Band(name, numerator - limit * denominator, 0.0, (numerator, denominator))


def _at_least(name: str, numerator: Numbers, denominator: Numbers, limit: float) -> _Band:
    band = _at_most(name, numerator, denominator, limit)
    return replace(band, row=-band.row, is_floor=True)


def _solve(
    objective: Numbers, bands: Sequence[_Band], supplies: Sequence[Supply]
) -> Numbers | None:
    limits = [(0.0, one.most_kg if np.isfinite(one.most_kg) else None) for one in supplies]
    found = scipy.optimize.linprog(
        objective,
        np.array([band.row for band in bands]),
        [band.limit for band in bands],
        bounds=limits,
        method="highs",
    )
    return np.asarray(found.x) if found.status == 0 else None


def _why_not(bands: list[_Band], supplies: Sequence[Supply], recipe: Recipe) -> str:
    """Name the bands that clash: each with the value at which a mix would be there."""
    changes = [
        change
        for band in bands
        if (change := _least_change(band, [b for b in bands if b is not band], supplies, recipe))
    ]
    if not changes:
        return say("mixing.none")
    return "\n".join([say("mixing.change"), *(f"  {change}" for change in changes)])


def _least_change(
    band: _Band, others: list[_Band], supplies: Sequence[Supply], recipe: Recipe
) -> str:
    """Say to where one band would have to move, the others kept; empty where none helps."""
    if band.ratio is None:
        most = _solve(band.row, others, supplies)
        litres = 0.0 if most is None else -float(band.row @ most)
        if litres < LEAST_LITRES:
            return ""
        number = officer_messages().number
        return say("mixing.volume", most=number(litres), wanted=number(recipe.volume_litres))
    best = _best_ratio(*band.ratio, others, supplies, is_floor=band.is_floor)
    if best is None:
        return ""
    key = "mixing.floor" if band.is_floor else "mixing.ceiling"
    return say(key, name=band.name, limit=f"{best:.3g}")


def _best_ratio(
    numerator: Numbers,
    denominator: Numbers,
    others: list[_Band],
    supplies: Sequence[Supply],
    *,
    is_floor: bool,
) -> float | None:
    """Best value of a ratio under the other bands, by the transform of Charnes and Cooper.

    ``numerator @ x / denominator @ x`` is linear in ``y = x t`` with ``denominator @ y = 1``.

    References
    ----------
    Charnes, A. and Cooper, W.W. (1962), Programming with linear fractional functionals,
    Naval Research Logistics Quarterly 9, 181-186.
    """
    rows = [np.append(other.row, -other.limit) for other in others]
    bounded = [n for n, one in enumerate(supplies) if np.isfinite(one.most_kg)]
    for n in bounded:
        row = np.zeros(len(supplies) + 1)
        row[n], row[-1] = 1.0, -supplies[n].most_kg
        rows.append(row)
    sign = -1.0 if is_floor else 1.0
    found = scipy.optimize.linprog(
        sign * np.append(numerator, 0.0),
        np.array(rows) if rows else None,
        np.zeros(len(rows)) if rows else None,
        np.append(denominator, 0.0)[None, :],
        [1.0],
        method="highs",
    )
    return float(sign * found.fun) if found.status == 0 else None
