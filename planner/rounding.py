"""The one rule of rounding: how many decimals an interval, a size and a unit allow."""

from __future__ import annotations

import math

TWO_DIGITS_BELOW = 3.55
"""Half widths up to 0.355, 3.55 and so on keep two significant digits, wider ones keep one.

The rounding rule of the Particle Data Group's Review of Particle Physics, introduction,
section 5.3.
"""

MOST_DECIMALS = 6
CENTS = 2
"""Decimals of money where an account needs every cent."""

_PER_CENT = 100.0

LOPSIDED = 2.0
"""An interval is lopsided where half of it is more than this many times its shorter side."""

PLAIN_DIGITS = 3
"""Significant digits of a number whose interval has no width."""

SHARE_DIGITS = 2
"""Significant digits of a percentage without an interval, as a response rate."""

LEAST_RELATIVE_WIDTH = 1e-6
"""An interval narrower than this share of its value is none but for the last bits."""

_WHOLE = ((0.0, 0),)
_TONNES = ((10.0, 0), (1.0, 1), (0.0, 2))
FINEST = {
    "bins": _WHOLE,
    "households": _WHOLE,
    "bin-weeks": _WHOLE,
    "money": ((10.0, 0), (0.0, 2)),
    "share": ((10.0, 0), (0.0, 1)),
    "t": _TONNES,
    "t CO2-e": _TONNES,
    "": ((100.0, 0), (10.0, 1), (0.01, 2)),
}
"""Most decimals by unit, from sizes on; of a share in per cent, "" for all other units.

What comes in whole pieces is never written with decimals; tonnes and per cent from ten on are
whole, so that numbers of one kind look alike next to each other. Common practice, no source.
"""


def places_of_half_width(half_width: float) -> int:
    """Decimals that an interval's half width allows; negative ones are tens, hundreds and so on.

    Examples
    --------
    >>> [places_of_half_width(width) for width in (0.2, 0.4, 25.0, 60.0)]
    [2, 1, 0, -1]
    """
    exponent = math.floor(math.log10(half_width))
    has_two = half_width / 10.0**exponent < TWO_DIGITS_BELOW
    return min(MOST_DECIMALS, has_two - exponent)


def rounded(value: float, places: int) -> float:
    """Round, with no zero below zero."""
    found = round(value, places)
    return 0.0 if found == 0.0 else found


def decimals_of(value: float | None, low: float | None, high: float | None, unit: str) -> int:
    """Decimals that an interval allows; of the percentage where the unit is "share".

    The half width decides, of a lopsided interval twice its shorter side, but a number never
    has more decimals than its size needs, as FINEST says. Without an interval a whole number
    stays whole, and anything else has a few digits.

    Examples
    --------
    >>> decimals_of(1234.0, 980.0, 1510.0, "t"), decimals_of(0.627, 0.58, 0.67, "share")
    (-1, 0)
    """
    if value is None:
        return 0
    scale = _PER_CENT if unit == "share" else 1.0
    size = value * scale
    finest = _finest(size, unit)
    if low is None or high is None:
        digits = SHARE_DIGITS if unit == "share" else PLAIN_DIGITS
        return 0 if size.is_integer() else min(finest, max(0, _places_for(size, digits)))
    half_width = _telling_half_width(value, low, high) * scale
    if half_width > LEAST_RELATIVE_WIDTH * abs(size):
        return min(finest, places_of_half_width(half_width))
    return min(finest, max(0, _places_for(size, PLAIN_DIGITS)))


def _telling_half_width(value: float, low: float, high: float) -> float:
    """Half the interval, or twice its shorter side where that is less.

    By a far end alone a cost of 5,430, from 2,990 to 83,800, would be written as 10,000, from 0.
    """
    shorter = min(value - low, high - value)
    half = (high - low) / 2.0
    return min(half, LOPSIDED * shorter) if shorter > 0.0 else half


def _finest(value: float, unit: str) -> int:
    """Most decimals that a number of this size and unit may have."""
    is_money = unit[:3].isupper() and unit[:3].isalpha()
    kind = "money" if is_money else unit if unit in FINEST else ""
    return next((places for least, places in FINEST[kind] if abs(value) >= least), MOST_DECIMALS)


def _places_for(size: float, digits: int) -> int:
    """Decimals with which a number of this size has so many significant digits."""
    if size == 0.0:
        return 0
    return min(MOST_DECIMALS, digits - 1 - math.floor(math.log10(abs(size))))
