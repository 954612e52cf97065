"""One heading of a sheet told apart: which column it means, and in which unit."""

from __future__ import annotations

import difflib
import re
from collections.abc import Mapping
from dataclasses import dataclass

from planner.tables import TABLES
from planner.units import G_PER_KG, KG_PER_LB, KG_PER_OZ, KG_PER_T, ML_PER_LITRE

HINT_LIKENESS = 0.75
COLUMN_LIKENESS = 0.6


@dataclass(frozen=True)
class Unit:
    """A unit that a heading may name; times over divisor makes it the column's own."""

    name: str
    column_unit: str
    times: float = 1.0
    divisor: float = 1.0

    @property
    def is_own(self) -> bool:
        """Tell whether numbers stand in the column's own unit already."""
        return self.times == self.divisor


_UNITS = {
    Unit("kg", "kg"): ("kg", "kgs", "kilo", "kilos", "kilogram", "kilograms"),
    Unit("g", "kg", divisor=G_PER_KG): ("g", "gr", "gram", "grams", "gramme", "grammes"),
    Unit("lb", "kg", times=KG_PER_LB): ("lb", "lbs", "pound", "pounds"),
    Unit("oz", "kg", times=KG_PER_OZ): ("oz", "ounce", "ounces"),
    Unit("t", "kg", times=KG_PER_T): ("t", "tonne", "tonnes"),
    Unit("litres", "litres"): ("l", "litre", "litres", "liter", "liters", "ltr"),
    Unit("ml", "litres", divisor=ML_PER_LITRE): ("ml", "millilitre", "millilitres"),
}
UNITS = {word: unit for unit, words in _UNITS.items() for word in words}
"""Units by the words for them; gallons differ between countries and are not read."""


@dataclass(frozen=True)
class Meaning:
    """The column that a heading means, and the unit of its numbers where it names one."""

    column: str
    unit: Unit | None = None


def folded(heading: str) -> str:
    """Write a heading without case, spaces and signs.

    Examples
    --------
    >>> folded(" Household-ID ")
    'householdid'
    """
    return re.sub(r"[\W_]+", "", heading.lower())


def meaning(table: str, heading: str, own_words: Mapping[str, str]) -> Meaning | None:
    """Tell the column of a table that a heading means; None where it means none.

    Parameters
    ----------
    table
        Name of a record table.
    heading
        What stands in the cell.
    own_words
        The council's own headings in folded form, and the columns they stand for.

    Examples
    --------
    >>> meaning("weighings", "Fed (g)", {}).unit.name
    'g'
    >>> meaning("weighings", "Property no.", {"propertyno": "household_id"}).column
    'household_id'
    """
    own = own_words.get(folded(heading))
    words = _words(heading)
    units = {UNITS[word] for word in words if word in UNITS}
    if own is not None:
        fitting = [unit for unit in units if unit.column_unit == _unit_of(table, own)]
        return Meaning(own, fitting[0] if len(fitting) == 1 else None)
    for name in TABLES[table].column_names():
        if folded(heading) == folded(name) or sorted(words) == sorted(_words(name)):
            return Meaning(name)
    if len(units) == 1:
        (unit,) = units
        stem = sorted(word for word in words if word not in UNITS)
        for name in TABLES[table].column_names():
            if _unit_of(table, name) == unit.column_unit and stem == _stem(name):
                return Meaning(name, unit)
    return None


def near_heading(table: str, column: str, headings: tuple[str, ...]) -> str | None:
    """Find the heading by which a column that is not there may be meant.

    Examples
    --------
    >>> near_heading("answers", "fed_kg_last_week", ("checked by", "food kg"))
    'food kg'
    """
    by_fold = {folded(heading): heading for heading in headings}
    near = difflib.get_close_matches(folded(column), list(by_fold), n=1, cutoff=COLUMN_LIKENESS)
    if near:
        return by_fold[near[0]]
    unit = _unit_of(table, column)
    same = [
        heading
        for heading in headings
        if any(UNITS[word].column_unit == unit for word in _words(heading) if word in UNITS)
    ]
    return (
        same[0] if len(same) == 1 and len(_columns_in(table, unit)) == 1 else _shared(column, same)
    )


def _shared(column: str, headings: list[str]) -> str | None:
    """Take the heading of the same unit if the column's first words are near its own."""
    stem = _stem(column)
    for heading in headings:
        words = [word for word in _words(heading) if word not in UNITS]
        if any(difflib.get_close_matches(word, stem, cutoff=0.5) for word in words):
            return heading
    return None


def near_column(heading: str, columns: list[str]) -> str | None:
    """Find the column that a heading, or a name in the program file, is most like."""
    by_fold = {folded(name): name for name in columns}
    near = difflib.get_close_matches(folded(heading), list(by_fold), n=1, cutoff=HINT_LIKENESS)
    return by_fold[near[0]] if near else None


def _words(heading: str) -> list[str]:
    return re.findall(r"[^\W_]+", heading.lower())


def _stem(column: str) -> list[str]:
    return sorted(word for word in _words(column) if word not in UNITS)


def _unit_of(table: str, column: str) -> str:
    unit = (TABLES[table].columns()[column].metadata or {})["unit"]
    return str(unit)


def _columns_in(table: str, unit: str) -> list[str]:
    return [name for name in TABLES[table].column_names() if _unit_of(table, name) == unit]
