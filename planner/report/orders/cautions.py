"""Cautions and conditions that stand on the sheets of an order."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Sequence

    from planner.ordering.shipping_window import TravelLimits
    from planner.report.workbook.page import Page

CAUTIONS: tuple[tuple[str, tuple[str, ...]], ...] = (
    (
        "Live worms on arrival",
        (
            "Have somebody there to take the parcel. Open it at once, in the shade, and look at "
            "the worms before signing.",
            "Healthy worms move when touched and smell of earth. A sour smell, wet clumps or "
            "still worms mean losses: weigh what is dead, take pictures, tell the supplier the "
            "same day.",
            "Wash hands after handling worms, bedding or castings, and cover cuts.",
        ),
    ),
    (
        "Heat and frost",
        (
            "Keep worms between 10 and 25 °C, out of the sun and off hot vehicles. Beds above "
            "30 °C do harm, above 35 °C they kill.",
            "Look at the forecast two days before each dispatch and ask the supplier to hold "
            "parcels when a day on the way lies outside the shipping window.",
            "Until the hand-over keep bags open to the air, damp and no deeper than they came; "
            "one kilogram a bag.",
        ),
    ),
    (
        "Species and biosecurity",
        (
            "The species ordered is declared on the order and must be declared on the parcel. "
            "Refuse mixed, unnamed or unknown worms.",
            "Look for jumping worms: fast, thrashing, with a smooth pale ring right round the "
            "body. Bag them, keep them apart and tell the biosecurity office.",
            "Never release worms, cocoons or bedding into bushland, gardens or water. Compost "
            "worms belong in bins.",
            "Movement of live worms, soil and coir is regulated in some states and countries. "
            "Check the local rules before each order; permits must travel with the parcel.",
        ),
    ),
    (
        "Dust and mould from bedding, compost and castings",
        (
            "Legionella and mould spores can be in any of them. Wear gloves and a well-fitting "
            "mask, open bags slowly away from the face, wet dry coir before breaking it up, "
            "work in the open air.",
            "People over 50, smokers, and people with weak immunity, asthma or lung disease "
            "should not do this work.",
        ),
    ),
    (
        "Lifting and storage",
        (
            "Wet bedding, full trays and boxes of bins weigh 15 to 20 kg and more. Lift with "
            "two, use a trolley, break pallets down at waist height.",
            "Stack bins no higher than the supplier says; keep ways clear.",
        ),
    ),
    (
        "Local rules come first",
        (
            "Work health and safety, biosecurity and procurement rules of the council, and the "
            "advice of licensed people, go before anything said here.",
        ),
    ),
)
"""Cautions by subject, after WorkSafe Queensland and Southern Health NZ (Legionella), the
University of Minnesota's jumping-worm project (species), TU Hamburg citing Edwards 1995
(heat) and common practice (the rest)."""


def live_conditions(species: str, windows: Sequence[tuple[str, TravelLimits]]) -> list[str]:
    """Conditions for live worms that a supplier accepts with the order.

    Parameters
    ----------
    species
        Species as offered.
    windows
        How worms are packed, in words, and the weather through which they travel so.
    """
    return [
        f"Species: {species} alone, declared by name on the parcel and the invoice. Mixed or "
        "unnamed consignments are refused at your cost.",
        "Live arrival: worms dead on arrival are weighed on the day of delivery and replaced "
        "or credited by mass. The order is by mass of live worms, not by number.",
        *(
            f"Worms {packed}: dispatch only when every day on the way is forecast between "
            f"{limits.coldest_c:g} and {limits.warmest_c:g} °C; otherwise hold the parcel and "
            "call us the same day."
            for packed, limits in windows
        ),
        "Packing: breathable bags of at most 1 kg of worms in damp packing mix, boxes marked "
        "LIVE WORMS, KEEP COOL, THIS SIDE UP.",
        "No dispatch before a weekend or public holiday on which nobody receives.",
        "Free of soil, plant matter, pests and other worms; with whatever permit the "
        "movement of live worms needs.",
    ]


GOODS_CONDITIONS = (
    "Deliver on the day named, within opening hours; call before unloading.",
    "Broken or faulty goods found within ten working days are replaced or credited.",
    "Deliver in the packs named. Part deliveries only by arrangement.",
    "Quote the order line on delivery note and invoice.",
)
"""Conditions for bins and bedding."""


def add_cautions(page: Page) -> None:
    """Write the cautions by subject."""
    for subject, sentences in CAUTIONS:
        page.section(subject)
        for sentence in sentences:
            page.note(f"• {sentence}")
