"""Log-concave families of the logarithm of time, with their derivatives."""

from __future__ import annotations

from typing import TYPE_CHECKING, Protocol

import numpy as np
from scipy import special

if TYPE_CHECKING:
    from numpy.typing import NDArray

LOG_ROOT_TWO_PI = 0.5 * np.log(2.0 * np.pi)


class Family(Protocol):
    """A log-concave standard distribution on the real line."""

    def between(
        self, low: NDArray[np.float64], high: NDArray[np.float64]
    ) -> tuple[NDArray[np.float64], ...]:
        """Logarithm of the chance between limits, its two first and three second derivatives."""
        ...

    def beyond(self, low: NDArray[np.float64]) -> tuple[NDArray[np.float64], ...]:
        """Logarithm of the chance above a limit, its first and second derivative."""
        ...

    def at(self, point: NDArray[np.float64]) -> tuple[NDArray[np.float64], ...]:
        """Logarithm of the density, its first and second derivative."""
        ...


class SmallestExtreme:
    """Logarithm of a Weibull time, standardised."""

    def between(
        self, low: NDArray[np.float64], high: NDArray[np.float64]
    ) -> tuple[NDArray[np.float64], ...]:
        """See `Family`."""
        a, b = np.exp(low), np.exp(np.minimum(high, 700.0))
        rest = -np.expm1(a - b)
        at_low, at_high = -a / rest, b * np.exp(a - b) / rest
        return (
            -a + np.log(rest),
            at_low,
            at_high,
            (a - 1.0) * -at_low - at_low**2,
            (1.0 - b) * at_high - at_high**2,
            -at_low * at_high,
        )

    def beyond(self, low: NDArray[np.float64]) -> tuple[NDArray[np.float64], ...]:
        """See `Family`."""
        fallen = -np.exp(low)
        return fallen, fallen, fallen

    def at(self, point: NDArray[np.float64]) -> tuple[NDArray[np.float64], ...]:
        """See `Family`."""
        hazard = np.exp(point)
        return point - hazard, 1.0 - hazard, -hazard


class Normal:
    """Logarithm of a lognormal time, standardised."""

    def between(
        self, low: NDArray[np.float64], high: NDArray[np.float64]
    ) -> tuple[NDArray[np.float64], ...]:
        """See `Family`."""
        turned = low > 0.0
        a, b = np.where(turned, -high, low), np.where(turned, -low, high)
        top = special.log_ndtr(b)
        chance = top + np.log(-np.expm1(special.log_ndtr(a) - top))
        at_low = -np.exp(-0.5 * low**2 - LOG_ROOT_TWO_PI - chance)
        at_high = np.exp(-0.5 * high**2 - LOG_ROOT_TWO_PI - chance)
        finite_low = np.where(np.isfinite(low), low, 0.0)
        finite_high = np.where(np.isfinite(high), high, 0.0)
        return (
            chance,
            at_low,
            at_high,
            -finite_low * at_low - at_low**2,
            -finite_high * at_high - at_high**2,
            -at_low * at_high,
        )

    def beyond(self, low: NDArray[np.float64]) -> tuple[NDArray[np.float64], ...]:
        """See `Family`."""
        chance = special.log_ndtr(-low)
        slope = -np.exp(-0.5 * low**2 - LOG_ROOT_TWO_PI - chance)
        finite_low = np.where(np.isfinite(low), low, 0.0)
        return chance, slope, -finite_low * slope - slope**2

    def at(self, point: NDArray[np.float64]) -> tuple[NDArray[np.float64], ...]:
        """See `Family`."""
        return -0.5 * point**2 - LOG_ROOT_TWO_PI, -point, -np.ones_like(point)
