"""Figures of what was given out, by which the lines of the emissions account are multiplied."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from planner.emissions import BASES
from planner.figures import Figure
from planner.report.account_figures import BASIS_WORDS
from planner.report.disclosure import HIDDEN
from planner.report.inputs import of_query

if TYPE_CHECKING:
    from planner.emissions import Supplies
    from planner.figures import FigureRegister
    from planner.report.year import Year

QUANTITIES = {
    "new_plastic": ("New plastic of the bins, the part of their service lives", "kg"),
    "recycled_plastic": ("Recycled plastic of the bins, the part of their service lives", "kg"),
    "bedding": ("Bedding given out", "kg"),
    "worms": ("Worms given out", "kg"),
    "moved": ("Bins, bedding and worms moved", "kg"),
    "trips": ("Trips of households to fetch a bin", "trips"),
}
METHOD = "Summed from the hand-overs; plastic falls in equal parts on the years of a service life."


def add_quantities(register: FigureRegister, year: Year) -> None:
    """Add masses and trips on each basis; hidden where the bins given are."""
    inputs = (of_query("supplies_by_month", year.counts.supplies),)
    for basis in BASES:
        given = "bins_given_to_date" if basis == "to_date" else "bins_given"
        is_hidden = register[given].value is None
        years = slice(None) if basis == "to_date" else slice(-1, None)
        amounts = _amounts(year.activity.supplies, years)
        for name, (label, unit) in QUANTITIES.items():
            figure_id, words = (
                f"account_quantity[{basis}.{name}]",
                f"{label} ({BASIS_WORDS[basis]})",
            )
            if is_hidden:
                register.add(Figure(figure_id, words, None, None, None, unit, HIDDEN))
            else:
                register.add_exact(figure_id, words, amounts[name], unit, METHOD, inputs)


def _amounts(supplies: Supplies, years: slice) -> dict[str, float]:
    plastic_kg = supplies.in_service[:, years].sum(axis=1) * supplies.plastic_kg
    recycled_kg = float(plastic_kg @ supplies.plastic_recycled_share)
    return {
        "new_plastic": float(plastic_kg.sum()) - recycled_kg,
        "recycled_plastic": recycled_kg,
        "bedding": float(np.sum(supplies.bedding_kg[years])),
        "worms": float(np.sum(supplies.worms_kg[years])),
        "moved": float(np.sum(supplies.moved_kg[years])),
        "trips": float(np.sum(supplies.bins_given[:, years])),
    }
