"""Cautions and conditions that stand on the sheets of an order."""

from __future__ import annotations

from typing import TYPE_CHECKING

from planner.messages import said

if TYPE_CHECKING:
    from collections.abc import Sequence

    from planner.ordering.shipping_window import TravelLimits
    from planner.report.workbook.page import Page

CAUTIONS = {"arrival": 3, "heat": 3, "species": 4, "dust": 2, "lifting": 2, "local": 1}
"""How many cautions there are of each subject.

After WorkSafe Queensland and Southern Health NZ (Legionella), the
University of Minnesota's jumping-worm project (species), TU Hamburg citing Edwards 1995
(heat) and common practice (the rest).
"""

OF_GOODS = ("day", "faulty", "packs", "quote_line")


def live_conditions(species: str, windows: Sequence[tuple[str, TravelLimits]]) -> list[str]:
    """Conditions for live worms that a supplier accepts with the order.

    The windows are how worms are packed, in words, and the weather through which they travel so.
    """
    return [
        said("order.condition.species", species=species),
        said("order.condition.arrival"),
        *(
            said(
                "order.condition.weather",
                packed=packed,
                coldest=f"{limits.coldest_c:g}",
                warmest=f"{limits.warmest_c:g}",
            )
            for packed, limits in windows
        ),
        *(said(f"order.condition.{name}") for name in ("packing", "weekends", "clean")),
    ]


def goods_conditions() -> list[str]:
    """Conditions for bins and bedding."""
    return [said(f"order.condition.{name}") for name in OF_GOODS]


def add_cautions(page: Page) -> None:
    """Write the cautions by subject."""
    for subject, count in CAUTIONS.items():
        page.section(said(f"caution.{subject}"))
        for number in range(1, count + 1):
            page.note(f"• {said(f'caution.{subject}.{number}')}")
