"""Feed balance: how much bedding a mix of scraps needs to be neither sour, smelly nor wet.

Masses are as fed, with the water that is in them.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import ArrayLike

    from planner.worms.bedding import Material


def bedding_for_ratio_kg(
    fed: Sequence[Material], masses_kg: ArrayLike, bedding: Material, wanted_ratio: float
) -> float:
    """Least bedding that lifts the carbon-to-nitrogen ratio of a mix to a wanted one.

    Parameters
    ----------
    fed
        What is fed.
    masses_kg
        Mass of each, shape (fed,) [kg].
    bedding
        What may be added.
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
    >>> from planner.worms.bedding import Material
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
    fed, masses_kg, bedding
        As for `bedding_for_ratio_kg`.
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
    >>> from planner.worms.bedding import Material
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
