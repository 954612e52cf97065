"""Numbers, intervals, money, dates and results in words, as the council's country writes them."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal
from functools import cached_property
from typing import TYPE_CHECKING

from babel.dates import format_skeleton

from planner.figures import Figure
from planner.messages import (
    FIRST_LANGUAGE,
    Messages,
    officer_messages,
    paper,
    said,
    unit_key,
    words_of_paper,
)
from planner.report.disclosure.parts import is_hidden
from planner.rounding import decimals_of, rounded
from planner.units import PER_CENT

if TYPE_CHECKING:
    from babel import Locale

    from planner.program import Program

LEAST_CHANCE = 0.01
"""A chance below one in a hundred is not told more closely: it rests on few draws."""

MANY = 2
"""Stands for any number that asks for the plural."""

FEWEST_JOINED = 2
_KEY = re.compile(r"[a-z_]+(?:\.[a-z_0-9]+)+")


@dataclass(frozen=True)
class Wording:
    """How a paper writes numbers, dates and money."""

    country_locale: str = "en_GB"  # language and country, as "en_AU"
    currency: str = ""  # ISO 4217 letters of the unit that is money; empty where no figure is money
    # Language of the paper. Another than English writes numbers its own way, in its country's where
    # that speaks it; English writes them as the council's country does.
    language: str = FIRST_LANGUAGE

    @classmethod
    def of(cls, program: Program) -> Wording:
        """Take the wording of a program file."""
        council = program.council
        return cls(council.country_locale, council.currency, council.report_language)

    @classmethod
    def for_officer(cls, program: Program) -> Wording:
        """Take the wording of the lines that a command speaks to its officer."""
        council = program.council
        return cls(council.country_locale, council.currency, officer_messages().language)

    @cached_property
    def words(self) -> Messages:
        """Words of the language."""
        return words_of_paper(self.country_locale, self.language)

    @property
    def locale(self) -> Locale:
        """Babel's locale of numbers and money."""
        return self.words.numbers

    @property
    def tag(self) -> str:
        """Tag after BCP 47 of the language of the text."""
        return str(self.locale).replace("_", "-") if self._is_one_language else "en-GB"

    @property
    def _is_one_language(self) -> bool:
        """Whether numbers and words are of one language, so that a month may be named."""
        return self.locale.language == self.language

    def number(self, value: float, decimals: int = 0) -> str:
        """Write a number; negative decimals round to tens, hundreds and so on.

        Examples
        --------
        >>> Wording("de_DE").number(1234.56, 1), Wording("en_GB").number(1234.56, -1)
        ('1.234,6', '1,230')
        """
        return self.words.number(value, decimals)

    def share(self, value: float, decimals: int = 0) -> str:
        """Write a share as a percentage; decimals are those of the percentage.

        Examples
        --------
        >>> Wording("en_GB").share(0.627, 1)
        '62.7%'
        """
        return self.words.share(value, decimals)

    def rate(self, share: float) -> str:
        """Write a share with no more decimals than it has, as a rate of tax: 10%, 5.5%."""
        return self.share(share, 0 if round(share * PER_CENT, 6).is_integer() else 1)

    def chance(self, value: float) -> str:
        """Write a chance in whole per cent, and what would round to none or all in words.

        Examples
        --------
        >>> Wording("en_GB").chance(0.0024), Wording("en_GB").chance(0.83)
        ('less than 1%', '83%')
        """
        if value < LEAST_CHANCE:
            return self.words.say("number.less_than", share=self.share(LEAST_CHANCE))
        if value > 1.0 - LEAST_CHANCE:
            return self.words.say("number.more_than", share=self.share(1.0 - LEAST_CHANCE))
        return self.share(value)

    def money(self, value: float, decimals: int = 0) -> str:
        """Write an amount in the council's currency.

        Examples
        --------
        >>> Wording("en_GB", "GBP").money(-1234.5, 2)
        '-£1,234.50'
        """
        return self.words.money(value, self.currency, decimals)

    def day(self, day: dt.date) -> str:
        """Write a date, in digits where the text around it is in another language.

        A month's name in another language would jar.

        Examples
        --------
        >>> Wording("en_GB").day(dt.date(2026, 6, 30)), Wording("es_ES").day(dt.date(2026, 6, 30))
        ('30 Jun 2026', '30/6/2026')
        """
        if self._is_one_language:
            return self.words.day(day, "medium")
        return format_skeleton("yMd", day, locale=self.locale)

    def month(self, month: str) -> str:
        """Write a month given as "2025-07".

        Examples
        --------
        >>> Wording("en_GB").month("2025-07"), Wording("de_DE").month("2025-07")
        ('Jul 2025', '7/2025')
        """
        skeleton = "yMMM" if self._is_one_language else "yM"
        return format_skeleton(skeleton, first_day(month), locale=self.locale)

    def unit(self, figure: Figure) -> str:
        """Name the unit that stands behind the number: none for shares, ratios and plain money.

        Examples
        --------
        >>> Wording("en_GB", "GBP").unit(Figure("", "", 1.0, None, None, "GBP per t", ""))
        'per t'
        """
        if figure.unit in ("share", "ratio"):
            return ""
        unit = figure.unit
        if self.is_money(figure):
            unit = unit.removeprefix(self.currency).strip()
        return self._unit_word(f"unit.{unit_key(unit)}") or unit

    def spelled_out(self, figure: Figure, like: Figure | None = None) -> str:
        """Spell a unit out for running text, in the number that the value asks for.

        Examples
        --------
        >>> Wording().spelled_out(Figure("", "", 12.0, None, None, "t CO2-e", ""))
        'tonnes of CO2-e'
        """
        places = max(0, decimals(like or figure))
        shown = Decimal(f"{abs(rounded(figure.value or 0.0, places)):.{places}f}")
        is_one = self.words.locale.plural_form(shown) == "one"
        unit = self.unit(figure)
        key = f"spelled.{unit_key(figure.unit.removeprefix(self.currency).strip())}"
        return self._unit_word(key, 1 if is_one else MANY) or unit

    def _unit_word(self, key: str, number: int | None = None) -> str:
        """Word of a unit; empty for one that every language writes alike."""
        word = "" if key.endswith(".") else self.words.say(key, number)
        return "" if word == key else word

    def is_money(self, figure: Figure) -> bool:
        """Whether a figure's unit is the council's currency, alone or per something."""
        return bool(self.currency) and figure.unit.split(" ")[0] == self.currency

    def amount(self, figure: Figure, like: Figure | None = None) -> str:
        """Write a figure's value with its unit and without its interval.

        With `like`, it has the decimals of that figure, to which it belongs.
        """
        if figure.value is None:
            return self.absent(figure)
        return f"{self._plain(figure, figure.value, like)} {self.unit(figure)}".rstrip()

    def plain(self, figure: Figure) -> str:
        """Write a value without its unit, for where that stands beside it; money keeps its sign."""
        return self.absent(figure) if figure.value is None else self._plain(figure, figure.value)

    def absent(self, figure: Figure) -> str:
        """Say in two words why a figure has no value."""
        return self.words.say("number.not_shown" if is_hidden(figure) else "number.not_given")

    def spread(self, figure: Figure) -> str:
        """Write a figure's interval, and the mean where it lies well off the value.

        Empty where there is no interval.

        Examples
        --------
        >>> Wording("en_GB").spread(Figure("", "", -13.0, -30.0, -3.0, "t", "", mean=-16.0))
        '-30 to -3, mean -16'
        """
        if figure.value is None or figure.low is None or figure.high is None:
            return ""
        low, high = (self._plain(figure, limit) for limit in (figure.low, figure.high))
        limits = self.words.say("number.from_to", low=low, high=high)
        mean = figure.telling_mean
        if mean is None:
            return limits
        return self.words.say("number.with_mean", limits=limits, mean=self._plain(figure, mean))

    def figure(self, figure: Figure) -> str:
        """Write a figure with unit and interval.

        Examples
        --------
        >>> Wording("en_GB").figure(Figure("fed_t", "", 12.345, 9.84, 15.12, "t", ""))
        '12 t (10 to 15)'
        """
        spread = self.spread(figure)
        return f"{self.amount(figure)} ({spread})" if spread else self.amount(figure)

    def difference(self, figure: Figure, like: Figure) -> str:
        """Write a difference with unit and interval; none where it is below its noise.

        That is where zero lies in the interval, or where it rounds to nothing with the decimals
        of what it is a difference of.

        Examples
        --------
        >>> of = Figure("", "", 64.0, 46.0, 76.0, "t", "")
        >>> Wording("en_GB").difference(Figure("", "", -0.021, -0.138, -0.001, "t", ""), of)
        'none (-0.14 to 0.00)'
        >>> Wording("en_GB").difference(Figure("", "", -7.0, -9.0, -4.0, "t", ""), of)
        '-7.0 t (-9.0 to -4.0)'
        """
        if figure.value is None or figure.low is None or figure.high is None:
            return self.figure(figure)
        scale = PER_CENT if figure.unit == "share" else 1.0
        shows = rounded(figure.value * scale, decimals(like)) != 0.0
        if shows and not figure.low <= 0.0 <= figure.high:
            return self.figure(figure)
        if figure.low == figure.high:
            return self.words.say("number.no_difference")
        return self.words.say("number.none", spread=self.spread(figure))

    def _plain(self, figure: Figure, value: float, like: Figure | None = None) -> str:
        places = decimals(like or figure)
        if figure.unit == "share":
            return self.share(value, places)
        if self.is_money(figure):
            return self.money(value, places)
        return self.number(value, places)


