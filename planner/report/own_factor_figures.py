"""Figure of the factors that the council put in place of published ones."""

from __future__ import annotations

from typing import TYPE_CHECKING

from planner.report.inputs import of_factors
from planner.report.wording import listing

if TYPE_CHECKING:
    from planner.figures import FigureRegister
    from planner.report.year import Year

MOST_NAMED = 20


def add_own_factors(register: FigureRegister, year: Year) -> None:
    """Count the council's own factors and name those on which no figure rests.

    To be called when every figure that may rest on a factor is there.
    """
    own = [factor for factor in year.factor_table if factor.is_own]
    used = {item.name for figure in register for item in figure.inputs if item.kind == "factor"}
    idle = [factor.name for factor in own if factor.name not in used]
    named = f"In place of published ones: {listing((f.name for f in own), MOST_NAMED)}."
    without = f" No figure rests on {listing(idle, MOST_NAMED)}." if idle else ""
    register.add_exact(
        "own_factors_count",
        "Factors that the council put in place of published ones",
        float(len(own)),
        "factors",
        f"{named}{without}" if own else "Every factor is as published.",
        of_factors(year.factor_table, own),
    )
