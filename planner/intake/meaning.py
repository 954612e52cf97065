"""What a heading means: the column of a table, and the unit of its numbers."""

from __future__ import annotations

import difflib
import re
import unicodedata
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import lru_cache

import polars as pl

from planner.errors import LONGEST_NEAR
from planner.tables import TABLES
from planner.tables.fields import declared_unit
from planner.tables.purchases import BINS_OR_KG, PRICES
from planner.units import (
    DAYS_PER_WEEK,
    G_PER_KG,
    KG_PER_LB,
    KG_PER_OZ,
    KG_PER_T,
    ML_PER_LITRE,
    PER_CENT,
)

COLUMN_LIKENESS = 0.6
_PRICE_BREAK = re.compile(
    r"\D*(\d+)\s*(?:(?:[-–—]|to|à|a|bis)\s*(\d+)|\+|(?:and|or|et|ou|y|o)\b)\D*"
)


@dataclass(frozen=True)
class Unit:
    """A unit that a heading may name; times over divisor makes it the column's own."""

    name: str
    column_unit: str
    times: float = 1.0
    divisor: float = 1.0

    @property
    def is_of_column(self) -> bool:
        """Tell whether numbers stand in the column's own unit already."""
        return self.times == self.divisor


_UNITS = {
    Unit("kg", "kg"): (
        "kg",
        "kgs",
        "kilo",
        "kilos",
        "kilogram",
        "kilograms",
        *("kilogramme", "kilogrammes", "kilogramo", "kilogramos"),
    ),
    Unit("g", "kg", divisor=G_PER_KG): (
        *("g", "gr", "gram", "grams", "gramme", "grammes", "gramo", "gramos", "grs"),
    ),
    Unit("lb", "kg", times=KG_PER_LB): (
        *("lb", "lbs", "pound", "pounds", "livre", "livres", "libra", "libras"),
    ),
    Unit("oz", "kg", times=KG_PER_OZ): ("oz", "ounce", "ounces", "onza", "onzas"),
    Unit("t", "kg", times=KG_PER_T): ("t", "tonne", "tonnes"),
    Unit("litres", "litres"): ("l", "litre", "litres", "liter", "liters", "ltr", "litro", "litros"),
    Unit("per cent", "share", divisor=PER_CENT): (
        *("percent", "pct", "percentage", "pourcent", "pourcentage", "porcentaje", "prozent"),
    ),
    # a single week stands in headings of what is done in one, as "kg per week"
    Unit("weeks", "days", times=DAYS_PER_WEEK): ("weeks", "wks", "semaines", "semanas", "wochen"),
    Unit("ml", "litres", divisor=ML_PER_LITRE): ("ml", "millilitre", "millilitres"),
}
SHARE_UNITS = ("share", "probability")
"""Units of columns that run from 0 to 1, whose headings may ask for per cent."""

UNITS = {word: unit for unit, words in _UNITS.items() for word in words}
"""Units by the words for them; gallons differ between countries and are not read."""


@dataclass(frozen=True)
class Meaning:
    """The column that a heading means, and the unit of its numbers where it names one."""

    column: str
    unit: Unit | None = None


@lru_cache(maxsize=8192)
def folded(heading: str) -> str:
    """Write a heading without case, spaces and signs.

    Examples
    --------
    >>> folded(" Household-ID "), folded("Précisions")
    ('householdid', 'precisions')
    """
    return re.sub(r"[\W_]+", "", unaccented(heading).lower())


def unaccented(text: str) -> str:
    """Write letters without their accents.

    Examples
    --------
    >>> unaccented("Les Maraîchers")
    'Les Maraichers'
    """
    parts = unicodedata.normalize("NFKD", text)
    return "".join(sign for sign in parts if not unicodedata.combining(sign))


def folded_text(text: pl.Expr) -> pl.Expr:
    """Write a column of text as `folded` does one heading."""
    plain = text.str.normalize("NFKD").str.replace_all(r"\p{M}", "").str.to_lowercase()
    return plain.str.replace_all(r"[^\p{L}\p{N}]+", "")


