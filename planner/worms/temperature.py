"""How temperature limits what worms eat."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np
import scipy

from planner.arrays import Numbers

if TYPE_CHECKING:
    from collections.abc import Mapping

    from numpy.typing import ArrayLike


class TemperaturePoints(NamedTuple):
    """Corners of the response, scalar or (draws,), named by their factor_id [°C]."""

    feeding_lowest_c: ArrayLike
    feeding_optimum_low_c: ArrayLike
    feeding_optimum_high_c: ArrayLike
    feeding_highest_c: ArrayLike

    @classmethod
    def of(cls, factors: Mapping[str, Numbers]) -> TemperaturePoints:
        """Take the corners from draws of factors."""
        return cls(*(factors[name] for name in cls._fields))


def trapezoid_response(temperature_c: ArrayLike, points: TemperaturePoints) -> Numbers:
    """Share of full feeding at a temperature of the bed.

    Nothing at or below the lowest point, rising in a line to the optimum, level across it,
    falling in a line to nothing at the highest. The corners are published, the straight
    lines between them a judgement. Holds for monthly means of air as a stand-in for the
    bed; it hides hot days, which kill.

    Parameters
    ----------
    temperature_c
        Any shape that broadcasts with the points [°C].
    points
        Corners of the response.

    References
    ----------
    edwards_2004, Table 18.3 (limit 4 °C); edwards_1995 (fastest 15 to 25 °C, lethal 35 °C).

    Examples
    --------
    >>> points = TemperaturePoints(4.0, 15.0, 25.0, 35.0)
    >>> trapezoid_response([4.0, 9.5, 20.0, 30.0, 36.0], points).tolist()
    [0.0, 0.5, 1.0, 0.5, 0.0]
    """
    temperature = np.asarray(temperature_c, dtype=np.float64)
    lowest, low, high, highest = (np.asarray(point, dtype=np.float64) for point in points)
    rising = (temperature - lowest) / (low - lowest)
    falling = (highest - temperature) / (highest - high)
    return np.asarray(np.clip(np.minimum(rising, falling), 0.0, 1.0))


def bed_temperature_c(
    air_c: ArrayLike, bed_above_air_c: ArrayLike, feeding_optimum_low_c: ArrayLike
) -> Numbers:
    """Temperature of the bed in a sheltered bin [°C].

    A bin warms itself above the air, but on that account no warmer than the lower end of the
    worms' best range; air that is warmer than this counts as it is.

    Examples
    --------
    >>> bed_temperature_c([5.0, 14.0, 22.0], 3.0, 15.0).tolist()
    [8.0, 15.0, 22.0]
    """
    air = np.asarray(air_c, dtype=np.float64)
    warmed = np.minimum(air + np.asarray(bed_above_air_c), np.asarray(feeding_optimum_low_c))
    return np.asarray(np.maximum(air, warmed))


def arrhenius_response(
    temperature_c: ArrayLike,
    activation_energy_ev: float,
    boltzmann_ev_per_k: float,
    reference_c: float,
) -> Numbers:
    """Rate of life relative to the reference temperature, for use below it alone.

    An alternative to the trapezoid for cool beds: divide by its value at 20 °C to compare.

    Parameters
    ----------
    temperature_c
        Any shape [°C].
    activation_energy_ev, boltzmann_ev_per_k, reference_c
        Factors of the same names (`arrhenius_reference_c`) [eV], [eV/K], [°C].

    Raises
    ------
    ValueError
        A temperature is above the reference: the response keeps rising with heat, where
        worms die.

    Notes
    -----
    A(T) = exp[−(E/κ)(1/T − 1/T_ref)] in kelvin.

    References
    ----------
    johnston_2014, temperature function.

    Examples
    --------
    >>> arrhenius_response([5.0, 25.0], 0.25, 8.62e-5, 25.0).round(3).tolist()
    [0.497, 1.0]
    """
    temperature = np.asarray(temperature_c, dtype=np.float64)
    if np.any(temperature > reference_c):
        message = f"temperature_c: found {temperature.max()}, expected at most {reference_c}"
        raise ValueError(message)
    inverse = 1.0 / (temperature + scipy.constants.zero_Celsius)
    inverse_reference = 1.0 / (reference_c + scipy.constants.zero_Celsius)
    slope = activation_energy_ev / boltzmann_ev_per_k
    return np.asarray(np.exp(-slope * (inverse - inverse_reference)))


def season(monthly_mean_temperature_c: ArrayLike, points: TemperaturePoints) -> Numbers:
    """Share of full feeding in each month of the year.

    Parameters
    ----------
    monthly_mean_temperature_c
        January first, shape (12,) [°C].
    points
        Corners of the response, scalar or (draws,).

    Returns
    -------
    ndarray
        Shape (12,), or (draws, 12) where a corner is drawn.

    Examples
    --------
    >>> year = [0, 4, 5, 10, 15, 20, 25, 20, 15, 10, 5, 4]
    >>> season(year, TemperaturePoints(4.0, 15.0, 25.0, 35.0)).round(2)[:4].tolist()
    [0.0, 0.0, 0.09, 0.55]
    """
    corners = (np.asarray(point, dtype=np.float64)[..., np.newaxis] for point in points)
    return trapezoid_response(monthly_mean_temperature_c, TemperaturePoints(*corners))