def lower_first(words: str) -> str:
    """Begin words in lower case, as they stand within a sentence.

    Examples
    --------
    >>> lower_first("Food scraps fed"), lower_first("CO2 saved")
    ('food scraps fed', 'CO2 saved')
    """
    return words[:1].lower() + words[1:] if words[1:2].islower() else words


def first_day(month: str) -> dt.date:
    """First day of a month given as "2025-07"."""
    return dt.date.fromisoformat(f"{month}-01")


def decimals(figure: Figure) -> int:
    """Decimals that a figure's interval allows; of the percentage where it is a share."""
    return decimals_of(figure.value, figure.low, figure.high, figure.unit)


def worded(words: str) -> str:
    """Say a key of the message files; words that are said already stand as they are."""
    return paper().text(words) if _KEY.fullmatch(words) else words


def known_words(key: str, instead: str) -> str:
    """Say a key of the message files; something else where they do not have it."""
    words = paper().text(key)
    return instead if words == key else words


def labelled(label: str, value: str) -> str:
    """Set a value behind what it is, with a colon as the paper's language writes it."""
    return said("number.labelled", label=label, value=value)


def listing(names: Iterable[str], most: int = 8) -> str:
    """Join names with commas and a final "and", the rest as a count.

    Examples
    --------
    >>> listing(["a", "b", "c"]), listing("abcd", most=2)
    ('a, b and c', 'a, b and 2 more')
    """
    known, words = list(names), paper()
    if len(known) > most:
        known = [*known[:most], words.say("number.more", len(known) - most)]
    if len(known) < FEWEST_JOINED:
        return "".join(known)
    # Spanish writes "y" as "e" before the sound of i
    key = "number.and_i" if re.match(r"h?i(?![ae])", known[-1], re.I) else "number.and"
    return words.say(key, first=", ".join(known[:-1]), last=known[-1])
