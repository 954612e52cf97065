"""Figures of what was given out, by which the lines of the emissions account are multiplied."""

from __future__ import annotations

from typing import TYPE_CHECKING

from planner.emissions import BASES
from planner.figures import Figure
from planner.report.account_figures import BASIS_WORDS
from planner.report.disclosure import HIDDEN
from planner.report.inputs import of_query

if TYPE_CHECKING:
    from planner.figures import FigureRegister
    from planner.report.year import Year

QUANTITIES = {
    "new_plastic": (
        "new_plastic_kg",
        "New plastic of the bins, the part of their lives in service",
        "kg",
    ),
    "recycled_plastic": (
        "recycled_plastic_kg",
        "Recycled plastic of the bins, the part of their lives in service",
        "kg",
    ),
    "bedding": ("bedding_kg", "Bedding given out", "kg"),
    "worms": ("worms_kg", "Worms given out", "kg"),
    "moved": ("moved_kg", "Bins, bedding and worms moved", "kg"),
    "trips": ("trips_count", "Trips of households to fetch a bin", "trips"),
}
"""For each figure the name in `planner.emissions.activity.Charged`, its label and unit."""

METHOD = "Summed from the hand-overs; plastic falls in equal parts on the years of a service life."


def add_quantities(register: FigureRegister, year: Year) -> None:
    """Add masses and trips on each basis; hidden where the bins given are."""
    inputs = (of_query("supplies_by_month", year.counts.supplies),)
    for basis in BASES:
        given = "bins_given_to_date" if basis == "to_date" else "bins_given"
        is_hidden = register[given].value is None
        charged = year.activity.supplies.charged(basis)
        for name, (column, label, unit) in QUANTITIES.items():
            figure_id, words = (
                f"account_quantity[{basis}.{name}]",
                f"{label} ({BASIS_WORDS[basis]})",
            )
            if is_hidden:
                register.add(Figure(figure_id, words, None, None, None, unit, HIDDEN))
            else:
                register.add_exact(figure_id, words, getattr(charged, column), unit, METHOD, inputs)
