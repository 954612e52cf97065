"""Castings: what is left of the scraps, its volume, what it dresses and feeds; indicative."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from planner.arrays import Numbers

if TYPE_CHECKING:
    from numpy.typing import ArrayLike


def castings_kg(fed_kg: ArrayLike, castings_share: ArrayLike) -> Numbers:
    """Castings that are left of scraps fed [kg wet].

    Parameters
    ----------
    fed_kg
        Wet scraps [kg]; the arguments broadcast.
    castings_share
        Castings over scraps, both wet.

    References
    ----------
    household_waste_trial_2014: mass reduced 1.4 to 2.5 times.

    Examples
    --------
    >>> castings_kg(1000.0, 0.4).item()
    400.0
    """
    return np.asarray(np.asarray(fed_kg, dtype=np.float64) * np.asarray(castings_share))


def castings_litres(castings: ArrayLike, kg_per_litre: ArrayLike) -> Numbers:
    """Volume of castings [litres] from their mass [kg] and bulk density [kg/litre].

    Examples
    --------
    >>> castings_litres(400.0, 0.8).item()
    500.0
    """
    return np.asarray(np.asarray(castings, dtype=np.float64) / np.asarray(kg_per_litre))


def potting_mix_litres(litres: ArrayLike, castings_share: ArrayLike) -> Numbers:
    """Potting mix [litres] for which castings [litres] are enough at a share of its volume.

    Examples
    --------
    >>> potting_mix_litres(500.0, 1.0 / 3.0).round(6).item()  # one part to two of soil
    1500.0
    """
    return np.asarray(np.asarray(litres, dtype=np.float64) / np.asarray(castings_share))


def dressed_m2(castings: ArrayLike, kg_per_m2: ArrayLike) -> Numbers:
    """Bed [m²] that castings [kg] dress once at a rate [kg/m²].

    Examples
    --------
    >>> dressed_m2(400.0, 1.0).item()
    400.0
    """
    return np.asarray(np.asarray(castings, dtype=np.float64) / np.asarray(kg_per_m2))


def nutrient_kg(castings: ArrayLike, water_share: ArrayLike, nutrient_share: ArrayLike) -> Numbers:
    """Nutrient in castings [kg of the element].

    Parameters
    ----------
    castings
        Wet mass [kg]; the arguments broadcast.
    water_share
        Share of it that is water.
    nutrient_share
        Share of the dry mass that is the element.

    Examples
    --------
    >>> nutrient_kg(1000.0, 0.65, 0.012).round(6).item()
    4.2
    """
    dry = np.asarray(castings, dtype=np.float64) * (1.0 - np.asarray(water_share))
    return np.asarray(dry * np.asarray(nutrient_share))
