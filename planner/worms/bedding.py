"""Bedding: what a mix of materials holds, the cheapest that fits, and how much scraps need.

Masses are as bought or fed, with the water that is in them, unless said.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from planner.arrays import Numbers
from planner.errors import EstimateError
from planner.units import LITRES_PER_M3

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import ArrayLike

    from planner.factors import FactorTable
    from planner.messages import Messages

FACTOR_IDS = (
    "carbon_to_nitrogen_ratio",
    "moisture_share",
    "nitrogen_share",
    "bulk_density_kg_per_m3",
)
"""Factors of the bedding table, each with the material it applies to."""


@dataclass(frozen=True)
class Material:
    """What a bedding material is made of."""

    material_id: str  # its name in the factor tables
    carbon_to_nitrogen_ratio: float  # mass of carbon over that of nitrogen
    moisture_share: float  # water, share of the mass as bought
    nitrogen_share: float  # nitrogen, share of the dry mass
    # mass as bought that fills a cubic metre of bedding; of a brick that swells, its dry mass to a
    # cubic metre once wetted [kg/m³]
    bulk_density_kg_per_m3: float

    @property
    def nitrogen_kg_per_kg(self) -> float:
        """Nitrogen in a kilogram as bought."""
        return self.nitrogen_share * (1.0 - self.moisture_share)

    @property
    def carbon_kg_per_kg(self) -> float:
        """Carbon in a kilogram as bought."""
        return self.nitrogen_kg_per_kg * self.carbon_to_nitrogen_ratio

    @property
    def litres_per_kg(self) -> float:
        """Bedding that a kilogram as bought gives [L/kg]."""
        return LITRES_PER_M3 / self.bulk_density_kg_per_m3


def material(table: FactorTable, material_id: str) -> Material:
    """Take a material from the factor tables.

    Raises
    ------
    FactorError
        The tables do not know it; the message lists those they know.
    """
    return Material(
        material_id, *(table.find(factor_id, material_id).value for factor_id in FACTOR_IDS)
    )


def material_words(material_id: str, words: Messages) -> str:
    """Name a material; as it is written in the records where the planner has no words for it."""
    key = f"material.{material_id}"
    named = words.text(key)
    return material_id.replace("_", " ") if named == key else named


@dataclass(frozen=True)
class Mix:
    """Masses, water and elements of a mix; mass in is mass out."""

    mass_kg: float  # all materials and water together [kg]
    moisture_share: float  # water over mass
    carbon_to_nitrogen_ratio: float  # carbon over nitrogen; infinite where no nitrogen is in it
    volume_litres: float  # sum of the materials' bedding volumes; water fills pores [L]


def mix(materials: Sequence[Material], masses_kg: ArrayLike, added_water_kg: float = 0.0) -> Mix:
    """Balance the mass, water, carbon and nitrogen of a mix.

    Parameters
    ----------
    masses_kg
        Mass of each as bought, shape (materials,) [kg].

    Raises
    ------
    EstimateError
        Nothing is mixed, or a mass is below zero.

    Notes
    -----
    ``moisture = (sum Q M + W) / (sum Q + W)``;
    ``C:N = sum Q C (1 - M) / sum Q N (1 - M)``, Q as bought, M moisture, C and N shares of
    dry mass.

    References
    ----------
    Cornell Waste Management Institute, moisture and carbon-to-nitrogen calculations
    (variables); bertrand_mixture (materials).

    Examples
    --------
    >>> food = Material("food_scraps", 15.0, 0.70, 0.024, 419.0)
    >>> card = Material("corrugated_cardboard", 560.0, 0.08, 0.001, 60.0)
    >>> round(mix([food, card], [1.0, 0.2215]).carbon_to_nitrogen_ratio, 1)
    30.0
    """
    masses = np.asarray(masses_kg, dtype=float)
    total = float(masses.sum()) + added_water_kg
    if total <= 0.0 or masses.min() < 0.0 or added_water_kg < 0.0:
        message = f"bedding mix: found masses {masses.tolist()} kg, expected none below 0 and some"
        raise EstimateError(message)
    water = float(masses @ _each(materials, "moisture_share")) + added_water_kg
    nitrogen = float(masses @ _each(materials, "nitrogen_kg_per_kg"))
    carbon = float(masses @ _each(materials, "carbon_kg_per_kg"))
    return Mix(
        mass_kg=total,
        moisture_share=water / total,
        carbon_to_nitrogen_ratio=carbon / nitrogen if nitrogen > 0.0 else float("inf"),
        volume_litres=float(masses @ _each(materials, "litres_per_kg")),
    )


def water_to_add_kg(
    materials: Sequence[Material], masses_kg: ArrayLike, moisture_share: float
) -> float:
    """Water that brings a mix to a moisture [kg, a litre each]; 0 where it is that wet already.

    Parameters
    ----------
    moisture_share
        Wanted share of the wet mass, below 1.

    Notes
    -----
    ``W = (m sum Q - sum Q M) / (1 - m)``.

    Examples
    --------
    >>> card = Material("corrugated_cardboard", 560.0, 0.08, 0.001, 60.0)
    >>> round(water_to_add_kg([card], [1.0], 0.75), 2)
    2.68
    """
    masses = np.asarray(masses_kg, dtype=float)
    water = float(masses @ _each(materials, "moisture_share"))
    wanted = moisture_share * float(masses.sum()) - water
    return max(0.0, wanted / (1.0 - moisture_share))


def _each(materials: Sequence[Material], name: str) -> Numbers:
    return np.array([getattr(one, name) for one in materials], dtype=float)


def bedding_for_ratio_kg(
    fed: Sequence[Material], masses_kg: ArrayLike, bedding: Material, wanted_ratio: float
) -> float:
    """Least bedding that lifts the carbon-to-nitrogen ratio of a mix to a wanted one.

    Parameters
    ----------
    masses_kg
        Mass of each, shape (fed,) [kg].
    wanted_ratio
        Carbon over nitrogen of the whole.

    Returns
    -------
    float
        [kg as bought]; 0 where the ratio is reached already, infinite where the bedding
        itself is below it.

    Notes
    -----
    ``Q = sum q n (R - c) / (n_b (c_b - R))``, n the nitrogen in a kilogram as fed and c the
    ratio of each material: the balance of the mixing formula solved for one mass.

    References
    ----------
    Cornell Waste Management Institute, carbon-to-nitrogen calculation, after the On-Farm
    Composting Handbook (NRAES-54).

    Examples
    --------
    >>> grass = Material("grass", 45.0 / 2.4, 0.77, 0.024, 200.0)
    >>> leaves = Material("leaves", 50.0 / 0.75, 0.35, 0.0075, 120.0)
    >>> round(bedding_for_ratio_kg([grass], [10.0], leaves, 30.0), 1)
    3.5
    """
    masses = np.asarray(masses_kg, dtype=float)
    nitrogen = masses * [one.nitrogen_kg_per_kg for one in fed]
    ratios = np.array([one.carbon_to_nitrogen_ratio for one in fed])
    lacking = float(nitrogen @ (wanted_ratio - ratios))
    if lacking <= 0.0:
        return 0.0
    spare = bedding.nitrogen_kg_per_kg * (bedding.carbon_to_nitrogen_ratio - wanted_ratio)
    return lacking / spare if spare > 0.0 else float("inf")


def bedding_for_moisture_kg(
    fed: Sequence[Material], masses_kg: ArrayLike, bedding: Material, wanted_share: float
) -> float:
    """Least bedding that dries a mix down to a moisture.

    Parameters
    ----------
    wanted_share
        Water over the mass of the whole.

    Returns
    -------
    float
        [kg as bought]; 0 where the mix is that dry, infinite where the bedding is wetter.

    Notes
    -----
    ``Q = sum q (m - M) / (M - m_b)``.

    References
    ----------
    Cornell Waste Management Institute, moisture calculation: 10 kg of grass at 77% and
    leaves at 35% make 60% with 6.8 kg of leaves.

    Examples
    --------
    >>> grass = Material("grass", 45.0 / 2.4, 0.77, 0.024, 200.0)
    >>> leaves = Material("leaves", 50.0 / 0.75, 0.35, 0.0075, 120.0)
    >>> round(bedding_for_moisture_kg([grass], [10.0], leaves, 0.60), 1)
    6.8
    """
    masses = np.asarray(masses_kg, dtype=float)
    moisture = np.array([one.moisture_share for one in fed])
    too_wet = float(masses @ (moisture - wanted_share))
    if too_wet <= 0.0:
        return 0.0
    takes_up = wanted_share - bedding.moisture_share
    return too_wet / takes_up if takes_up > 0.0 else float("inf")
