"""The one rule of rounding: how many decimals an interval allows."""

from __future__ import annotations

import math

TWO_DIGITS_BELOW = 3.55
"""Half widths up to 0.355, 3.55 and so on keep two significant digits, wider ones keep one.

The rounding rule of the Particle Data Group's Review of Particle Physics, introduction,
section 5.3.
"""

MOST_DECIMALS = 6


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
