"""Numbers, money, days and units as a country writes them, after CLDR through babel."""

from __future__ import annotations

import re
from dataclasses import dataclass
from decimal import Decimal
from functools import lru_cache
from typing import TYPE_CHECKING

from planner.rounding import MOST_DECIMALS, places_of_half_width, rounded
from planner.units import KG_PER_LB

if TYPE_CHECKING:
    import datetime as dt

    from babel import Locale

NO_BREAK = "\xa0"
IN_POUNDS = ("US", "LR", "MM")
"""Territories that do not weigh in kilograms (CLDR, measurement systems; from memory)."""

IN_FAHRENHEIT = ("US", "BS", "BZ", "KY", "PR", "PW")
"""Territories that tell temperatures in °F (CLDR, temperature preference; from memory)."""


@dataclass(frozen=True)
class CountryWriting:
    """How one language and country write what is counted, paid and dated."""

    language: str  # a language that there is a message file for
    locale: Locale  # locale of that language, and of the council's country where it is known
    territory: str  # the council's country, whose units are used
    country: Locale | None = None  # whose numbers papers take where their words are foreign to it

    @property
    def numbers(self) -> Locale:
        """Locale of numbers and money."""
        return self.country or self.locale

    def decimal(self, number: float, form: str = "#,##0.00") -> str:
        """Write a number as the language does, in a form after CLDR."""
        return _decimal(str(number), form, self.numbers)

    def number(self, number: float, decimals: int = 0) -> str:
        r"""Write a number; negative decimals round to tens, hundreds and so on.

        Examples
        --------
        >>> from planner.messages import messages_for
        >>> messages_for("fr_FR").number(1234.56, 1)
        '1\u202f234,6'
        """
        whole = self.numbers.decimal_formats[None].pattern.partition(".")[0]
        return self.decimal(rounded(number, decimals), _places(whole, decimals))

    def money(self, amount: float, currency: str, decimals: int = 0) -> str:
        """Write an amount of a currency, by its ISO 4217 letters.

        Examples
        --------
        >>> from planner.messages import messages_for
        >>> messages_for("en_GB").money(-1234.5, "GBP", 2)
        '-£1,234.50'
        """
        from babel.numbers import format_currency

        form, amount = self.money_form(decimals), rounded(amount, decimals)
        return format_currency(amount, currency, form, self.numbers, currency_digits=False)

    def money_form(self, decimals: int = 0) -> str:
        """CLDR pattern of an amount, with the sign ¤ where the symbol stands."""
        form: str = self.numbers.currency_formats["standard"].pattern.partition(";")[0]
        return form.replace("0.00", _places("0", decimals))

    def significant(self, number: float, digits: int = 6) -> str:
        """Write a number to so many significant digits at most, without noughts at its end.

        Examples
        --------
        >>> from planner.messages import messages_for
        >>> messages_for("es_ES").significant(0.12345, 2), messages_for("en_GB").significant(60.0)
        ('0,12', '60')
        """
        return self.decimal(float(f"{number:.{digits}g}"), "#,##0.############")

    def with_interval(self, value: float, low: float, high: float) -> dict[str, str]:
        """Write a number and its interval with the decimals that the interval allows.

        Examples
        --------
        >>> from planner.messages import messages_for
        >>> messages_for("en_GB").with_interval(1.2345, 0.8, 1.7)
        {'value': '1.2', 'low': '0.8', 'high': '1.7'}
        """
        half = (high - low) / 2.0
        places = min(places_of_half_width(half), MOST_DECIMALS) if half > 0.0 else 0
        numbers = {"value": value, "low": low, "high": high}
        return {name: self.number(one, places) for name, one in numbers.items()}

    def share(self, share: float, decimals: int = 0) -> str:
        r"""Write a share as a percentage; decimals are those of the percentage.

        Examples
        --------
        >>> from planner.messages import messages_for
        >>> messages_for("fr_FR").share(0.627), messages_for("en_GB").share(0.0275, 1)
        ('63\xa0%', '2.8%')
        """
        from babel.numbers import format_percent

        pattern = self.numbers.percent_formats[None].pattern
        form = pattern.replace("##0", _places("##0", decimals))
        return format_percent(rounded(share * 100.0, decimals) / 100.0, form, self.numbers)

    def month_name(self, month: int) -> str:
        """Name a month of the year, from 1 to 12, as it stands in a sentence."""
        return str(self.locale.months["format"]["wide"][month])

    def day(self, day: dt.date, form: str = "long") -> str:
        """Write a day with its month in words, in a form after CLDR.

        Examples
        --------
        >>> import datetime as dt
        >>> from planner.messages import messages_for
        >>> messages_for("es_ES").day(dt.date(2026, 6, 30))
        '30 de junio de 2026'
        >>> messages_for("fr_FR").day(dt.date(2026, 7, 1))
        '1er juillet 2026'
        """
        from babel.dates import format_date

        if form == "long" and not self.territory:
            form = "d MMMM y"
        written = format_date(day, form, locale=self.locale)
        # the locale data leave the ordinal of the first day to those who write French
        is_first = self.language == "fr" and day.day == 1
        return re.sub(r"\b1(?= [^\W\d])", "1er", written) if is_first else written

    def moment(self, moment: dt.datetime) -> str:
        r"""Write a day and its time of day in figures, as the country does.

        Examples
        --------
        >>> import datetime as dt
        >>> from planner.messages import messages_for
        >>> messages_for("fr_FR").moment(dt.datetime(2026, 11, 30, 8, 5))
        '30/11/2026 08:05'
        """
        from babel.dates import format_datetime

        if not self.territory:
            return f"{moment:%Y-%m-%d %H:%M}"
        return format_datetime(moment, "short", locale=self.locale)

    def month(self, day: dt.date) -> str:
        """Write the month and the year of a day."""
        from babel.dates import format_skeleton

        return format_skeleton("yMMMM", day, locale=self.locale)

    def mass(self, kg: float, digits: int = 2) -> str:
        r"""Write a mass to a few digits, in pounds where the country weighs so.

        Examples
        --------
        >>> from planner.messages import messages_for
        >>> messages_for("fr_FR").mass(0.4375), messages_for("en_US").mass(0.4375)
        ('0,44\u202fkg', '0.96\xa0lb')
        """
        is_pounds = self.territory in IN_POUNDS
        number = float(f"{kg / KG_PER_LB if is_pounds else kg:.{digits}g}")
        unit = "pound" if is_pounds else "kilogram"
        return self._unit(number, unit)

    def tonnes(self, tonnes: float) -> str:
        r"""Write tonnes to two digits.

        Examples
        --------
        >>> from planner.messages import messages_for
        >>> messages_for("es_ES").tonnes(5.34)
        '5,3\xa0t'
        """
        return self._unit(float(f"{tonnes:.2g}"), "tonne")

    def temperature(self, celsius: float) -> str:
        r"""Write a temperature to the degree, in °F where the country tells it so.

        Examples
        --------
        >>> from planner.messages import messages_for
        >>> messages_for("es_ES").temperature(25.0), messages_for("en_US").temperature(25.0)
        ('25\xa0°C', '77°F')
        """
        if self.territory in IN_FAHRENHEIT:
            return self._unit(round(celsius * 9.0 / 5.0 + 32.0), "fahrenheit")
        return self._unit(round(celsius), "celsius")

    def _unit(self, number: float, unit: str) -> str:
        from babel.units import format_unit

        plain = int(number) if number == int(number) else number
        written = format_unit(plain, unit, length="short", locale=self.locale)
        return written.replace(" ", NO_BREAK)


def _places(whole: str, decimals: int) -> str:
    return f"{whole}.{'0' * decimals}" if decimals > 0 else whole


@lru_cache(maxsize=8192)
def _decimal(number: str, form: str, locale: Locale) -> str:
    """Write a number by its digits, of which a report writes many again and again."""
    from babel.numbers import format_decimal

    return format_decimal(Decimal(number), form, locale=locale)
