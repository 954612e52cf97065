"""How the program's country writes numbers, dates, yes and no."""

from __future__ import annotations

import datetime as dt
import re
import unicodedata
from dataclasses import dataclass

import babel
from babel.dates import get_date_format, get_month_names
from babel.numbers import get_decimal_symbol, get_group_symbol

YES_NO = {
    "en": (("yes", "y", "true", "1", "1.0", "x"), ("no", "n", "false", "0", "0.0")),
    "cs": (("ano",), ("ne",)),
    "da": (("ja",), ("nej",)),
    "de": (("ja", "j", "wahr"), ("nein", "falsch")),
    "es": (("sí", "si", "s", "verdadero"), ("falso",)),
    "fi": (("kyllä", "tosi"), ("ei", "epätosi")),
    "fr": (("oui", "o", "vrai"), ("non", "faux")),
    "it": (("sì", "si", "s", "vero"), ("falso",)),
    "nb": (("ja",), ("nei",)),
    "nl": (("ja", "j", "waar"), ("nee", "onwaar")),
    "pl": (("tak",), ("nie",)),
    "pt": (("sim", "s", "verdadeiro"), ("não", "nao", "falso")),
    "sv": (("ja", "sant"), ("nej", "falskt")),
}
"""Words for yes and no by language; those of English hold everywhere."""

TOTAL_WORDS = (
    *("total", "totals", "subtotal", "sub-total", "sum", "grand total", "overall total"),
    *("number of rows", "number of households", "number of requests"),
    *("totaux", "sous-total", "somme", "ensemble", "nombre total", "nombre de demandes"),
    *("totales", "suma", "suma total", "subtotales", "número total", "número de solicitudes"),
    *("summe", "gesamt", "gesamtsumme", "insgesamt", "zwischensumme"),
    *("totale", "totali", "somma", "totaal", "subtotaal", "totalt", "summa", "i alt", "sum total"),
    *("yhteensä", "celkem", "součet", "razem", "suma częściowa", "totais", "soma"),
)
"""First cell of a row that only adds up the others."""

LONG_NAME = 5
"""Letters of a month's name beyond which its first four and five are read too."""

_SPACES = " \u00a0\u202f'’"


@dataclass(frozen=True)
class Country:
    """Signs and words of one country.

    Attributes
    ----------
    decimal, group
        Sign before the fraction; sign between thousands.
    date_order
        Order of day, month and year in short dates: "dmy", "mdy" or "ymd".
    date_sign
        Sign between them.
    yes, no
        Words read as true and as false, in lower case.
    months
        Names of months and their short forms in the country's language and in English,
        in lower case without accents and points; each with its number in two digits.
    """

    decimal: str
    group: str
    date_order: str
    date_sign: str
    yes: tuple[str, ...]
    no: tuple[str, ...]
    months: dict[str, str]

    @property
    def groups(self) -> str:
        """Signs that may stand between thousands."""
        others = "".join(sign for sign in self.group if sign not in _SPACES)
        return others + _SPACES

    @property
    def date_example(self) -> str:
        """Write 4 March 2025 as the country does."""
        return self.date_text(dt.date(2025, 3, 4))

    def date_text(self, day: dt.date) -> str:
        """Write a day as the country does."""
        parts = {"d": f"{day.day:02d}", "m": f"{day.month:02d}", "y": f"{day.year:04d}"}
        return self.date_sign.join(parts[part] for part in self.date_order)

    def written(self, number: float) -> str:
        """Write a number with the country's decimal sign and none between thousands."""
        text = f"{number:.6f}".rstrip("0").rstrip(".")
        return text.replace(".", self.decimal)

    def grouped(self, number: float) -> str:
        """Write a limit with the country's sign between thousands."""
        text = f"{number:,.10g}"
        return text.replace(",", "\0").replace(".", self.decimal).replace("\0", self.group)


def country(locale: str) -> Country:
    """Read a country's signs and words.

    Parameters
    ----------
    locale
        Language and country, as ``en_AU``.

    References
    ----------
    Unicode Common Locale Data Repository, through the babel package.

    Examples
    --------
    >>> country("de_DE").decimal, country("en_US").date_order
    (',', 'mdy')
    """
    parsed = babel.Locale.parse(locale)
    pattern = get_date_format("short", locale=parsed).pattern
    order = "".join(dict.fromkeys(re.sub(r"[^dMy]", "", pattern))).lower()
    signs = re.findall(r"[-/.]", pattern)
    words = YES_NO.get(parsed.language, ((), ()))
    return Country(
        decimal=get_decimal_symbol(parsed),
        group=get_group_symbol(parsed),
        date_order=order if order in ("dmy", "mdy") else "ymd",
        date_sign=signs[0] if signs and order in ("dmy", "mdy") else "-",
        yes=(*YES_NO["en"][0], *words[0]),
        no=(*YES_NO["en"][1], *words[1]),
        months={**_months("en"), **_months(parsed.language)},
    )


def _months(language: str) -> dict[str, str]:
    names = {}
    for context in ("format", "stand-alone"):
        for width in ("wide", "abbreviated"):
            for number, name in get_month_names(width, context, language).items():
                names[_plain(name)] = f"{number:02d}"
    # "sept" beside "sep", and Quebec's "juill" beside "juil", as people cut the longer names
    long = {name: number for name, number in names.items() if len(name) > LONG_NAME}
    more = {name[:cut]: number for name, number in long.items() for cut in (4, LONG_NAME)}
    return {**more, **names}


def _plain(name: str) -> str:
    parts = unicodedata.normalize("NFKD", name.lower()).strip(". ")
    return "".join(sign for sign in parts if not unicodedata.combining(sign))