def meaning(table: str, heading: str, council_words: Mapping[str, str]) -> Meaning | None:
    """Tell the column of a table that a heading means; None where it means none.

    Parameters
    ----------
    council_words
        The council's own headings in folded form, and the columns they stand for.

    Examples
    --------
    >>> meaning("weighings", "Fed (g)", {}).unit.name
    'g'
    >>> meaning("weighings", "Property no.", {"propertyno": "household_id"}).column
    'household_id'
    """
    named = council_words.get(folded(heading))
    words = _words(heading)
    units = {UNITS[word] for word in words if word in UNITS}
    if named is not None:
        fitting = [unit for unit in units if unit.column_unit == unit_of(table, named)]
        return Meaning(named, fitting[0] if len(fitting) == 1 else None)
    for name in TABLES[table].column_names():
        if folded(heading) == folded(name) or sorted(words) == sorted(_words(name)):
            return Meaning(name)
    if len(units) == 1:
        (unit,) = units
        stem = sorted(word for word in words if word not in UNITS)
        for name in TABLES[table].column_names():
            if unit_of(table, name) == unit.column_unit and stem == _stem(name):
                return Meaning(name, unit)
    return None


def from_packs(heading: str) -> tuple[int, int | None] | None:
    """Tell from and up to how many packs a column of prices holds, by its heading.

    Examples
    --------
    >>> from_packs("1-49"), from_packs("Price 200+"), from_packs("Price")
    ((1, 49), (200, None), None)
    """
    found = _PRICE_BREAK.fullmatch(heading.strip().lower())
    return (int(found[1]), int(found[2]) if found[2] else None) if found else None


def price_breaks(headings: Iterable[str]) -> dict[str, str]:
    """Find prices side by side, "1-49", "50-199", "200+", and the column that each is.

    Examples
    --------
    >>> price_breaks(["Item", "1-49", "50+"])
    {'1-49': 'price_per_pack', '50+': 'second_price_per_pack'}
    >>> price_breaks(["18-24", "25-34"])
    {}
    """
    found = {text: ends for text in headings if (ends := from_packs(text))}
    begins, last = [one for one, _ in found.values()], [one for _, one in found.values()]
    is_chain = begins[:1] <= [1] and [(one or 0) + 1 for one in last[:-1]] == begins[1:]
    is_chain &= 1 < len(found) <= len(PRICES)
    return dict(zip(found, PRICES, strict=False)) if is_chain else {}


def near_heading(table: str, column: str, headings: tuple[str, ...]) -> str | None:
    """Find the heading by which a column that is not there may be meant.

    Examples
    --------
    >>> near_heading("answers", "fed_kg_last_week", ("checked by", "food kg"))
    'food kg'
    """
    by_fold = {folded(heading[:LONGEST_NEAR]): heading for heading in headings}
    near = difflib.get_close_matches(folded(column), list(by_fold), n=1, cutoff=COLUMN_LIKENESS)
    if near:
        return by_fold[near[0]]
    unit = unit_of(table, column)
    same = [
        heading
        for heading in headings
        if any(UNITS[word].column_unit == unit for word in _words(heading) if word in UNITS)
    ]
    of_unit = [name for name in TABLES[table].column_names() if unit_of(table, name) == unit]
    return same[0] if len(same) == len(of_unit) == 1 else _shared(column, same)


def _shared(column: str, headings: list[str]) -> str | None:
    """Take the heading of the same unit if the column's first words are near its own."""
    stem = _stem(column)
    for heading in headings:
        words = [word for word in _words(heading) if word not in UNITS]
        if any(difflib.get_close_matches(word, stem, cutoff=0.5) for word in words):
            return heading
    return None


def _words(heading: str) -> list[str]:
    # the l of "l'enquête" is no litre
    heading = re.sub(r"\b[^\W\d_]{1,2}['’](?=\w)", "", heading)
    return re.findall(r"[^\W_]+", heading.lower().replace("%", " percent "))


def _stem(column: str) -> list[str]:
    return sorted(word for word in _words(column) if word not in UNITS)


def named_unit(heading: str) -> Unit | None:
    """Tell the unit that a heading names, if it names one alone.

    Examples
    --------
    >>> named_unit("Vers (g)").name, named_unit("Part (%)").name, named_unit("Vers")
    ('g', 'per cent', None)
    >>> named_unit("Nature de l'enquête") is None
    True
    """
    units = {UNITS[word] for word in _words(heading) if word in UNITS}
    return units.pop() if len(units) == 1 else None


def unit_of(table: str, column: str) -> str:
    """Tell the unit of a column's numbers; "share" for a probability, "kg" for bins or kg too."""
    unit = declared_unit(TABLES[table].columns()[column])
    return "share" if unit in SHARE_UNITS else "kg" if unit == BINS_OR_KG else unit
