"""The one rule of rounding: how many decimals an interval allows, and chances in words."""

from __future__ import annotations

import math

TWO_DIGITS_BELOW = 3.55
"""Half widths up to 0.355, 3.55 and so on keep two significant digits, wider ones keep one.

The rounding rule of the Particle Data Group's Review of Particle Physics, introduction,
section 5.3.
"""

MOST_DECIMALS = 6
ONE_IN_MOST = 1_000_000
"""Odds are not told more closely than this."""

PER_CENT_FROM = 0.01
SHARE_SCALE = 100.0


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


def with_interval(value: float, low: float, high: float, unit: str = "") -> str:
    """Write a number and its interval with the decimals that the interval allows.

    Examples
    --------
    >>> with_interval(1.2345, 0.8, 1.7, "kg"), with_interval(-0.001, -4.0, 4.0)
    ('1.2 kg (0.8 to 1.7)', '0 (-4 to 4)')
    >>> with_interval(0.627, 0.55, 0.7, "%")
    '63% (55% to 70%)'
    """
    scale, sign = (SHARE_SCALE, "%") if unit == "%" else (1.0, "")
    half = (high - low) / 2.0 * scale
    places = min(places_of_half_width(half), 0 if sign else MOST_DECIMALS) if half > 0.0 else 0
    words = [
        f"{rounded(one * scale, places):,.{max(0, places)}f}{sign}" for one in (value, low, high)
    ]
    named = f"{words[0]} {unit}" if unit and not sign else words[0]
    return f"{named} ({words[1]} to {words[2]})"


def odds(chance: float) -> str:
    """Write a chance in per cent, or as one in so many where it is small.

    Examples
    --------
    >>> odds(0.034), odds(0.0021), odds(2.1e-07)
    ('3%', 'about 1 in 500', 'less than 1 in a million')
    """
    if chance >= PER_CENT_FROM:
        return f"{chance:.0%}"
    if chance * ONE_IN_MOST < 1.0:
        return "less than 1 in a million"
    one_in = 1.0 / chance
    return f"about 1 in {rounded(one_in, -math.floor(math.log10(one_in))):,.0f}"
