"""Reads numbers back out of documents, by means of their own."""

from __future__ import annotations

import re

from babel import Locale
from babel.numbers import get_decimal_symbol, get_group_symbol, parse_decimal

NOT_SHOWN = ("not shown", "not given")
BOUNDED = re.compile(r"(less|more) than ")


def numbers(text, country_locale):
    """Find every number in a text, each with the half unit of its last digit.

    Percentages come back as shares. Words around numbers are passed over.
    """
    locale = Locale.parse(country_locale)
    point, group = get_decimal_symbol(locale), get_group_symbol(locale)
    form = rf"-?[^\d\s-]?-?\d[\d{re.escape(group)}{re.escape(point)}]*(?:\s?%)?"
    found = []
    for match in re.finditer(form, text):
        plain = re.sub(rf"[^\d{re.escape(group)}{re.escape(point)}-]", "", match[0])
        plain = plain.rstrip(f"{group}{point}")
        value = float(parse_decimal(plain, locale=locale))
        digits = len(plain.partition(point)[2]) if point in plain else 0
        zeros = len(plain) - len(plain.rstrip("0")) if not digits else 0
        step = 10.0 ** (-digits) if digits else 10.0 ** min(zeros, 6)
        scale = 100.0 if "%" in match[0] else 1.0
        found.append((value / scale, step / 2.0 / scale))
    return found


def is_shown_by(text, figure, country_locale):
    """Whether each number of a text is the figure's value or a limit, but for rounding."""
    if text in NOT_SHOWN:
        return figure.value is None
    known = [x for x in (figure.value, figure.low, figure.high, figure.mean) if x is not None]
    read = numbers(text.replace("CO2-e", ""), country_locale)
    if BOUNDED.match(text):
        # "less than 1%": the number is a bound of what is shown
        ((bound, _),) = read
        return figure.value <= bound if text.startswith("less") else figure.value >= bound
    return bool(read) and all(
        any(abs(value - exact) <= half * (1 + 1e-9) for exact in known) for value, half in read
    )
