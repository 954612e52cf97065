"""Ways in which a cell is read as a person would read it, and what the officer is told of them."""

from __future__ import annotations

from typing import TYPE_CHECKING

from planner.messages import say

if TYPE_CHECKING:
    import polars as pl

HELD_ROUND = "held_round"
DOUBTFUL = (
    *("brackets", "trailing_minus", "decimal_sign", "date_serial", "cross", "grams"),
    *("hundredths", "near_name", "far_date", "thousands", "from_above", HELD_ROUND),
)
"""Ways of reading that could be wrong, which the officer confirms once for each column."""

PLAIN = ("unit", "per_cent", "month_name", "tick", "name", "no_charge")
"""Ways of reading that can mean one thing alone; they are noted."""


def reading_notes(readings: pl.DataFrame, begun: str = "") -> list[str]:
    """Say for each column how its cells were read.

    Parameters
    ----------
    readings
        ``sheet``, ``table_name``, ``column_name``, ``kind``, ``cells_count``, ``examples``;
        ``load_id`` where they are of several loads.
    begun
        File that they are of; the load unless said.
    """
    notes = []
    for one in readings.iter_rows(named=True):
        file = begun or one["load_id"]
        place = say("place.sheet", file=file, sheet=one["sheet"]) if one["sheet"] else file
        note = say(
            "reading.cells",
            one["cells_count"],
            place=place,
            column=one["column_name"],
            way=say(f"reading.{one['kind']}"),
            examples=one["examples"],
        )
        notes.append(f"{note}.")
    return notes
