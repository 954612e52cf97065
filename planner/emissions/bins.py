"""Methane and nitrous oxide that leave the bins while scraps are worked into castings."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from planner.units import G_PER_KG

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray


def bin_methane_kg(fed_kg: ArrayLike, methane_g_per_kg: ArrayLike) -> NDArray[np.float64]:
    """Methane from scraps treated in bins.

    No factor for worm bins stands on enough measurements, so the Guidelines' factor for
    composting is used, with its whole range. The one field study of home bins found more
    methane from worm bins than from aerobic ones and less of all gases together: nothing
    here claims that worm bins emit less than other composting.

    Parameters
    ----------
    fed_kg
        Wet scraps fed, any shape [kg].
    methane_g_per_kg
        Emission factor for wet mass [g CH4 per kg].

    Returns
    -------
    ndarray
        Shape of the arguments together [kg CH4].

    References
    ----------
    ipcc_2006_v5_ch4, equation 4.1 and Table 4.1; chan_2011, abstract.

    Examples
    --------
    >>> float(bin_methane_kg(1000.0, 4.0))
    4.0
    """
    return np.asarray(np.asarray(fed_kg) * np.asarray(methane_g_per_kg) / G_PER_KG)


def bin_nitrous_oxide_kg(
    fed_kg: ArrayLike, nitrous_oxide_g_per_kg: ArrayLike
) -> NDArray[np.float64]:
    """Nitrous oxide from scraps treated in bins.

    Parameters
    ----------
    fed_kg
        Wet scraps fed, any shape [kg].
    nitrous_oxide_g_per_kg
        Emission factor for wet mass; 0.24 as corrected, not the 0.3 first printed
        [g N2O per kg].

    Returns
    -------
    ndarray
        Shape of the arguments together [kg N2O].

    References
    ----------
    ipcc_2006_v5_ch4, equation 4.2 and Table 4.1 as corrected.

    Examples
    --------
    >>> float(bin_nitrous_oxide_kg(1000.0, 0.24))
    0.24
    """
    return np.asarray(np.asarray(fed_kg) * np.asarray(nitrous_oxide_g_per_kg) / G_PER_KG)
